"""Colour differences of measured lights as clouds (`uncertainty.cloud`): lengths with intervals true near zero.

CIEDE2000 goes through the formula itself (`uncertainty.exact_cloud`); CIE 1976 and CIE 1994 are lengths of components.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from benchd.analysis.colour import colorimetry as colour
from benchd.analysis.uncertainty.cloud import Cloud, OfCloud
from benchd.analysis.uncertainty.exact_cloud import ExactCloud, Lights
from benchd.analysis.uncertainty.sources import Lit, Node, OfLight, Sum

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
    slopes = [_gradient(lambda *lit: np.stack(pairs(*lit)), several, which) for which in range(len(several))]
    return ExactCloud(np.array(goal), np.array(sample), maps, slopes, lights)


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


def difference_cloud(
    pairs: Pairs, own: Sequence[Lit], shared: Sequence[Lit], formula: int, drawn: Lights | None = None
) -> Cloud:
    """Differences of each light of ``own``: CIEDE2000, or 76 or 94, whose terms are the components themselves.

    ``pairs`` makes L*, a*, b* of goals and lights from X, Y, Z, as `delta_e_cloud` has it.
    """
    if formula == 2000:
        return delta_e_cloud(pairs, own, shared, drawn)
    lights = [np.array([one.mean or (np.nan,) * 3 for one in own], dtype=np.float64).reshape(-1, 3)]
    lights += [np.array(one.mean, dtype=np.float64) for one in shared]

    def terms(*several: Array) -> Array:
        goal, sample = pairs(*several)
        return sample - goal if formula == 76 else _terms_94(goal, sample)

    gradients = [_gradient(terms, lights, which) for which in range(len(lights))]
    nodes = [
        [
            Sum(
                tuple(
                    (1.0, OfLight(light, (float(slope[0]), float(slope[1]), float(slope[2]))))
                    for light, slope in zip((one, *shared), (part[row, term] for part in gradients), strict=True)
                )
            )
            for term in range(3)
        ]
        for row, one in enumerate(own)
    ]
    return Cloud(terms(*lights), nodes)


def _terms_94(goal: Array, sample: Array) -> Array:
    """dL*, dC* / SC and dH* / SH of CIE 1994, the goal as reference; they are as long as the difference."""
    chroma, other = (np.hypot(one[..., 1], one[..., 2]) for one in (goal, sample))
    across = goal[..., 1] * sample[..., 2] - goal[..., 2] * sample[..., 1]
    along = goal[..., 1] * sample[..., 1] + goal[..., 2] * sample[..., 2]
    # dH* = 2 sqrt(C1 C2) sin(dh / 2), with the sign of the turn
    hue = np.sqrt(np.maximum(2.0 * (chroma * other - along), 0.0)) * np.sign(across)
    terms = (sample[..., 0] - goal[..., 0], (other - chroma) / (1.0 + 0.045 * chroma), hue / (1.0 + 0.015 * chroma))
    return np.stack(terms, axis=-1)


def _gradient(terms: Callable[..., Array], lights: Sequence[Array], which: int) -> Array:
    """Derivatives (..., n, 3, 3) of the terms by X, Y, Z of one of the lights, by central differences."""
    light = lights[which]
    h = 1e-4 * np.maximum(np.abs(light).max(axis=-1, keepdims=True), 1e-12)
    columns = []
    for axis in range(3):
        step = h * np.eye(3)[axis]
        high, low = (terms(*lights[:which], light + sign * step, *lights[which + 1 :]) for sign in (1.0, -1.0))
        columns.append((high - low) / (2.0 * h))
    return np.stack(columns, axis=-1)


def as_one_cloud(nodes: Sequence[Node | None]) -> Cloud | None:
    """Rows of one cloud, such as those that are usable, as a cloud; None where one is no row of that cloud."""
    rows = [(node.cloud, node.which) for node in nodes if isinstance(node, OfCloud) and isinstance(node.which, int)]
    if not rows or len(rows) < len(nodes) or any(cloud is not rows[0][0] for cloud, _ in rows):
        return None
    first, picked = rows[0][0], [row for _, row in rows]
    # All of it: what it has computed is kept.
    return first if picked == list(range(len(first.values))) else first.picked(picked)
