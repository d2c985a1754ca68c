"""An HDR tone curve: the shape of the results and their figures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar, Literal

from benchd.analysis.catalogue_figure import Figure, figure_of
from benchd.analysis.colour.target import Target
from benchd.analysis.figure_conditions import steps_text
from benchd.analysis.log.room_note import noted_black
from benchd.analysis.measurement import ResultPart, absences_of
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.measurements.declared_figure import DeclaredFigure

Ending = Literal["", "clips", "rolls off", "keeps up", "not on the curve", "inconclusive"]
"""How a PQ curve ends: at a hard clip, in a roll-off, beyond the last code; "" for HLG and where steps are missing."""


@dataclass(frozen=True, slots=True)
class ToneStep:
    """One grey of an HDR tone curve.

    ``requested_cd_m2``   what the code requests
    ``target``        the same, clipped at the peak that was measured in this block
    ``error``         100 (L / target - 1), %
    ``error_codes``   signal of the measured light minus that of the target, in codes of the plan's depth and range
    ``delta_i``       colour difference of the greys alone: 720 |difference of the PQ signals| (BT.2124)
    ``delta_e_itp``   colour difference with the colour of the grey, against D65
    ``region``        "tracking", "roll-off" (above the knee) or "dark" (requests less than 0.1 cd/m2 or than
                      twenty times the black: it depends on the black, not on the curve)
    """

    step: str
    code: int
    signal: float
    requested_cd_m2: float
    target: Quantity
    luminance: Quantity
    error: Quantity
    error_codes: Quantity
    delta_i: Quantity
    delta_e_itp: Quantity
    region: str


@dataclass(frozen=True, slots=True)
class ToneCurve:
    """An HDR tone curve. Averages are over the steps of the region "tracking".

    ``knee``  the requested luminance at which the screen falls 5 % short for good; ``knee_between`` what the two codes
              around it request. Its interval holds their distance
    ``below_clip``  the most that it stays under a hard clip at its own peak above the knee, %, between codes too
    ``ending``  the verdict, by the whole interval of ``below_clip``: the same from any number of steps, or
                inconclusive; ``clip``: the same in words
    """

    kind: ClassVar[str] = "tone_curve"
    block: str
    method: str
    transfer: str
    range: str
    bits: int
    depth: str
    area_percent: float
    peak: Quantity
    black: Quantity
    knee: Quantity
    knee_between: tuple[float, float] | None
    below_clip: Quantity
    ending: Ending
    clip: str
    steps: tuple[ToneStep, ...]
    mean_error: Quantity
    worst_error: Quantity
    worst_code: int | None
    mean_delta_e_itp: Quantity
    max_delta_e_itp: Quantity
    missing: str = ""


KNEE = DeclaredFigure("HDR knee", "HDR", "cd/m2", "more", "hdr-knee", "knee", rank=1)
ERROR = DeclaredFigure("HDR tone error mean", "HDR", "%", "less", "hdr-tone-error", "tone\nerror\nmean", rank=1)
DELTA_E = DeclaredFigure("HDR delta E ITP mean", "HDR", "dE00", "less", "hdr-de-itp", "grey\ndE ITP\nmean", rank=1)
LARGEST = DeclaredFigure("HDR delta E ITP maximum", "HDR", "dE00", "less", head="grey\ndE ITP\nmaximum", rank=2)


def _figures(one: ToneCurve, target: Target | None) -> Iterator[Figure]:
    how = f"{one.transfer.upper()}, steps where the screen follows the curve, window of {one.area_percent:g} %"
    window = (("window", f"{one.area_percent:g} %"),)
    steps = steps_text([step.code for step in one.steps], [step.signal for step in one.steps])
    yield figure_of(KNEE, one.knee, how, one.block, window)
    for declared, quantity in (
        (ERROR, one.mean_error),
        (DELTA_E, one.mean_delta_e_itp),
        (LARGEST, one.max_delta_e_itp),
    ):
        yield figure_of(declared, quantity, how, one.block, (*window, ("steps", steps)))


PART = ResultPart(
    shape=ToneCurve,
    figures=_figures,
    absences=absences_of("mean_error", "mean_delta_e_itp"),
    with_room=noted_black,
    declared=(KNEE, ERROR, DELTA_E, LARGEST),
)
