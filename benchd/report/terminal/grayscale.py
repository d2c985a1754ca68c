"""A grayscale as text: the table of steps, averages under each convention, gamma fits with their rule."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from benchd.analysis.results import DeltaE, GammaFit, Grayscale, GrayStep, GsdfResponse
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.measurements.grayscale.gamma import POINT_RULE
from benchd.report.digits import number
from benchd.report.figure_text import bare, beside_reach, ends, evidence, figure, line, reach, scatter
from benchd.report.terminal.text_page import Page
from benchd.report.words import PERCENTILE, columns, percentile_fitted, wrapped

GAP = "  "


@dataclass(frozen=True, slots=True)
class StepColumn:
    """A column of the table: its two lines of head, the text of a step, and its rank (0 stays longest).

    ``target`` is true where the figure depends on the target's curve.
    """

    head: tuple[str, str]
    text: Callable[[GrayStep], str]
    rank: int
    target: bool = False


def _quantity(part: Callable[[GrayStep], Quantity], kind: str, *, sign: bool = False) -> Callable[[GrayStep], str]:
    return lambda step: bare(part(step), kind, sign=sign)


COLUMNS = (
    StepColumn(("", "code"), lambda step: str(step.code), 0),
    StepColumn(("signal", "%"), lambda step: number(100 * step.signal, "%"), 7),
    StepColumn(("L", "cd/m2"), lambda step: beside_reach(step.luminance, "cd/m2"), 0),
    StepColumn(("", "\u00b1"), lambda step: reach(step.luminance, "cd/m2"), 5),
    StepColumn(("", "n"), lambda step: str(step.luminance.n), 0),
    StepColumn(("", "scatter"), lambda step: scatter(step.luminance, "cd/m2").removeprefix("scatter "), 6),
    StepColumn(("target L", "cd/m2"), _quantity(lambda step: step.target_luminance, "cd/m2"), 1, target=True),
    StepColumn(("error", "%"), _quantity(lambda step: step.luminance_error, "%", sign=True), 1, target=True),
    StepColumn(("point", "gamma"), _quantity(lambda step: step.point_gamma, "gamma"), 2),
    StepColumn(("", "x"), _quantity(lambda step: step.chromaticity.x, "xy"), 9),
    StepColumn(("", "y"), _quantity(lambda step: step.chromaticity.y, "xy"), 9),
    StepColumn(("CCT", "K"), _quantity(lambda step: step.chromaticity.cct, "K"), 0),
    StepColumn(("", "Duv"), _quantity(lambda step: step.chromaticity.duv, "Duv", sign=True), 0),
    StepColumn(("to white", "u'v'"), _quantity(lambda step: step.delta_uv, "u'v'"), 5),
    StepColumn(("dE00", "lum."), _quantity(lambda step: step.delta_e.white_luminance, "dE00"), 0, target=True),
    StepColumn(("dE00", "meas."), _quantity(lambda step: step.delta_e.white_measured, "dE00"), 4, target=True),
    StepColumn(("dE00", "abs."), _quantity(lambda step: step.delta_e.absolute, "dE00"), 3, target=True),
    StepColumn(("balance", "R"), _quantity(lambda step: step.rgb_balance[0], "balance"), 10),
    StepColumn(("", "G"), _quantity(lambda step: step.rgb_balance[1], "balance"), 10),
    StepColumn(("", "B"), _quantity(lambda step: step.rgb_balance[2], "balance"), 10),
)
BALANCE = (
    "R, G, B in the target's primaries over the step's own luminance: its colour alone; 1, 1, 1: the target's white"
)
_SHORT = {"white_luminance": "lum.", "white_measured": "meas.", "absolute": "abs."}


def grayscale_lines(block: Grayscale, page: Page) -> list[str]:
    """The section of one grayscale block."""
    shown = "" if block.patch == "full screen" else f", {block.patch},"
    lines = page.heading(block.block, f"{len(block.steps)} steps{shown} against: {block.curve}")
    table = step_table(block.steps, page)
    lines += table + page.missing(block.missing)
    for head, rule in (("point", POINT_RULE), ("balance", f"balance: {BALANCE}")):
        if table and head in table[0]:
            lines += page.prose(rule)
    lines += page.prose(f"target luminance: {block.black}")
    lines += _averages(block.delta_e, block.primary, page)
    for fit in block.gamma_fits:
        lines += _fit(fit, page)
    for remark in block.remarks:
        lines += page.warning(remark)
    if block.alternative and any(step.target_luminance.present for step in block.alternative.steps):
        lines += ["", *page.prose(f"the same with another black: {block.alternative.black}")]
        lines += step_table(block.alternative.steps, page, only_target=True)
        lines += _table_of_averages(block.alternative.delta_e, block.primary, page.width)
    if block.gsdf:
        lines += _gsdf(block.gsdf, page)
    return lines + page.method(block.method)


def step_table(steps: Sequence[GrayStep], page: Page, *, only_target: bool = False) -> list[str]:
    """One row a step. Columns of the highest rank are left out until the table fits the page.

    A column without a single figure is left out as well: the data still have it. ``only_target`` leaves
    the code and what depends on the target's curve.
    """
    if not steps:
        return []
    every = [(column, [column.text(step) for step in steps]) for column in COLUMNS]
    if only_target:
        every = [(column, cells) for column, cells in every if column.target or column is COLUMNS[0]]
    table = [(column, cells) for column, cells in every if set(cells) - {"", "-"}]
    ranks = sorted({column.rank for column, _ in table if column.rank}, reverse=True)
    for rank in ranks:
        if _wide(table) <= page.width - 2:
            break
        table = [(column, cells) for column, cells in table if column.rank != rank]
    heads = [[column.head[line] for column, _ in table] for line in (0, 1)]
    body = [list(row) for row in zip(*(cells for _, cells in table), strict=True)]
    return [f"  {row}" for row in columns([*heads, *body], gap=GAP)]


def _wide(table: Sequence[tuple[StepColumn, list[str]]]) -> int:
    return sum(max(map(len, (*column.head, *cells))) for column, cells in table) + len(GAP) * (len(table) - 1)


def _averages(several: Sequence[DeltaE], primary: str, page: Page) -> list[str]:
    """Averages of the colour differences, and beside each what it means."""
    if not any(one.mean.present for one in several):
        reasons = dict.fromkeys(one.mean.why for one in several)
        return page.warning(f"dE00 absent: {'; '.join(reasons)}")
    lines = _table_of_averages(several, primary, page.width)
    for one in _by_choice(several, primary):
        lines += _ends(one, page)
        if one.mean.present:
            said = f"{one.convention}. Lab white: {one.white}. Adaptation: {one.adaptation}. {one.formula}."
        else:
            said = f"{one.convention}. Absent: {one.mean.why}"
        lines += wrapped(said, page.width, "  ", "    ")
    return lines


def _table_of_averages(several: Sequence[DeltaE], primary: str, width: int) -> list[str]:
    head = ("dE00", "", "mean", "median", PERCENTILE, "greatest", "at code", "")
    rows: list[tuple[str, ...]] = [head]
    for one in _by_choice(several, primary):
        parts = (one.mean, one.median, one.percentile_95, one.maximum)
        figures = [bare(part, "dE00") for part in parts]
        worst = "-" if one.worst is None else str(one.worst)
        rows.append((one.convention, f"({_SHORT[one.convention]})", *figures, worst, evidence(one.mean, "dE00")))
    return ["", *(f"  {row}" for row in columns(percentile_fitted(rows, width), left=(0, 1, 7)))]


def _ends(one: DeltaE, page: Page) -> list[str]:
    """The intervals of 95 % of one convention's averages, where they are known."""
    parts = (
        ("mean", one.mean),
        ("median", one.median),
        (PERCENTILE, one.percentile_95),
        ("greatest", one.maximum),
    )
    known = [f"{name} {ends(part, 'dE00')}" for name, part in parts if ends(part, "dE00")]
    return page.prose(f"({_SHORT[one.convention]}) truth within: {', '.join(known)}") if known else []


