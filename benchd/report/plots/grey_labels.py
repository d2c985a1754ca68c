"""Which signal a grey of a track has, written beside it where there is room: no label lies on another or on a dot."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from benchd.report.drawing.axes import Axes, Note
from benchd.report.plots.plot import Ink

Labelled = tuple[float, float, float]
"""Signal in %, and its place in the units of the axes."""
Box = tuple[float, float, float, float]
"""Centre, width and height in points."""

TYPE = 8.5
_PER_SIGN, _HIGH = 0.64 * TYPE, 1.25 * TYPE
AXES_PT = 225.0
"""Side of the square axes at least, in points."""
WANTED = (100.0, 10.0, 50.0, 25.0, 75.0)
"""Signals that are labelled while there is room, the first of them first; of each the nearest grey."""


def label_greys(axes: Axes, tracks: Sequence[Sequence[Labelled]], most: float, taken: Iterable[Box]) -> None:
    """Write them at the first track alone: at several only their colour would tell whose they are.

    ``most``: the axes reach from ``-most`` to ``most``; ``taken``: where other labels are.
    """
    scale = AXES_PT / (2.0 * most)
    dots = [(u * scale, v * scale, 3.0, 3.0) for track in tracks for _, u, v in track]
    boxes = list(taken)
    for signal, u, v in _chosen(tracks[0]) if tracks else []:
        text = f"{signal:.0f} %"
        places = _places(u * scale, v * scale, len(text) * _PER_SIGN)
        free = next((one for one in places if not any(_meet(one, other) for other in (*boxes, *dots))), None)
        if free is not None:
            boxes.append(free)
            at = (free[0] / scale, free[1] / scale)
            axes.add(Note(text, at, across="middle", along="middle", size=TYPE, colour=Ink.series[0]))


def _chosen(track: Sequence[Labelled]) -> list[Labelled]:
    nearest = (min(track, key=lambda one: abs(one[0] - wanted)) for wanted in WANTED if track)
    return list(dict.fromkeys(nearest))


def _places(x: float, y: float, wide: float) -> Iterator[Box]:
    """Right, left, above and below, then the corners."""
    aside, above = wide / 2.0 + 6.0, _HIGH / 2.0 + 5.0
    for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (-1, 1), (1, -1), (-1, -1)):
        yield x + dx * aside, y + dy * above, wide, _HIGH


def _meet(one: Box, other: Box) -> bool:
    return all(2.0 * abs(one[at] - other[at]) < one[2 + at] + other[2 + at] for at in (0, 1))
