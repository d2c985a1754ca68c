"""A grayscale as data for a report: steps, averages under each convention, gamma fits with their rule."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from benchd.analysis.results import DeltaE, WhiteName
from benchd.measurements.grayscale.plots import plots
from benchd.measurements.grayscale.results import POINT_RULE, Alternative, GammaFit, Grayscale, GrayStep, GsdfResponse
from benchd.report.figure_text import bare, evidence, standard_deviation_cell
from benchd.report.measurement import ShowPart
from benchd.report.model import Column, Item, Line, Section, Table, Value, Words, ending
from benchd.report.plots.chromaticity import Chromaticities, track

BALANCE = (
    "balance: R, G, B in the target's primaries over the step's own luminance: its colour alone; 1, 1, 1: the target's "
    "white"
)
_SHORT: dict[WhiteName, str] = {"white_luminance": "lum.", "white_measured": "meas.", "absolute": "abs."}


def section(block: Grayscale) -> Section:
    """Steps, averages, fits, and what depends on another black or on the GSDF."""
    patch = "" if block.patch == "full screen" else f", {block.patch},"
    about = f"{len(block.steps)} steps{patch} against: {block.curve}"
    return Section(block.block, "Grayscale", about, tuple(_items(block)))


def _items(block: Grayscale) -> Iterator[Item]:
    yield _steps("Grey steps", block.steps, _columns(block.primary))
    yield from ending(block.missing, "")
    yield Words(f"target luminance: {block.black}")
    yield from _averages(block.delta_e, block.primary)
    yield from (_fit(fit) for fit in block.gamma_fits)
    yield from (Words(remark, "warning") for remark in block.remarks)
    other = block.alternative
    if other and any(step.target_luminance.present for step in other.steps):
        yield from _with_other_black(other, block.primary)
    if block.gsdf:
        yield from _gsdf(block.gsdf)
    yield Words(block.method, "method")


StepColumn = tuple[Column, Callable[[GrayStep], Value]]


def _columns(primary: WhiteName) -> tuple[StepColumn, ...]:
    """What stands in the table of steps."""
    differences: tuple[StepColumn, ...] = (
        (Column("dE00\nlum.", "dE00", rank=3), lambda step: step.delta_e.white_luminance),
        (Column("dE00\nmeas.", "dE00", rank=4), lambda step: step.delta_e.white_measured),
        (Column("dE00\nabs.", "dE00", rank=3), lambda step: step.delta_e.absolute),
    )
    return (
        (Column("code"), lambda step: step.code),
        (Column("signal", "%", rank=7), lambda step: 100.0 * step.signal),
        (Column("L", "cd/m2", uncertainty=True), lambda step: step.luminance),
        (Column("n"), lambda step: step.luminance.n),
        (Column("s", rank=6), lambda step: standard_deviation_cell(step.luminance, "cd/m2")),
        (Column("target L", "cd/m2", rank=1), lambda step: step.target_luminance),
        (Column("error", "%", sign=True, rank=1), lambda step: step.luminance_error),
        (Column("point\ngamma", "gamma", rank=2, note=POINT_RULE), lambda step: step.point_gamma),
        (Column("x", "xy", rank=9), lambda step: step.chromaticity.x),
        (Column("y", "xy", rank=9), lambda step: step.chromaticity.y),
        (Column("CCT", "K"), lambda step: step.chromaticity.cct),
        (Column("Duv", "Duv", sign=True), lambda step: step.chromaticity.duv),
        (Column("to white\nu'v'", "u'v'", rank=5), lambda step: step.delta_uv),
        # The convention that the plan chose stays longest.
        *(
            (replace(one, rank=0) if name == primary else one, part)
            for name, (one, part) in zip(_SHORT, differences, strict=True)
        ),
        (Column("balance\nR", "balance", rank=10, note=BALANCE), lambda step: step.rgb_balance[0]),
        (Column("\nG", "balance", rank=10), lambda step: step.rgb_balance[1]),
        (Column("\nB", "balance", rank=10), lambda step: step.rgb_balance[2]),
    )


def _of_target(column: Column) -> bool:
    """Does it depend on the target's curve?"""
    return column.head.startswith(("code", "target", "error", "dE00"))


