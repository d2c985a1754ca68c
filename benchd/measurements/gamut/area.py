"""Areas of gamuts in a chromaticity diagram, and what one covers of another: as read, and with its uncertainty.

As it is read, plain numbers of a few corners. The interval of a coverage is bent where it nears 100 %: a coverage grows
with each primary until it has passed the space's edge, and then stays. So primaries are drawn about what was read, from
their sources of uncertainty, and the shared area of each is computed (JCGM 101:2008, from memory). Far from the edge
the interval is the linear one; near it errors only take from a coverage, so that it may truly be all of the space; and
a screen of which no drawn triangle leaves the space uncovered has 100 % without a doubt.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from benchd.analysis.colour import colorimetry as colour
from benchd.analysis.uncertainty.draws import FigureSources, Normal, widened
from benchd.analysis.uncertainty.noisy_length import TAIL
from benchd.analysis.uncertainty.sources import Contributions, Node, Stated, effective_dof

Array = colour.Array
Point = tuple[float, float]


def area(corners: Sequence[Point]) -> float:
    """Area of a polygon, by Gauss's (shoelace) formula; positive whichever way its corners run."""
    return abs(_signed(corners))


def shared(first: Sequence[Point], second: Sequence[Point]) -> list[Point]:
    """Corners of what two convex polygons share; empty when they share no area.

    Clipping after Sutherland and Hodgman, Comm. ACM 17 (1974) 32-42.
    """
    rest = list(first)
    edges = list(second) if _signed(second) >= 0.0 else list(reversed(second))
    for start, end in zip(edges, [*edges[1:], edges[0]], strict=True):
        inside = [_side(start, end, point) for point in rest]
        kept: list[Point] = []
        for index, (point, side) in enumerate(zip(rest, inside, strict=True)):
            before, side_before = rest[index - 1], inside[index - 1]
            if (side >= 0.0) != (side_before >= 0.0):
                share = side_before / (side_before - side)
                kept.append((before[0] + share * (point[0] - before[0]), before[1] + share * (point[1] - before[1])))
            if side >= 0.0:
                kept.append(point)
        rest = kept
        if not rest:
            return []
    return rest


def coverage(device: Sequence[Point], target: Sequence[Point]) -> float:
    """Area that a device's and a target's convex polygons share over the target's, 0 to 1."""
    common = shared(device, target)
    return min(1.0, area(common) / area(target)) if common else 0.0


def area_ratio(device: Sequence[Point], target: Sequence[Point]) -> float:
    """The device's area over the target's; may exceed 1."""
    return area(device) / area(target)


def _signed(corners: Sequence[Point]) -> float:
    around = zip(corners, [*corners[1:], *corners[:1]], strict=True)
    return sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in around) / 2.0


def _side(start: Point, end: Point, point: Point) -> float:
    """Above zero to the left of the way from ``start`` to ``end``."""
    return (end[0] - start[0]) * (point[1] - start[1]) - (end[1] - start[1]) * (point[0] - start[0])


WHOLE = 100.0
"""Of a share, in %."""
ROUNDING = 1e-9
LOST_AT_MOST = 4.0
"""How many times what drawn errors take from the coverage that was read they may have taken from the true one.

A screen whose corners are all at the edge loses most, and is read with some of them beyond it, where less is lost
(found by simulation with such screens: ``tests/measurements/gamut/test_coverage_drawn.py``)."""


