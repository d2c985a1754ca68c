"""A grayscale as data for a report: steps, averages under each convention, gamma fits with their rule."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from benchd.analysis.results import DeltaE, WhiteName
from benchd.measurements.grayscale.plots import plots
from benchd.measurements.grayscale.results import POINT_RULE, Alternative, GammaFit, Grayscale, GrayStep, GsdfResponse
from benchd.report.brief import REFERENCES, Brief, BriefFigure, BriefLine
from benchd.report.figure_text import bare, evidence, standard_deviation_cell
from benchd.report.measurement import ShowPart
from benchd.report.model import Column, Item, Line, Section, Table, Value, Words, ending
from benchd.report.plots.chromaticity import Chromaticities, track
from benchd.report.stands_out import DELTA_E_2000, DELTA_UV, GREY_ERROR_PERCENT, Remark, over

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
    yield Words(f"target luminance: {block.black}", "definition")
    yield from _averages(block.delta_e, block.primary)
    yield from (_fit(fit) for fit in block.gamma_fits)
    yield from (Words(f"{_name_of(fit)}: {fit.rule}", "definition") for fit in block.gamma_fits)
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
            (one._replace(rank=0) if name == primary else one, part)
            for name, (one, part) in zip(_SHORT, differences, strict=True)
        ),
        (Column("balance\nR", "balance", rank=10, note=BALANCE), lambda step: step.rgb_balance[0]),
        (Column("balance\nG", "balance", rank=10), lambda step: step.rgb_balance[1]),
        (Column("balance\nB", "balance", rank=10), lambda step: step.rgb_balance[2]),
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
        if one.mean.present:
            yield Words(f"dE00 {_SHORT[one.convention]}: {said}", "definition")
        else:
            yield Words(f"dE00 {_SHORT[one.convention]} absent: {one.mean.why}")


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
            f"{REFERENCES[one.convention]} ({_SHORT[one.convention]})",
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
    return Line(_name_of(fit), fit.gamma, "gamma", tuple(also))


def _name_of(fit: GammaFit) -> str:
    return "gamma, white fixed" if fit.white_fixed else "gamma, free slope"


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


def brief(block: Grayscale) -> Brief:
    """Gamma with the range of the errors, and the colour difference that the plan chose, by its name."""
    fit = next((fit for fit in block.gamma_fits if fit.white_fixed), None)
    chosen = next((one for one in block.delta_e if one.convention == block.primary), None)
    lines = []
    if fit:
        lines.append(BriefLine("gamma", BriefFigure(fit.gamma, "gamma"), tuple(_range_of_errors(block))))
    if chosen:
        at = "" if chosen.worst is None else f"at code {chosen.worst}"
        lines.append(
            BriefLine(
                "grayscale dE00 mean",
                BriefFigure(chosen.mean, "dE00"),
                (BriefFigure(chosen.maximum, "dE00", "max", at),),
                f"greys against the {_curve(block)}, dE00: {REFERENCES[block.primary]}",
            )
        )
    return Brief(tuple(lines), tuple(_remarks(block)))


def _range_of_errors(block: Grayscale) -> Iterator[BriefFigure]:
    """How far the greys lie from the target's curve at most, either way."""
    known = [step for step in block.steps if step.luminance_error.plain]
    name = "off the curve"  # which curve, the note says
    for end in (min, max) if known else ():
        step = end(known, key=_error)
        if step.signal < 1.0:  # white lies on the curve that is drawn through it
            yield BriefFigure(step.luminance_error, "%", name, f"at code {step.code}", sign=True)
            name = ""


def _curve(block: Grayscale) -> str:
    """``sRGB curve``; of one that has no other name its standard too."""
    short = block.curve.partition(" after ")[0]
    return block.curve if short == "curve" else short


def _error(step: GrayStep) -> float:
    return step.luminance_error.value or 0.0


def _remarks(block: Grayscale) -> Iterator[Remark]:
    """Greys that leave the curve, differ in colour, a white that is not the target's, and what analysis remarks."""
    yield from (Remark(ALWAYS, remark.partition(":")[0]) for remark in block.remarks)
    for darker in (True, False):
        off = [step for step in block.steps if (_error(step) < 0.0) == darker]
        off = [step for step in off if over(step.luminance_error, GREY_ERROR_PERCENT)]
        if off:
            errors = sorted(abs(_error(step)) for step in off)
            yield Remark(
                errors[-1] / GREY_ERROR_PERCENT,
                f"{_codes(block, off)} {'is' if len(off) == 1 else 'are'} {_percent(errors)} "
                f"{'darker' if darker else 'brighter'} than the {_curve(block)}",
                "darker greys" if darker else "brighter greys",
            )
    off = [step for step in block.steps if over(getattr(step.delta_e, block.primary), DELTA_E_2000)]
    if off:
        most = max(getattr(step.delta_e, block.primary).value or 0.0 for step in off)
        yield Remark(
            most / DELTA_E_2000, f"{_codes(block, off)} surely differ by more than {DELTA_E_2000:g} dE00", "greys"
        )
    white = next((step for step in block.steps if step.signal == 1.0), None)
    if white and (excess := over(white.delta_uv, DELTA_UV)):
        yield Remark(excess, f"white is {white.delta_uv.value:.4f} u'v' from the target's")


ALWAYS = 2.0
"""Weight of what analysis itself remarks, such as a white that is darker than a grey."""


def _codes(block: Grayscale, off: Sequence[GrayStep]) -> str:
    """``greys up to code 51``, ``greys from code 204``, ``the grey of code 26``, ``6 greys from code 13 to 77``."""
    first, last = off[0].code, off[-1].code
    if len(off) == 1:
        return f"the grey of code {first}"
    between = [step for step in block.steps if first <= step.code <= last]
    if len(off) < len(between):
        return f"{len(off)} greys from code {first} to {last}"
    judged = [step.code for step in block.steps if step.luminance_error.present]
    if judged and first <= judged[0]:
        return f"greys up to code {last}"
    return f"greys from code {first}{'' if last == block.steps[-1].code else f' to {last}'}"


def _percent(errors: Sequence[float]) -> str:
    first, last = f"{errors[0]:.0f}", f"{errors[-1]:.0f}"
    return f"{last} %" if first == last else f"{first} to {last} %"


PART = ShowPart(section=section, plots=plots, colours=colours, alike=lambda block: block.primary, brief=brief)
