"""Sampled uniformity: luminance and chromaticity over a grid of places, against the centre and over all pairs."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from benchd.analysis.colour import colorimetry as colour
from benchd.analysis.colour.target import Target
from benchd.analysis.log.log_data import LogData
from benchd.analysis.log.places import cells_not_measured, listed, place_name
from benchd.analysis.log.step_data import StepData
from benchd.analysis.log.step_light import LUMINANCE_UNIT, MeterRange, chromaticities, luminance_of
from benchd.analysis.results import Chromaticity
from benchd.analysis.uncertainty.cloud import Scale
from benchd.analysis.uncertainty.grid_clouds import (
    delta_e_rows,
    deviation_rows,
    if_shifted,
    largest_of,
    logarithm_rows,
    minimum_over_maximum,
    of_any_pair,
    uv_rows,
)
from benchd.analysis.uncertainty.quantity import (
    Quantity,
    absent,
    composed,
    maximum,
    mean,
    merged,
    minimum,
    ratio,
    scaled,
)
from benchd.analysis.uncertainty.quotient import is_skew
from benchd.analysis.uncertainty.sources import EXACT
from benchd.analysis.uncertainty.widened import holding
from benchd.measurements.uniformity.results import Uniformity, UniformityCell, UniformityLevel

METHOD = (
    "non-uniformity (Lmax - Lmin) / Lmax, deviation from the centre, distance in CIE 1976 u', v'; method after "
    "FPDM 306-1, IDMS chapter 8 and ISO 9241-307 (from memory); u', v' after CIE 15"
)
DELTA_E_CONVENTION = (
    "CIEDE2000 (ISO/CIE 11664-6) against the centre; Lab white: the centre cell of the same level; no adaptation"
)
NO_CENTRE = "a grid without a centre cell has no centre to compare with"


def uniformity(
    log_data: LogData, block: Mapping[str, Any], meter: MeterRange, target: Target | None = None
) -> Uniformity:
    """All levels of one uniformity block."""
    name, columns, rows = str(block["name"]), int(block["columns"]), int(block["rows"])
    steps: dict[str, dict[tuple[int, int], StepData]] = {}
    for one in log_data.of_block(name):
        place = (int(one.labels["row"]), int(one.labels["column"]))
        steps.setdefault(str(one.labels["level"]), {})[place] = one
    levels = [_level(level, steps.get(str(level["level"]), {}), columns, rows, meter) for level in block["levels"]]
    return Uniformity(block=name, method=METHOD, levels=tuple(levels))


def _level(
    level: Mapping[str, Any],
    found: Mapping[tuple[int, int], StepData],
    columns: int,
    rows: int,
    meter: MeterRange,
) -> UniformityLevel:
    places = [(row, column) for row in range(1, rows + 1) for column in range(1, columns + 1)]
    luminances = [luminance_of(found.get(place), meter) for place in places]
    colours = chromaticities([found.get(place) for place in places], luminances)
    centre = places.index(((rows + 1) // 2, (columns + 1) // 2)) if rows % 2 and columns % 2 else None
    deltas = _against_centre(places, found, luminances, colours, centre)
    cells = [
        UniformityCell(
            row=row,
            column=column,
            at=found[row, column].at if (row, column) in found else None,
            luminance=luminance,
            chromaticity=chromaticity,
            deviation=deviation,
            delta_uv=delta_uv,
            delta_e=delta_e,
        )
        for (row, column), luminance, chromaticity, (deviation, delta_uv, delta_e) in zip(
            places, luminances, colours, deltas, strict=True
        )
    ]
    missing = cells_not_measured(found, rows, columns)

    def whole(unit: str, figure: Callable[[], Quantity]) -> Quantity:
        """A figure of the whole grid: absent while a cell is missing."""
        return absent(unit, missing) if missing else figure()

    logs = logarithm_rows(luminances)

    def ranged(quantity: Quantity, scale: Scale, factor: float) -> Quantity:
        return quantity._replace(sources=logs.over("range", scale, factor)) if quantity.plain else quantity

    low_over_high = whole("1", lambda: ratio(minimum(luminances, "cd/m2"), maximum(luminances, "cd/m2")))
    worst, worst_place = _worst_deviation(cells, missing)
    max_uv, max_uv_place = _largest([cell.delta_uv for cell in cells], cells, missing, "1")
    max_e, max_e_place = _largest([cell.delta_e for cell in cells], cells, missing, "1")
    pair, pair_places = _largest_pair(cells, missing)
    return UniformityLevel(
        level=str(level["level"]),
        percent=float(level["percent"]),
        code=int(level["code"]),
        columns=columns,
        rows=rows,
        centre=None if centre is None else place_name(*places[centre]),
        grid=tuple(tuple(cells[start : start + columns]) for start in range(0, len(cells), columns)),
        mean=whole(LUMINANCE_UNIT, lambda: mean(luminances, LUMINANCE_UNIT)),
        non_uniformity=if_shifted(
            ranged(scaled(low_over_high, -100.0, "%", 100.0), "1 minus exp of minus", 100.0),
            luminances,
            lambda lights: 100.0 * (1.0 - minimum_over_maximum(lights)),
        ),
        min_over_max=if_shifted(ranged(low_over_high, "exp of minus", 1.0), luminances, minimum_over_maximum),
        worst_deviation=worst,
        worst_place=worst_place,
        max_delta_uv=max_uv,
        max_delta_uv_place=max_uv_place,
        max_pair_delta_uv=pair,
        max_pair_places=pair_places,
        max_delta_e=max_e,
        max_delta_e_place=max_e_place,
        delta_e_convention=DELTA_E_CONVENTION,
        missing=missing,
    )


def _against_centre(
    places: Sequence[tuple[int, int]],
    found: Mapping[tuple[int, int], StepData],
    luminances: Sequence[Quantity],
    colours: Sequence[Chromaticity],
    centre: int | None,
) -> list[tuple[Quantity, Quantity, Quantity]]:
    """Deviation in %, du'v' and CIEDE2000 from the centre, for each cell."""
    if centre is None or places[centre] not in found:
        if centre is None:
            why = NO_CENTRE
        else:
            why = f"the centre cell {place_name(*places[centre])} was not measured"
        return [(absent("%", why), absent("1", why), absent("1", why))] * len(places)
    xyz = np.array([_xyz(found.get(place)) for place in places])
    uv = colour.uv_from_xyz(xyz)
    delta_uv = colour.distance(uv, uv[centre])
    with np.errstate(invalid="ignore", divide="ignore"):
        lab = colour.lab_from_xyz(xyz, xyz[centre])
    delta_e = colour.delta_e_2000(lab[centre], lab)
    by_uv, by_e = uv_rows(colours, centre), delta_e_rows([found.get(place) for place in places], centre)
    result = []
    for index, luminance in enumerate(luminances):
        if index == centre and luminance.plain:
            same = luminance.status, None, "", luminance.records
            deviation = Quantity(0.0, "%", luminance.n, None, *same, EXACT)
        else:
            deviation = scaled(ratio(luminance, luminances[centre]), 100.0, "%", -100.0)
        colour_parts = (colours[index].u_prime, colours[centre].u_prime)
        parts = (luminance, luminances[centre], *colour_parts)
        result.append(
            (
                deviation,
                composed(float(delta_uv[index]), "1", colour_parts, sources=by_uv.of(index)),
                composed(float(delta_e[index]), "1", parts, sources=by_e.of(index)),
            )
        )
    return result


def _xyz(measured: StepData | None) -> tuple[float, float, float]:
    nothing = (np.nan, np.nan, np.nan)
    return nothing if measured is None or measured.mean is None else measured.mean


def _worst_deviation(cells: Sequence[UniformityCell], missing: str) -> tuple[Quantity, str | None]:
    """The deviation of largest size. A bound only where it can't be beaten from the other side."""
    deviations = [cell.deviation for cell in cells]
    records = merged(one.records for one in deviations)
    if missing:
        return absent("%", missing, records), None
    lacking = [one.why for one in deviations if one.value is None]
    if lacking:
        return absent("%", lacking[0], records), None
    sizes = [abs(one.value or 0.0) for one in deviations]
    worst = max(range(len(cells)), key=sizes.__getitem__)
    bounded = [one for one in deviations if one.bound]
    outward = all(one.bound == "below" and (one.value or 0.0) <= 0.0 for one in bounded)
    if bounded and not (outward and (deviations[worst].value or 0.0) < 0.0):
        return absent("%", "some cells are only known as bounds", records), None
    if bounded:
        # The size is at least this one's; its place is not certain.
        return minimum(deviations, "%"), None
    sign = math.copysign(1.0, deviations[worst].value or 0.0)
    largest = deviations[worst]._replace(sources=deviation_rows(deviations).over("max", factor=sign))
    if is_skew(deviations[worst].sources or EXACT):  # over a dark centre: the ends of its own ratio
        largest = holding(largest, deviations[worst].interval or ())
    return largest, place_name(cells[worst].row, cells[worst].column)


