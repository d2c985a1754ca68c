"""An HDR tone curve as data for a report: peak, black, knee, errors, and every step."""

from __future__ import annotations

from collections.abc import Iterator

from benchd.analysis.figure_conditions import SIGNALS
from benchd.measurements.tone_curve.plots import plots
from benchd.measurements.tone_curve.results import ToneCurve, ToneStep
from benchd.report.digits import number
from benchd.report.measurement import ShowPart
from benchd.report.model import Column, Item, Line, Section, Table, Value, Words, ending

COLUMNS = (
    Column("code"),
    Column("asked", "cd/m2"),
    Column("target", "cd/m2", rank=1),
    Column("L", "cd/m2", uncertainty=True),
    Column("error", "%", sign=True),
    Column("error\ncodes", "codes", sign=True),
    Column("dE ITP\ngrey", "dE ITP"),
    Column("dE ITP", "dE ITP"),
    Column("region"),
)


def section(block: ToneCurve) -> Section:
    """The block's own items."""
    about = f"{SIGNALS.get(block.transfer, block.transfer)}, {block.range} range, window of {block.area_percent:g} %"
    return Section(block.block, "Tone curve", about, tuple(_items(block)))


def _items(block: ToneCurve) -> Iterator[Item]:
    yield Words(block.depth)
    yield Line("peak", block.peak, "cd/m2")
    yield Line("black", block.black, "cd/m2")
    if block.transfer == "pq":
        yield from _knee(block)
    yield Line("mean |error|", block.mean_error, "%")
    also = () if block.worst_code is None else (f"at code {block.worst_code}",)
    yield Line("worst error", block.worst_error, "%", also, sign=bool(also))
    yield Line("mean dE ITP", block.mean_delta_e_itp, "dE ITP")
    yield Line("maximum dE ITP", block.max_delta_e_itp, "dE ITP")
    if block.knee_between is not None and block.transfer == "pq":
        yield Words(f"at its end: {block.clip}")
    yield Table("Steps of the tone curve", COLUMNS, tuple(_row(one) for one in block.steps))
    yield from ending(block.missing, block.method)


def _knee(block: ToneCurve) -> Iterator[Item]:
    """Where a PQ curve is left, and how far it stays under a hard clip above."""
    if block.knee_between is None:
        yield Line("leaves the curve", block.knee, "cd/m2")
        return
    low, high = (number(one, "cd/m2") for one in block.knee_between)
    yield Line("leaves the curve", block.knee, "cd/m2", (f"between {low} and {high} cd/m2 asked for",))
    yield Line("under a hard clip", block.below_clip, "%", ("at most",))


def _row(one: ToneStep) -> tuple[Value, ...]:
    errors = (one.error, one.error_codes, one.delta_i, one.delta_e_itp)
    return (
        one.code,
        one.asked_cd_m2,
        one.target,
        one.luminance,
        *errors,
        "" if one.region == "tracking" else one.region,
    )


def against(block: ToneCurve) -> str:
    """The curve that the steps are held against."""
    ends = {"pq": "clipped at the measured peak", "hlg": "through the measured peak and black"}
    return f"{SIGNALS.get(block.transfer, block.transfer)} curve {ends.get(block.transfer, '')}, greys against D65"


PART = ShowPart(section=section, plots=plots, against=against)
