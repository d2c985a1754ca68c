"""An HDR tone curve as data for a report: peak, black, knee, errors, and every step."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from benchd.analysis.figure_conditions import SIGNALS
from benchd.measurements.tone_curve.results import ToneCurve, ToneStep
from benchd.report.brief import Brief, BriefFigure, BriefLine
from benchd.report.digits import number
from benchd.report.drawing.axes import Axes, Curve, zone
from benchd.report.drawing.axis import Axis
from benchd.report.figure_text import bare, figure
from benchd.report.measurement import ShowPart
from benchd.report.model import Column, Item, Line, Section, Table, Value, Words, ending
from benchd.report.plots.intervals import Points, series, target_level, target_line
from benchd.report.plots.plot import Ink, Plot, span
from benchd.report.stands_out import DELTA_E_ITP, GREY_ERROR_PERCENT, Remark, over
from benchd.report.words import count

REQUESTED = "requested, cd/m² (logarithmic)"

MOST = 60.0
"""Error in per cent at which the axis ends: a dark step may be off by hundreds, and the table has that."""


def plots(several: Sequence[tuple[str, ToneCurve]], name: str, simulated: bool) -> list[Plot]:
    """Luminance over what the code requests, and its error."""
    made = []
    curves = [(label, _points(block, lambda step: step.luminance.value)) for label, block in several]
    if any(points for _, points in curves):

        def curve(axes: Axes) -> None:
            axes.x = Axis(REQUESTED, kind="logarithmic")
            axes.y = Axis("luminance, cd/m² (logarithmic)", kind="logarithmic")
            steps = several[0][1].steps
            axes.add(*target_line([(s.requested_cd_m2, s.target.value) for s in steps if s.requested_cd_m2 > 0]))
            for index, (label, points) in enumerate(curves):
                axes.add(*series(index, label or "measured", points))
            if len(several) == 1 and (knee := several[0][1].knee.interval) is not None:
                axes.add(zone(*knee, Ink.rule, alpha=0.6, label="knee, 95 % interval"))

        said = " ".join(
            f"{label or 'Measured'}: peak {figure(block.peak, 'cd/m2', ' cd/m²')}, "
            f"knee {figure(block.knee, 'cd/m2', ' cd/m²')}{f', {block.clip}' if block.ending else ''}."
            for label, block in several
        )
        text = f"Luminance over the luminance that the code requests, both logarithmic. {said}"
        made.append(Plot(f"{name}-curve", f"Tone curve ({several[0][1].transfer.upper()})", text, curve, simulated))
    errors = [(label, _points(block, lambda step: step.error.value)) for label, block in several]
    if any(points for _, points in errors):

        def error(axes: Axes) -> None:
            axes.add(target_level(0.0))
            for index, (label, points) in enumerate(errors):
                axes.add(*series(index, label, points))
            axes.add(*_beyond([points for _, points in errors]))
            axes.x = Axis(REQUESTED, kind="logarithmic")
            shown = [_within(y) for _, points in errors for _, y, _ in points]
            axes.y = Axis("error of luminance, %", *span([0.0, *shown], 10.0))

        said = " ".join(
            f"{label or 'Mean'} {bare(block.mean_error, '%', sign=True)} %, worst "
            f"{bare(block.worst_error, '%', sign=True)} %{f' ({left})' if (left := _left_out(block)) else ''}."
            for label, block in several
        )
        off = sum(_within(y) != y for _, points in errors for _, y, _ in points)
        marked = f" Off by more than {MOST:g} %, marked at the edge: {count(off, 'step')}." if off else ""
        text = f"Error of the tone curve in per cent of its target.{marked} {said}"
        made.append(Plot(f"{name}-error", "Tone curve: error", text, error, simulated))
    return made


def _within(error: float) -> float:
    return min(max(error, -MOST), MOST)


def _beyond(several: Sequence[Points]) -> Iterator[Curve]:
    """Open triangles where the axis ends before the errors do."""
    label = f"beyond {MOST:g} %"
    for index, points in enumerate(several):
        for mark, end in (("^", MOST), ("v", -MOST)):
            if off := [(x, end) for x, y, _ in points if y / end > 1.0]:
                colour = Ink.series[index % len(Ink.series)]
                yield Curve(off, colour, mark, mark_size=7.0, joined=False, hollow=True, label=label, order=4)
                label = ""


def _points(block: ToneCurve, part: Callable[[ToneStep], float | None]) -> Points:
    points: Points = []
    for step in block.steps:
        value = part(step)
        if step.requested_cd_m2 > 0.001 and step.luminance.plain and step.luminance.value and value is not None:
            points.append((step.requested_cd_m2, value, (0.0, 0.0)))
    return points


COLUMNS = (
    Column("code"),
    Column("requested", "cd/m2"),
    Column("target", "cd/m2", rank=1),
    Column("L", "cd/m2", uncertainty=True),
    Column("error", "%", sign=True),
    Column("error\ncodes", "codes", sign=True),
    Column("dE ITP\ngrey", "dE ITP"),
    Column("dE ITP", "dE ITP"),
    Column("left out\nas"),
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
    yield Line("mean |error|", block.mean_error, "%", (left,) if (left := _left_out(block)) else ())
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
    yield Line("leaves the curve", block.knee, "cd/m2", (f"between {low} and {high} cd/m2 requested",))
    yield Line("under a hard clip", block.below_clip, "%", ("at most",))


def _left_out(block: ToneCurve) -> str:
    """From where on steps are averaged, where darker ones than these are not; of black alone that needs no word."""
    counted = [one.requested_cd_m2 for one in block.steps if one.region == "tracking"]
    if not counted or not any(one.region == "dark" and one.requested_cd_m2 > 0.0 for one in block.steps):
        return ""
    return f"from {number(min(counted), 'cd/m2')} cd/m2 up, darker steps left out"


def _row(one: ToneStep) -> tuple[Value, ...]:
    errors = (one.error, one.error_codes, one.delta_i, one.delta_e_itp)
    return (
        one.code,
        one.requested_cd_m2,
        one.target,
        one.luminance,
        *errors,
        "" if one.region == "tracking" else one.region,
    )


def against(block: ToneCurve) -> str:
    """The curve that the steps are held against."""
    ends = {"pq": "clipped at the measured peak", "hlg": "through the measured peak and black"}
    return f"{SIGNALS.get(block.transfer, block.transfer)} curve {ends.get(block.transfer, '')}, greys against D65"


def brief(block: ToneCurve) -> Brief:
    """The mean error of the curve, where it is left, and its colour difference."""
    worst = "" if block.worst_code is None else f"at code {block.worst_code}"
    error = BriefFigure(block.worst_error, "%", "worst", worst, sign=bool(worst))
    note = f"tone error, grey dE ITP: {left}" if (left := _left_out(block)) else ""
    lines = [BriefLine("tone error mean", BriefFigure(block.mean_error, "%"), (error,), note)]
    if block.transfer == "pq":
        ends = (block.clip,) if block.ending else ()
        lines.append(BriefLine("leaves the curve", BriefFigure(block.knee, "cd/m2"), ends))
    largest = BriefFigure(block.max_delta_e_itp, "dE ITP", "max")
    lines.append(BriefLine("grey dE ITP mean", BriefFigure(block.mean_delta_e_itp, "dE ITP"), (largest,), note))
    return Brief(tuple(lines), tuple(_remarks(block)))


def _remarks(block: ToneCurve) -> Iterator[Remark]:
    """A curve that is left, or greys that are off where it is followed."""
    if block.ending == "not on the curve":
        yield Remark(1.0, f"{block.block}: {block.clip}")
    if excess := over(block.worst_error, GREY_ERROR_PERCENT):
        at = "" if block.worst_code is None else f" at code {block.worst_code}"
        yield Remark(excess, f"the tone curve is off by {block.worst_error.value:+.0f} %{at}")
    if excess := over(block.max_delta_e_itp, DELTA_E_ITP):
        yield Remark(excess, f"a grey of the tone curve is {block.max_delta_e_itp.value:.0f} dE ITP off")


PART = ShowPart(section=section, plots=plots, against=against, brief=brief)