def _largest(
    quantities: Sequence[Quantity], cells: Sequence[UniformityCell], missing: str, unit: str
) -> tuple[Quantity, str | None]:
    """The largest of a difference over all cells, and where it is."""
    if missing:
        return absent(unit, missing), None
    lacking = [cell for cell, one in zip(cells, quantities, strict=True) if one.value is None]
    if lacking:
        why = next(one.why for one in quantities if one.value is None)
        return absent(unit, f"not to be had at {_named(lacking)}: {why}"), None
    worst = max(range(len(cells)), key=lambda i: quantities[i].value or 0.0)
    return largest_of(quantities, worst), place_name(cells[worst].row, cells[worst].column)


def _largest_pair(cells: Sequence[UniformityCell], missing: str) -> tuple[Quantity, tuple[str, str] | None]:
    """The largest distance in u', v' between any two cells, and the two places."""
    if missing:
        return absent("1", missing), None
    lacking = [cell for cell in cells if cell.chromaticity.u_prime.value is None]
    if lacking:
        why = lacking[0].chromaticity.u_prime.why
        return absent("1", f"not to be had at {_named(lacking)}: {why}"), None
    uv = np.array([(cell.chromaticity.u_prime.value, cell.chromaticity.v_prime.value) for cell in cells])
    distances = colour.distance(uv[:, None, :], uv[None, :, :])
    first, second = (int(i) for i in np.unravel_index(np.argmax(distances), distances.shape))
    one, other = sorted((first, second))
    parts = (cells[one].chromaticity.u_prime, cells[other].chromaticity.u_prime)
    places = tuple(place_name(cells[i].row, cells[i].column) for i in (one, other))
    sources = of_any_pair([cell.chromaticity for cell in cells], [cell.delta_uv for cell in cells])
    return composed(float(distances[one, other]), "1", parts, sources=sources), (places[0], places[1])


def _named(cells: Sequence[UniformityCell]) -> str:
    names = [place_name(cell.row, cell.column) for cell in cells]
    return listed(names if len(names) <= 4 else [*names[:3], f"{len(names) - 3} more"])


PART = uniformity
