"""The comparison as a page: the table of differences, plots overlaid, and the question of the panel."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

from benchd.analysis.figure_conditions import target_text
from benchd.analysis.results import Results
from benchd.analysis.verdicts.comparison import Comparison, ComparisonRow, Difference, Sample
from benchd.analysis.verdicts.equivalence import METHOD
from benchd.analysis.verdicts.panel import PanelQuestion
from benchd.measurements import registry
from benchd.report.data.log_reference import LogReference
from benchd.report.measurement import show_part
from benchd.report.page.parts import (
    HtmlCell,
    esc,
    method,
    number_cell,
    page,
    plots_html,
    quantity_cells,
    section,
    table,
    tag,
    text_cell,
    warning,
    words,
)
from benchd.report.page.results_page import chromaticity_of
from benchd.report.page.sections import UNITS
from benchd.report.plots.plot import Plot
from benchd.report.plots.sweep import sweep_plots
from benchd.report.shown import plain_name, with_uncertainty
from benchd.report.terminal.compare_text import (
    PERCENT_OF,
    SAY,
    by_conditions,
    is_relative,
    margin_text,
    meter_words,
    room_notes,
)
from benchd.report.words import count, plain

_CLASS = {
    "different": "different",
    "equivalent": "equivalent",
    "different and equivalent": "within",
    "inconclusive": "cant",
}
MOST_SIGNS = 32
"""Of the name of a sample over a column or in a plot."""
_FINDING = {"for": "for", "against": "against", "tells nothing": "none"}


def comparison_plots(samples: Sequence[Sample]) -> list[Plot]:
    """Every plot that overlays the first log of each sample; what a target decides, only those of one target."""
    labels = shortened([sample.label for sample in samples])
    firsts = [(label, sample.logs[0]) for label, sample in zip(labels, samples, strict=True)]
    simulated = any(results.simulated for _, results in firsts)
    made = []
    lights = _apart(firsts, lambda one: str(_colours_of(one)))
    for number, several in enumerate(lights):
        made += chromaticity_of(several, name=_numbered("compared", number), simulated=simulated)
    single = [(label, results) for label, results in firsts if not results.sweep]
    for kind in registry.kinds():
        made += _overlaid(kind, single, simulated)
    swept = [(label, results.sweep) for label, results in firsts if results.sweep]
    return made + (sweep_plots(swept, name="compared-sweep", simulated=simulated) if swept else [])


def _overlaid(kind: str, logs: Sequence[tuple[str, Results]], simulated: bool) -> list[Plot]:
    """Plots of the first block of a kind of each log, one set for all that were held against the same."""
    firsts = [(label, results, next(iter(results.of(kind)), None)) for label, results in logs]
    groups: dict[str, list[tuple[str, Any]]] = {}
    for label, results, block in firsts:
        if block is not None:
            alike = f"{target_text(results.target)}; {show_part(kind).alike(block)}"
            groups.setdefault(alike, []).append((label, block))
    return [
        plot
        for number, several in enumerate(groups.values())
        for plot in show_part(kind).plots(several, _numbered(f"compared-{plain(kind)}", number), simulated)
    ]


def _apart(firsts: Sequence[tuple[str, Results]], by: Callable[[Results], str]) -> list[list[tuple[str, Results]]]:
    """The logs in groups that agree in ``by``, in their order."""
    groups: dict[str, list[tuple[str, Results]]] = {}
    for label, results in firsts:
        groups.setdefault(by(results), []).append((label, results))
    return list(groups.values())


def _colours_of(one: Results) -> object:
    target = one.target
    return None if target is None else (target.white, target.red, target.green, target.blue)


def _numbered(name: str, number: int) -> str:
    return f"{name}-{number + 1}" if number else name


def shortened(labels: Sequence[str]) -> tuple[str, ...]:
    """Names that leave room for figures beside them; in full where they would no longer differ."""
    short = [label if len(label) <= MOST_SIGNS else f"{label[:18]}…{label[-13:]}" for label in labels]
    return tuple(short if len(set(short)) == len(set(labels)) else labels)


def comparison_page(
    comparison: Comparison,
    samples: Sequence[Sample],
    logs: Sequence[Sequence[LogReference]],
    panel: Sequence[tuple[str, PanelQuestion]],
    plots: Sequence[Plot],
) -> str:
    """The whole page; ``logs`` of each sample, in its order."""
    simulated = comparison.simulated
    comparison = replace(comparison, labels=shortened(comparison.labels))
    panel = list(zip(comparison.labels[1:], (question for _, question in panel), strict=False))
    parts = []
    for index in range(1, len(comparison.labels)):
        title = f"{comparison.labels[index]} against {comparison.labels[0]}"
        parts.append((f"against-{index}", title, _differences(comparison, index), simulated))
    parts.append(("plots", "Plots", plots_html(plots), simulated))
    for number, (label, question) in enumerate(panel, 1):
        title = f"Same panel in {label} as in {comparison.labels[0]}?"
        parts.append((f"panel-{number}", title, _panel(question), simulated))
    parts.append(("conditions", "Conditions", _conditions(comparison), False))
    parts.append(("source", "Provenance", _provenance(samples, logs), False))
    shown = [(anchor, title, inner, marked) for anchor, title, inner, marked in parts if inner]
    inner = "\n".join(section(anchor, title, body, simulated=marked) for anchor, title, body, marked in shown)
    title = " · ".join(comparison.labels)
    subtitle = f"{count(len(comparison.rows), 'figure')} in common; differences are from {comparison.labels[0]}"
    return page(title, subtitle, inner, [(anchor, name) for anchor, name, *_ in shown], simulated=simulated)


def _differences(comparison: Comparison, index: int) -> str:
    rows: list[list[HtmlCell]] = []
    groups: list[tuple[str, int]] = []
    notes: dict[str, list[str]] = {}
    for row in comparison.rows:
        one = row.differences[index]
        if one is None:
            continue
        topic = row.headline.topic[0].upper() + row.headline.topic[1:]
        if groups and groups[-1][0] == topic:
            groups[-1] = (topic, groups[-1][1] + 1)
        else:
            groups.append((topic, 1))
        rows.append(_row(row, one, index))
        if one.answer == "inconclusive" and one.why:
            notes.setdefault(one.why, []).append(row.headline.name)
        for said in room_notes(comparison, row, index):
            notes.setdefault(said, []).append(row.headline.name)
    labels = (comparison.labels[0], comparison.labels[index])
    # The verdict comes first: where the page is narrower than the table it is not the part that is out of sight.
    head = ["Figure", "Verdict", labels[0], "± U", labels[1], "± U", "Unit", "Difference", "± U", "", "Margin"]
    spread = any(side.spread is not None for row in comparison.rows for side in row.sides)
    made = _in_words(comparison, index) + table(head, rows, caption="Differences", groups=groups, folded=False)
    if spread:
        made += _spreads(comparison)
    held = {f"holds for {under}": names for under, names in by_conditions(comparison.rows, index).items()}
    for why, names in (*notes.items(), *held.items()):
        made += tag("p", esc(f"{', '.join(names)}: {why}"), class_="method")
    tested = count(comparison.tested, "difference")
    together = (
        f"{tested} judged together after Holm (1979, from memory): at most 5 % that any is called different by chance. "
        f"{METHOD[0].upper()}{METHOD[1:]}. Margins without * are common practice, no standard behind them; "
        f"{PERCENT_OF}. Differences in % are of {labels[0]}."
    )
    return made + method(together)


def _in_words(comparison: Comparison, index: int) -> str:
    """The verdict in a sentence: what differs beyond the margin, what does not, what is open."""
    by_answer: dict[str, list[str]] = {}
    for row in comparison.rows:
        if one := row.differences[index]:
            by_answer.setdefault(one.answer, []).append(plain_name(row.headline.name))
    rows = [
        ("differ", ", ".join(by_answer.get("different", ()))),
        ("equivalent", ", ".join([*by_answer.get("equivalent", ()), *by_answer.get("different and equivalent", ())])),
        ("inconclusive", ", ".join(by_answer.get("inconclusive", ()))),
    ]
    return words([(name, text) for name, text in rows if text])


def _row(row: ComparisonRow, one: Difference, index: int) -> list[HtmlCell]:
    kind = row.headline.unit
    verdict = tag("span", esc(SAY[one.answer]), class_=f"verdict {_CLASS[one.answer]}")
    cells: list[HtmlCell] = [text_cell(plain_name(row.headline.name)), HtmlCell(verdict)]
    for side in (row.sides[0], row.sides[index]):
        cells += quantity_cells(side.quantity, kind) if side.quantity else (text_cell("–"), text_cell(""))
    cells += [
        text_cell(UNITS.get(kind, "")),
        *_change(one, kind),
        number_cell(margin_text(row.margin, kind) + (" *" if row.margin_stated else "")),
    ]
    return cells


def _change(one: Difference, kind: str) -> tuple[HtmlCell, HtmlCell, HtmlCell]:
    """The difference, its uncertainty, its unit: per cent where a ratio makes sense."""
    if one.relative is not None and is_relative(one):
        return *quantity_cells(one.relative, "%", sign=True), text_cell("%")
    if one.difference is None:
        return text_cell("–"), text_cell(""), text_cell("")
    unit = {"%": "points", "1": ""}.get(kind, UNITS.get(kind, ""))
    return *quantity_cells(one.difference, kind, sign=True), text_cell(unit)


def _spreads(comparison: Comparison) -> str:
    rows = []
    for row in comparison.rows:
        cells: list[HtmlCell] = [text_cell(row.headline.name)]
        for side in row.sides:
            if side.spread is None or side.quantity is None or not side.quantity.value:
                cells += [text_cell(""), text_cell("")]
                continue
            known = side.quantity._replace(value=side.spread, sources=None, s=None)
            cells += [number_cell(with_uncertainty(known, row.headline.unit)[0]), number_cell(str(side.n))]
        rows.append(cells)
    head = ["Spread between logs (s)"]
    for label in comparison.labels:
        head += [label, "logs"]
    return table(head, rows, caption="Spread between the logs of each model", folded=len(rows) > 6)


def _panel(question: PanelQuestion) -> str:
    rows = [
        (
            text_cell(one.feature),
            HtmlCell(tag("span", esc(one.finding), class_=f"verdict {_FINDING[one.finding]}")),
            text_cell(one.weight),
            text_cell(one.words),
            text_cell(one.because),
        )
        for one in question.evidence
    ]
    head = ("Evidence", "Speaks", "Weight", "What was found", "Why it weighs that")
    made = tag("p", tag("strong", esc(question.answer))) + table(head, rows, caption="Evidence", folded=False)
    if question.spectral:
        made += tag("p", esc(f"Note: {question.spectral}."), class_="method")
    if question.lacking:
        made += tag("p", esc(f"What would tell more: {'; '.join(question.lacking)}."), class_="method")
    note = "same panel means the same component, not the same unit; margins and weights are common practice"
    return made + method(note)


def _conditions(comparison: Comparison) -> str:
    meter = meter_words(comparison)
    made = tag("p", esc(f"{meter[0].upper()}{meter[1:]}."))
    rows = [(text_cell(name), *(text_cell(text) for text in texts)) for name, texts in comparison.conditions.items()]
    if rows:
        made += warning("Not everything was the same:")
        made += table(("Condition", *comparison.labels), rows, caption="Conditions that differ", folded=False)
    return made


def _provenance(samples: Sequence[Sample], logs: Sequence[Sequence[LogReference]]) -> str:
    return words(
        [
            (sample.label, f"{log.file}, SHA-256 {log.sha256}; begun {results.started}")
            for sample, several in zip(samples, logs, strict=True)
            for log, results in zip(several, sample.logs, strict=True)
        ]
    )