def _steps(caption: str, steps: Sequence[GrayStep], columns: Sequence[StepColumn]) -> Table:
    rows = tuple(tuple(part(step) for _, part in columns) for step in steps)
    return Table(caption, tuple(column for column, _ in columns), rows)


def _averages(several: Sequence[DeltaE], primary: WhiteName) -> Iterator[Item]:
    """Averages of the colour differences, and what each means; the convention that the plan chose comes first."""
    if not any(one.mean.present for one in several):
        reasons = dict.fromkeys(one.mean.why for one in several)
        yield Words(f"dE00 absent: {'; '.join(reasons)}", "warning")
        return
    yield _table_of_averages(several, primary)
    for one in _by_choice(several, primary):
        said = f"Lab white: {one.white}. Adaptation: {one.adaptation}. {one.formula}."
        yield Words(f"{one.convention}. {said if one.mean.present else f'Absent: {one.mean.why}'}")


def _table_of_averages(several: Sequence[DeltaE], primary: WhiteName) -> Table:
    columns = (
        Column("dE00"),
        Column("chosen by", rank=11),
        Column("mean", "dE00", uncertainty=True),
        Column("median", "dE00", uncertainty=True),
        Column("95th\npercentile", "dE00", uncertainty=True),
        Column("maximum", "dE00", uncertainty=True),
        Column("at code"),
        Column("of"),
    )
    rows = tuple(
        (
            f"{one.convention} ({_SHORT[one.convention]})",
            "the plan" if one.convention == primary else None,
            *(one.mean, one.median, one.percentile_95, one.maximum),
            *(one.worst, evidence(one.mean, "dE00")),
        )
        for one in _by_choice(several, primary)
    )
    return Table("Colour differences of the grayscale", columns, rows)


def _by_choice(several: Sequence[DeltaE], primary: str) -> list[DeltaE]:
    return sorted(several, key=lambda one: one.convention != primary)


def _fit(fit: GammaFit) -> Line:
    also = []
    if fit.max_residual.present:
        also.append(f"largest residual {bare(fit.max_residual, 'residual')} in ln L")
    if fit.codes:
        also.append(f"{len(fit.codes)} steps, codes {fit.codes[0]} to {fit.codes[-1]}")
    name = "gamma, white fixed" if fit.white_fixed else "gamma, free slope"
    return Line(name, fit.gamma, "gamma", (*also, f"rule: {fit.rule}"))


def _with_other_black(other: Alternative, primary: WhiteName) -> Iterator[Item]:
    yield Words(f"the same with another black: {other.black}")
    columns = [(column, part) for column, part in _columns(primary) if _of_target(column)]
    yield _steps("Grey steps with another black", other.steps, columns)
    yield _table_of_averages(other.delta_e, primary)


def _gsdf(response: GsdfResponse) -> Iterator[Item]:
    interval = response.worst_interval
    also = (f"codes {interval[0]} to {interval[1]}",) if interval else ()
    yield Line("contrast response", response.worst, "%", also, sign=True)
    columns = (
        Column("codes"),
        Column("response", "ratio"),
        Column("target", "ratio"),
        Column("deviation", "%", sign=True),
    )
    rows = tuple(
        (f"{one.code_from} to {one.code_to}", one.response, one.target, one.deviation) for one in response.intervals
    )
    yield Table("Contrast response", columns, rows)
    yield Words(response.method, "method")


def colours(block: Grayscale) -> Chromaticities:
    """The track of the greys in the chromaticity diagram."""
    return Chromaticities(greys=track((100.0 * step.signal, step.chromaticity) for step in block.steps))


PART = ShowPart(section=section, plots=plots, colours=colours, alike=lambda block: block.primary)
