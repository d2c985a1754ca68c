"""Colour differences of measured lights as clouds, whose lengths are CIEDE2000."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from benchd.analysis import colour
from benchd.analysis.cloud import Cloud
from benchd.analysis.uncertainty import Lit, OfLight, Sum

Array = colour.Array
Pairs = Callable[..., tuple[Array, Array]]


def delta_e_cloud(pairs: Pairs, own: Sequence[Lit], shared: Sequence[Lit] = ()) -> Cloud:
    """CIEDE2000 of each light of ``own`` as a cloud, one row a light, whose length is the difference.

    ``pairs`` makes the L*, a*, b* of the goals and of the lights, each (n, 3), from the X, Y, Z of ``own`` (n, 3) and
    of each light in ``shared`` (3,), such as the white that all are judged by. Near the two colours the difference is
    the length of a linear map of their distance in L*, a*, b*: the map is taken midway between the two, and scaled so
    that the length is CIEDE2000 exactly.
    """
    dark = (math.nan, math.nan, math.nan)
    xyz = np.array([one.mean or dark for one in own], dtype=np.float64).reshape(-1, 3)
    others = [np.array(one.mean, dtype=np.float64) for one in shared]
    goal, sample = pairs(xyz, *others)
    apart = sample - goal
    maps = _metric((goal + sample) / 2.0)
    rows = np.einsum("nij,nj->ni", maps, apart)
    length = np.sqrt(np.einsum("ni,ni->n", rows, rows))
    true = colour.delta_e_2000(goal, sample)
    scale = np.where(length > 0.0, true / np.where(length > 0.0, length, 1.0), 1.0)
    maps, rows = maps * scale[:, None, None], rows * scale[:, None]
    slopes = [_slopes(lambda moved: pairs(moved, *others), xyz)]
    for index, other in enumerate(others):

        def with_other(moved: Array, index: int = index) -> tuple[Array, Array]:
            return pairs(xyz, *(moved if i == index else one for i, one in enumerate(others)))

        slopes.append(_slopes(with_other, other))
    gradients = [np.einsum("nij,njk->nik", maps, slope).tolist() for slope in slopes]
    nodes = [
        [
            Sum(tuple((1.0, OfLight(light, _triple(gradients[k][i][j]))) for k, light in enumerate((one, *shared))))
            for j in range(3)
        ]
        for i, one in enumerate(own)
    ]
    return Cloud(rows, nodes)


def _triple(row: Sequence[float]) -> tuple[float, float, float]:
    x, y, z = row
    return x, y, z


def _slopes(pairs: Callable[[Array], tuple[Array, Array]], xyz: Array) -> Array:
    """Derivatives of (sample - goal) by X, Y, Z: (n, 3, 3), by central differences."""
    columns = []
    h = 1e-4 * np.maximum(np.abs(xyz).max(axis=-1, keepdims=True), 1e-12)
    for axis in range(3):
        step = np.zeros(3)
        step[axis] = 1.0
        (goal_up, up), (goal_down, down) = pairs(xyz + h * step), pairs(xyz - h * step)
        columns.append(((up - goal_up) - (down - goal_down)) / (2.0 * h))
    return np.stack(columns, axis=-1)


def _metric(lab: Array, h: float = 0.05) -> Array:
    """Maps (n, 3, 3) from a small distance in L*, a*, b* about ``lab`` to a vector as long as its CIEDE2000."""
    directions = np.array([(1, 0, 0), (0, 1, 0), (0, 0, 1), (1, 1, 0), (1, 0, 1), (0, 1, 1)], dtype=np.float64)
    half = 0.5 * h * directions[:, None, :]
    q = (colour.delta_e_2000(lab - half, lab + half) / h) ** 2
    a, b, c = q[:3]
    ab, ac, bc = (q[3] - a - b) / 2.0, (q[4] - a - c) / 2.0, (q[5] - b - c) / 2.0
    matrix = np.stack([np.stack([a, ab, ac], -1), np.stack([ab, b, bc], -1), np.stack([ac, bc, c], -1)], -2)
    # Where there is no colour there is no difference either; the decomposition wants numbers all the same.
    matrix = np.where(np.isfinite(matrix), matrix, 0.0)
    values, vectors = np.linalg.eigh(matrix)
    root = np.sqrt(np.maximum(values, 0.0))
    return np.asarray(root[:, :, None] * np.swapaxes(vectors, -1, -2), dtype=np.float64)