def _by_choice(several: Sequence[DeltaE], primary: str) -> list[DeltaE]:
    """The convention that the plan chose comes first."""
    return sorted(several, key=lambda one: one.convention != primary)


def _fit(fit: GammaFit, page: Page) -> list[str]:
    name = "gamma, white fixed" if fit.white_fixed else "gamma, free slope"
    also = []
    if fit.max_residual.present:
        also.append(f"greatest residual {bare(fit.max_residual, 'residual')} in ln L")
    if fit.codes:
        also.append(f"{len(fit.codes)} steps, codes {fit.codes[0]} to {fit.codes[-1]}")
    lines = line(name, figure(fit.gamma, "gamma", ""), fit.gamma, "gamma", width=page.width, also=also)
    return lines + wrapped(f"rule: {fit.rule}", page.width, "    ", "      ")


def _gsdf(response: GsdfResponse, page: Page) -> list[str]:
    interval = response.worst_interval
    also = [f"codes {interval[0]} to {interval[1]}"] if interval else []
    shown = figure(response.worst, "%", " %", sign=True)
    lines = ["", *line("contrast response", shown, response.worst, "%", width=page.width, also=also)]
    if response.intervals:
        rows = [("codes", "response", "target", "deviation %")]
        for one in response.intervals:
            rows.append(
                (
                    f"{one.code_from} to {one.code_to}",
                    bare(one.response, "1"),
                    bare(one.target, "1"),
                    bare(one.deviation, "%", sign=True),
                )
            )
        lines += [f"  {row}" for row in columns(rows, left=(0,))]
    return lines + page.method(response.method)
