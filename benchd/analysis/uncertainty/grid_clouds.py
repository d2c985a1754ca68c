"""The uncertainty of a grid's differences: each is a row of a cloud, the largest of them a function of it."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from benchd.analysis.colour import colorimetry as colour
from benchd.analysis.log.step_data import StepData
from benchd.analysis.results import Chromaticity
from benchd.analysis.uncertainty.cloud import Cloud, OfCloud, Scale, Whole
from benchd.analysis.uncertainty.colour_clouds import delta_e_cloud
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.analysis.uncertainty.sources import NORMAL, Node, Sum
from benchd.analysis.uncertainty.widened import holding

Array = colour.Array


class Rows:
    """A cloud of those cells that have all that it takes; the row of a cell by the cell's number."""

    def __init__(self, cloud: Cloud | None, cells: Sequence[int]) -> None:
        self._cloud, self._rows = cloud, {cell: row for row, cell in enumerate(cells)}

    def of(self, cell: int) -> Node | None:
        """The length of one cell's row."""
        return self._cloud.row(self._rows[cell]) if self._cloud is not None and cell in self._rows else None

    def over(self, whole: Whole, scale: Scale = "as it is", factor: float = 1.0) -> Node | None:
        """A function of all rows."""
        return None if self._cloud is None else self._cloud.over(whole, scale, factor)


NO_ROWS = Rows(None, ())


def uv_rows(colours: Sequence[Chromaticity], centre: int) -> Rows:
    """Distances in u', v' from the centre."""
    nodes = [_uv_nodes(one) for one in colours]
    if (middle := nodes[centre]) is None:
        return NO_ROWS
    values, rows, cells = [], [], []
    for index, (one, pair) in enumerate(zip(colours, nodes, strict=True)):
        if pair is not None:
            values.append(np.subtract(_uv(one), _uv(colours[centre])))
            rows.append([Sum(((1.0, own), (-1.0, other))) for own, other in zip(pair, middle, strict=True)])
            cells.append(index)
    return Rows(Cloud(values, rows), cells)


def of_any_pair(colours: Sequence[Chromaticity], from_centre: Sequence[Quantity]) -> Node | None:
    """Of the largest distance of any two: by the rows of the distances ``from_centre``, all or none of them.

    Without a centre by those from the first place.
    """
    if not colours or any(_uv_nodes(one) is None for one in colours):
        return None
    node = from_centre[0].sources
    return node.cloud.over("pair") if isinstance(node, OfCloud) else uv_rows(colours, 0).over("pair")


def delta_e_rows(measured: Sequence[StepData | None], centre: int) -> Rows:
    """CIEDE2000 from the centre, which is the white of CIELAB."""
    cells = [
        index for index, one in enumerate(measured) if one is not None and one.mean is not None and one.mean[1] > 0
    ]
    own = [one for index, one in enumerate(measured) if index in set(cells) and one is not None]
    if centre not in cells:
        return NO_ROWS

    def pairs(xyz: Array, middle: Array) -> tuple[Array, Array]:
        lab = colour.lab_from_xyz(middle, middle)
        return np.broadcast_to(lab, xyz.shape), colour.lab_from_xyz(xyz, middle)

    return Rows(delta_e_cloud(pairs, own, [own[cells.index(centre)]]), cells)


def deviation_rows(deviations: Sequence[Quantity]) -> Rows:
    """Signed deviations in %; their largest size is that of a cloud of one component."""
    return _one_component([one.value for one in deviations], [one.sources for one in deviations])


def logarithm_rows(luminances: Sequence[Quantity]) -> Rows:
    """Logarithms of luminance about their mean: their range is that of Lmin / Lmax."""
    if not all(one.plain and (one.value or 0.0) > 0.0 for one in luminances) or not luminances:
        return NO_ROWS
    logs = [math.log(one.value or 1.0) for one in luminances]
    middle = sum(logs) / len(logs)
    nodes = [None if one.sources is None else Sum(((1.0 / (one.value or 1.0), one.sources),)) for one in luminances]
    return _one_component([one - middle for one in logs], nodes)


def _one_component(values: Sequence[float | None], nodes: Sequence[Node | None]) -> Rows:
    known = [[node] for node in nodes if node is not None]
    if len(known) < len(nodes) or not known or any(value is None for value in values):
        return NO_ROWS
    return Rows(Cloud([[value] for value in values], known), range(len(known)))


def _uv(one: Chromaticity) -> tuple[float, float]:
    return one.u_prime.value or math.nan, one.v_prime.value or math.nan


def _uv_nodes(one: Chromaticity) -> list[Node] | None:
    u, v = one.u_prime, one.v_prime
    if u.value is None or v.value is None or u.sources is None or v.sources is None:
        return None
    return [u.sources, v.sources]


def largest_of(quantities: Sequence[Quantity], worst: int) -> Quantity:
    """The largest of quantities that are rows of one cloud; its interval knows that it was picked as the largest."""
    largest, node = quantities[worst], quantities[worst].sources
    return largest._replace(sources=node.cloud.over("max")) if isinstance(node, OfCloud) else largest


DARK = 0.1
"""Relative uncertainty of a light from which on what all cells share, such as the meter's zero, bends their ratios."""


def if_shifted(one: Quantity, luminances: Sequence[Quantity], figure: Callable[[Sequence[float]], float]) -> Quantity:
    """A ``figure`` of a grid's luminances whose interval holds what it becomes when all cells are off alike.

    To first order the zero of the meter hardly moves a ratio of dark cells; near zero it moves it without end. Each
    source that all cells share is tried at both ends of its 95 % interval; a light that would be below zero is none.
    """
    values = [light.value or 0.0 for light in luminances]
    reach = [light.interval for light in luminances]
    if not one.plain or all(ends is None or ends[1] - ends[0] <= 2.0 * DARK * ends[1] for ends in reach):
        return one
    parts = [light.sources.contributions() if light.sources else None for light in luminances]
    known = [part for part in parts if part is not None]
    if len(known) < len(parts):
        return one
    found = []
    for source in set(known[0]).intersection(*known[1:]):
        for way in (NORMAL, -NORMAL):
            moved = [max(0.0, value + way * part[source]) for value, part in zip(values, known, strict=True)]
            if max(moved) > 0.0:
                found.append(figure(moved))
    return holding(one, sorted(found))


def minimum_over_maximum(luminances: Sequence[float]) -> float:
    """Of lights that are not all zero."""
    return min(luminances) / max(luminances)
