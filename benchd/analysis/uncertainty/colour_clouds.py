"""Colour differences of measured lights as clouds, whose lengths are CIEDE2000."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from benchd.analysis.colour import colorimetry as colour
from benchd.analysis.uncertainty.cloud import Cloud
from benchd.analysis.uncertainty.exact_cloud import ExactCloud, Lights, Slopes
from benchd.analysis.uncertainty.sources import Lit

Array = colour.Array
Pairs = Callable[..., tuple[Array, Array]]


def delta_e_cloud(pairs: Pairs, own: Sequence[Lit], shared: Sequence[Lit] = (), lights: Lights | None = None) -> Cloud:
    """CIEDE2000 of each light of ``own`` as a cloud, one row a light, whose length is the difference.

    ``pairs`` makes the L*, a*, b* of the goals and of the lights, each (n, 3), from the X, Y, Z of ``own`` (n, 3) and
    of each light in ``shared`` (3,), such as the white that all are judged by. Clouds of the same lights share
    ``lights``, and with them what was drawn.
    """
    lights = Lights(tuple(own), tuple(shared)) if lights is None else lights
    dark = (0.0, 0.0, 0.0)  # of a light without figures, whose difference is not stated
    several = [np.array([one.mean or dark for one in own], dtype=np.float64).reshape(-1, 3)]
    several += [np.array(one.mean, dtype=np.float64) for one in shared]
    goal, sample = pairs(*several)
    maps = _metric((goal + sample) / 2.0)
    apart = np.einsum("nij,nj->ni", maps, sample - goal)
    length = np.sqrt(np.einsum("ni,ni->n", apart, apart))
    true = colour.delta_e_2000(goal, sample)
    # Midway between the two the map is as good as it can be: it is stretched so that the length is CIEDE2000 exactly.
    maps = maps * np.where(length > 0.0, true / np.where(length > 0.0, length, 1.0), 1.0)[:, None, None]
    slopes = [_slopes(pairs, several, which) for which in range(len(several))]
    return ExactCloud(np.array(goal), np.array(sample), maps, slopes, lights)


def _slopes(pairs: Pairs, several: Sequence[Array], which: int) -> Slopes:
    """Derivatives (n, 3, 3) of L*, a*, b* of goals and samples by X, Y, Z of one of the lights, central differences."""
    light = several[which]
    h = 1e-4 * np.maximum(np.abs(light).max(axis=-1, keepdims=True), 1e-12)
    goals, samples = [], []
    for axis in range(3):
        step = h * np.eye(3)[axis]
        (goal_up, up), (goal_down, down) = (
            pairs(*several[:which], light + way * step, *several[which + 1 :]) for way in (1.0, -1.0)
        )
        goals.append((goal_up - goal_down) / (2.0 * h))
        samples.append((up - down) / (2.0 * h))
    return Slopes(np.stack(goals, axis=-1), np.stack(samples, axis=-1))


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
