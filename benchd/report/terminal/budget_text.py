"""The budget of a figure's uncertainty, as text and as JSON (`benchd results LOG --budget`)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from benchd.analysis.catalogue import AT, headlines
from benchd.analysis.results import Results
from benchd.analysis.sweep_points import LISTED, names_at
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.analysis.uncertainty.uncertainty_budget import Budget, BudgetLine, budget_of
from benchd.errors import InputError, nearest
from benchd.measurements.declared_figure import plain_name, spelled_out
from benchd.report.data.document import Json, every_figure
from benchd.report.data.log_reference import LogReference
from benchd.report.digits import digits_of, number
from benchd.report.figure_text import figure
from benchd.report.terminal.text_page import Page
from benchd.report.uncertain import resolution_words, serial_words, stated_words, uncertainty_fields
from benchd.report.words import SIMULATED, columns, count, wrapped

SCHEMA = "benchd.budget/1"

TOGETHER = {
    "readings of ": "readings of {} steps",
    "repeats of ": "repeats of {} steps",
    "placing ": "{} placings",
}
MAX_ALONE = 3
"""So many sources of one of these kinds stand alone; more are one line."""
MAX_DOF = 9999


class LabelledFigure(NamedTuple):
    """A figure under the name that it was asked by, or its plain name."""

    name: str
    kind: str
    quantity: Quantity


def figures_of(results: Results, log: LogReference, wanted: str) -> list[LabelledFigure]:
    """The figure of that path, plain name or short name; without a name, the headline figures.

    In a sweep a name may leave out what is clear of its point, and have the controls in any order.
    Raises `InputError` when there is none of that name.
    """
    known = [LabelledFigure(one.name, one.unit, one.quantity) for one in headlines(results)]
    if not wanted:
        return known
    base, at, point = spelled_out(wanted).partition(AT)
    plain = next((one.name for one in headlines(results) if base in (one.short, one.name)), base).partition(AT)[0]
    name = f"{plain}{at}{point}"
    points = names_at(name, (one.name for one in known))
    if found := [one for one in known if one.name == name or [one.name] == points]:
        return found
    paths = dict(every_figure(results, log))
    if wanted in paths:
        return [LabelledFigure(wanted, digits_of(wanted, paths[wanted].unit), paths[wanted])]
    if points := points or names_at(plain, (one.name for one in known)):
        several = " or ".join(repr(plain_name(one)) for one in points[:LISTED])
        raise InputError(f"this log has {wanted!r} at {count(len(points), 'point')} of a sweep; write {several}")
    names = [name for one in known for name in (one.name, one.name.partition(AT)[0])]
    near = nearest(spelled_out(wanted), [*names, *paths], most=1, cutoff=0.4)
    hint = f"did you mean {plain_name(near[0])!r}? " if near else ""
    raise InputError(f"this log has no figure {wanted!r}; {hint}`benchd results {log.file} --budget` lists its figures")


def budget_text(results: Results, several: Sequence[LabelledFigure], width: int) -> str:
    """A table for each figure, the largest source first. A simulated bench's says so first and last."""
    lines = Page().simulated(results.simulated)
    lines += wrapped(f"stated    {stated_words(results.uncertainty, results.meter)}", width, "", " " * 10)
    digits = resolution_words(results.meter) or "not known: neither stated nor seen in its answers"
    lines += wrapped(f"digits    resolution of the meter: {digits}", width, "", " " * 10)
    lines += wrapped(f"readings  {serial_words(results.meter)}", width, "", " " * 10)
    lines += wrapped(
        "sources   contribution: change of the figure when the source is off by one standard uncertainty, with its "
        "sign; share: of the variance; dof: degrees of freedom",
        width,
        "",
        " " * 10,
    )
    for one in several:
        lines += ["", *_table(one)]
    if results.simulated:
        lines += ["", lines[0]]
    return "\n".join(lines) + "\n"