class Covered(NamedTuple):
    """The node of a coverage in %.

    ``linear``   with the slopes where it was read
    ``device``   corners as they were read, ``parts`` the nodes of their coordinates, x and y in turn
    ``target``   corners of the space
    """

    linear: Node
    device: tuple[Point, ...]
    parts: tuple[Node, ...]
    target: tuple[Point, ...]

    def contributions(self) -> Contributions | None:
        """They are the slopes where the figure was read."""
        return self.linear.contributions()

    def moved(self, normal: Normal) -> Array | None:
        """Coverages of what the screen may truly be, less the one that was read (draws,)."""
        found = [part.contributions() for part in self.parts]
        if any(one is None for one in found):
            return None
        sources = list(dict.fromkeys(source for one in found for source in one or ()))
        loads = np.array([[(one or {}).get(source, 0.0) for source in sources] for one in found])
        sizes = np.sqrt((loads**2).sum(axis=0)).tolist() if sources else []
        dof = effective_dof(dict(zip(sources, sizes, strict=True)))
        errors = normal.of(sources) @ loads.T * widened(dof)
        corners = np.array(self.device).ravel() - errors
        return WHOLE * shares(corners.reshape(len(corners), -1, 2), np.array(self.target)) - self.read

    @property
    def edge(self) -> float:
        """All of the space."""
        return WHOLE

    @property
    def read(self) -> float:
        """The figure as it was read."""
        return WHOLE * float(shares(np.array(self.device)[None], np.array(self.target))[0])

    def stated(self, value: float) -> Stated | None:
        """The interval between the drawn coverages; k is not defined."""
        moved = self.moved(FigureSources())
        if moved is None:
            return None
        low, middle, high = np.quantile(moved, (TAIL, 0.5, 1.0 - TAIL)).tolist()
        # What is drawn about a reading covers less than it, just as the reading covers less than the truth: it is put
        # back to the reading, and its upper end as far beyond as errors take from it.
        low, high = value + min(low - middle, 0.0), value + max(high - middle, 0.0)
        lost = max(0.0, -float(moved.mean()))
        high = WHOLE if high + LOST_AT_MOST * lost >= WHOLE - ROUNDING else high + lost
        dof = effective_dof(self.contributions() or {})
        return Stated((high - low) / 2.0, None, dof, low, high)


def shares(devices: Array, target: Array) -> Array:
    """Of the area of ``target`` (corners, 2) the share (n,) that each of ``devices`` (n, corners, 2) covers.

    By Green's theorem: the border of what two convex polygons share is made of those parts of each one's edges that
    are within the other, found after Cyrus and Beck (IEEE Trans. Comput. C-27 (1978), from memory).
    """
    devices, target = _turned(devices), _turned(target[None])
    both = np.broadcast_to(target, (len(devices), *target.shape[1:]))
    common = _border(devices, both, also_on=True) + _border(both, devices, also_on=False)
    return np.asarray(np.clip(common / _areas(target), 0.0, 1.0))


def _border(inner: Array, outer: Array, *, also_on: bool) -> Array:
    """What the edges of ``inner`` within ``outer`` add to the shared area (n,); ``also_on`` its border they do."""
    start, way = inner, np.roll(inner, -1, axis=1) - inner
    first, last = np.zeros(inner.shape[:2]), np.ones(inner.shape[:2])
    along = np.roll(outer, -1, axis=1) - outer
    for k in range(outer.shape[1]):
        edge, corner = along[:, k : k + 1], outer[:, k : k + 1]
        at = _cross(edge, start - corner)
        slope = _cross(edge, way)
        level = np.abs(slope) <= 1e-12 * np.hypot(*np.moveaxis(edge, -1, 0)) * np.hypot(*np.moveaxis(way, -1, 0))
        meets = -at / np.where(level, 1.0, slope)
        first = np.where(~level & (slope > 0.0), np.maximum(first, meets), first)
        last = np.where(~level & (slope < 0.0), np.minimum(last, meets), last)
        on = np.abs(at) <= 1e-12
        with_it = also_on & (np.einsum("...i,...i->...", edge, way) > 0.0)
        last = np.where(level & np.where(on, ~with_it, at < 0.0), -1.0, last)
    first, last = (one[..., None] for one in (first, np.maximum(first, last)))
    return np.asarray(_cross(start + first * way, start + last * way).sum(axis=-1) / 2.0)


def _turned(polygons: Array) -> Array:
    """The same with corners that run to the left."""
    return np.where(_areas(polygons)[:, None, None] < 0.0, polygons[:, ::-1], polygons)


def _areas(polygons: Array) -> Array:
    """Signed areas (n,)."""
    return np.asarray(_cross(polygons, np.roll(polygons, -1, axis=1)).sum(axis=-1) / 2.0)


def _cross(a: Array, b: Array) -> Array:
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])
