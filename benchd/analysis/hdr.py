"""The HDR kinds of block -> their analyses, and what each could not give."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from benchd.analysis.absences import absences, if_absent
from benchd.analysis.log.log_data import LogData
from benchd.analysis.log.step_light import MeterRange
from benchd.analysis.results import Absent
from benchd.analysis.results_hdr import ColourLevels, Halo, Peak, Sustained, ToneCurve
from benchd.analysis.windows import peak, sustained
from benchd.measurements.colour_levels.analysis import colour_levels
from benchd.measurements.halo.analysis import halo
from benchd.measurements.tone_curve.analysis import tone_curve

HdrBlock = Peak | Sustained | ToneCurve | Halo | ColourLevels

HDR_BLOCKS: dict[str, Callable[[LogData, Mapping[str, Any], MeterRange], HdrBlock]] = {
    "peak": peak,
    "sustained": sustained,
    "tone_curve": tone_curve,
    "halo": halo,
    "colour_levels": colour_levels,
}


@absences.register(Peak)
@absences.register(Sustained)
def _(result: Peak | Sustained) -> Iterator[Absent]:
    if result.missing:
        yield Absent(result.block, result.missing)
    for window in result.windows:
        yield from if_absent(f"{result.block}/{window.area_percent:g}", window.peak)


@absences.register
def _(result: ToneCurve) -> Iterator[Absent]:
    if result.missing:
        yield Absent(result.block, result.missing)
    for name, one in (("mean_error", result.mean_error), ("mean_delta_e_itp", result.mean_delta_e_itp)):
        yield from if_absent(f"{result.block}/{name}", one)


@absences.register
def _(result: Halo) -> Iterator[Absent]:
    if result.missing:
        yield Absent(result.block, result.missing)
    for board in result.boards:
        yield from if_absent(f"{result.block}/board-{board.cells}", board.contrast)


@absences.register
def _(result: ColourLevels) -> Iterator[Absent]:
    if result.missing:
        yield Absent(result.block, result.missing)
    yield from if_absent(f"{result.block}/mean_delta_e_itp", result.mean_delta_e_itp)