def _table(one: LabelledFigure) -> list[str]:
    unit = {"cd/m2": " cd/m2", "K": " K", "%": " %"}.get(one.quantity.unit, "")
    budget = budget_of(one.quantity)
    if budget is None:
        return [f"{plain_name(one.name)}: {figure(one.quantity, one.kind, unit)}, no budget: {_why_none(one.quantity)}"]
    stated = budget.stated
    head = f"{plain_name(one.name)}: {figure(one.quantity, one.kind, unit)}, 95 %"
    if stated.k is not None:
        head += f", k = {stated.k:.2f}"
    if budget.standard <= 0.0:
        return [f"{head}: nothing moves it"]
    rows = [("source", "contribution", "share", "dof")]
    for line in _shown(budget):
        rows.append((line.source, _signed(line), f"{100.0 * line.share:.1f} %", _dof(line.dof)))
    rows.append(("together", _plain(budget.standard), "100.0 %", _dof(budget.dof)))
    lines = [head, *(f"  {row}" for row in columns(rows, left=(0,)))]
    if stated.k is None:
        lines.append("  as if it were linear where it was read; the interval knows that it is not")
    return lines


def _why_none(quantity: Quantity) -> str:
    if quantity.bound is not None:
        return "it is only a bound"
    return quantity.why or "too few readings for a standard deviation"


def _shown(budget: Budget) -> list[BudgetLine]:
    """Its lines with short names; many steps' readings as one line, and so many placings."""
    kept, groups = [], {kind: list[BudgetLine]() for kind in TOGETHER}
    for line in budget.lines:
        kind = next((kind for kind in TOGETHER if line.source.startswith(kind)), "")
        if kind:
            groups[kind].append(line)
        else:
            kept.append(line._replace(source=_short(line)))
    for kind, lines in groups.items():
        if len(lines) <= MAX_ALONE:
            kept += lines
            continue
        share = math.fsum(line.share for line in lines)
        size = budget.standard * math.sqrt(share)
        kept.append(BudgetLine(f"{TOGETHER[kind].format(len(lines))}", size, share, math.nan, False))
    return sorted(kept, key=lambda line: -line.share)


def _short(line: BudgetLine) -> str:
    """The meter is named above, once."""
    return f"meter: {line.source.rpartition(': ')[2]}" if line.shared else line.source


def _signed(line: BudgetLine) -> str:
    """Of several sources together there is no sign."""
    text = number(line.contribution, "", abs(line.contribution) * 0.01)
    return f"+{text}" if line.contribution > 0.0 and not math.isnan(line.dof) else text


def _plain(value: float) -> str:
    return number(value, "", value * 0.01) if value else "0"


def _dof(dof: float) -> str:
    return "-" if math.isinf(dof) or math.isnan(dof) or dof > MAX_DOF else f"{dof:.0f}"


def budget_json(results: Results, log: LogReference, several: Sequence[LabelledFigure]) -> Json:
    """The same as data. ``dof`` null: infinite; ``sources`` null: the uncertainty is not known.

    ``combined_standard_uncertainty`` is the root of the sum of the squares of the contributions (JCGM 100, equation
    10), also where the figure's interval is skew and so has no ``standard_uncertainty``.
    """
    return {
        "schema": SCHEMA,
        "simulated": results.simulated,
        "notice": SIMULATED if results.simulated else "",
        "log": {"file": log.file, "sha256": log.sha256},
        "uncertainty": None if results.uncertainty is None else dict(results.uncertainty),
        "resolution": results.meter.get("resolution"),
        "serial_correlation": results.meter.get("serial_correlation"),
        "figures": [_figure_json(one) for one in several],
    }


def _figure_json(one: LabelledFigure) -> Json:
    budget: Budget | None = budget_of(one.quantity)
    return {
        "figure": one.name,
        "value": one.quantity.value,
        "unit": one.quantity.unit,
        "bound": one.quantity.bound,
        **uncertainty_fields(one.quantity),
        "combined_standard_uncertainty": None if budget is None else budget.standard,
        "sources": None
        if budget is None
        else [
            {
                "source": line.source,
                "contribution": line.contribution,
                "share": line.share,
                "dof": None if math.isinf(line.dof) else line.dof,
                "of_the_meter": line.shared,
            }
            for line in budget.lines
        ],
    }
