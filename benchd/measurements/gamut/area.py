"""Areas of gamuts in a chromaticity diagram, and what one covers of another. Plain numbers: a few corners only."""

from __future__ import annotations

from collections.abc import Sequence

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
