"""The comparison as a page: the table of differences, plots overlaid, and the question of the panel."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import Any

from benchd.analysis.figure_conditions import target_text
from benchd.analysis.results import Results
from benchd.analysis.verdicts.comparison import Comparison, Sample
from benchd.analysis.verdicts.panel import PanelQuestion
from benchd.measurements import registry
from benchd.report.data.log_reference import LogReference
from benchd.report.measurement import show_part
from benchd.report.model import Named, Section
from benchd.report.page.parts import page
from benchd.report.page.results_page import chromaticity_of, plots_note, with_conditions
from benchd.report.page.section_html import section_html
from benchd.report.plots.picture import Picture, with_pictures
from benchd.report.plots.plot import Plot, at_settings
from benchd.report.plots.sweep import sweep_plots
from benchd.report.sections.comparison import comparison_sections
from benchd.report.words import capital, count, plain, point_of

MAX_SIGNS = 32
"""Of the name of a sample over a column or in a plot."""
LINE_IN = 0.2
"""Height of a line of a legend."""


def comparison_plots(samples: Sequence[Sample]) -> list[Plot]:
    """Every plot that overlays the first log of each sample; what a target decides, only those of one target."""
    firsts = _firsts(samples)
    simulated = any(results.simulated for _, results in firsts)
    made = []
    lights = _apart(firsts, lambda one: str(_colours_of(one)))
    for number, several in enumerate(lights):
        name = _numbered("compared", number)
        made += with_conditions(chromaticity_of(several, name=name, simulated=simulated), several)
    for kind in registry.kinds():
        made += _overlaid(kind, firsts, simulated)
    logs = [(label, results) for label, results in firsts if results.sweep]
    swept = [(label, results.sweep) for label, results in logs if results.sweep]
    made += with_conditions(sweep_plots(swept, name="compared-sweep", simulated=simulated), logs) if swept else []
    taller = LINE_IN * len(firsts)  # each has a line in the legend
    return [replace(plot, height_in=plot.height_in + taller) for plot in made]


def _firsts(samples: Sequence[Sample]) -> list[tuple[str, Results]]:
    """The first log of each sample under its name in the plots."""
    labels = shortened([sample.label for sample in samples])
    return [(label, sample.logs[0]) for label, sample in zip(labels, samples, strict=True)]


def _overlaid(kind: str, logs: Sequence[tuple[str, Results]], simulated: bool) -> list[Plot]:
    """Plots of one block of a kind of each log, one set for all that were held against the same.

    Of a sweep that at the first point of the first log, where there is one.
    """
    found = [(label, results, blocks) for label, results in logs if (blocks := list(results.of(kind)))]
    point = point_of(found[0][2][0].block) if found else ""
    groups: dict[str, list[tuple[str, Results, Any]]] = {}
    part = show_part(kind)
    for label, results, blocks in found:
        block = next((one for one in blocks if point_of(one.block) == point), blocks[0])
        alike = f"{target_text(results.target)}; {point_of(block.block)}; {part.alike(block)}"
        groups.setdefault(alike, []).append((label, results, block))
    made = []
    for number, several in enumerate(groups.values()):
        shown = [(label, block) for label, _, block in several]
        plots = part.plots(shown, _numbered(f"compared-{plain(kind)}", number), simulated)
        at, of = shown[0][1].block, [(label, results) for label, results, _ in several]
        made += with_conditions(at_settings(plots, at), of, point_of(at))
    return made


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
    short = [label if len(label) <= MAX_SIGNS else f"{label[:18]}…{label[-13:]}" for label in labels]
    return tuple(short if len(set(short)) == len(set(labels)) else labels)


def comparison_page(
    comparison: Comparison,
    samples: Sequence[Sample],
    logs: Sequence[Sequence[LogReference]],
    panel: Sequence[tuple[str, PanelQuestion]],
    plots: Sequence[Plot],
    drawn: Iterable[Picture] = (),
) -> str:
    """The whole page; ``logs`` of each sample, in its order; ``plots`` its `comparison_plots`, ``drawn`` the same."""
    simulated = comparison.simulated
    comparison = replace(comparison, labels=shortened(comparison.labels))
    panel = list(zip(comparison.labels[1:], (question for _, question in panel), strict=False))
    sections: list[tuple[str, Section, Sequence[Plot]]]
    first, *others = comparison_sections(comparison, panel)
    first = replace(first, about="Differences are in % of the first sample or in the unit shown")
    sections = [(f"part-{number}", one, ()) for number, one in enumerate((first, *others), 1)]
    sections += [
        ("plots", Section("plots", "Plots", "", (plots_note(_firsts(samples)),) if plots else ()), plots),
        ("source", _provenance(samples, logs), ()),
    ]
    parts = []
    for number, (anchor, one, own) in enumerate(sections, 1):
        title = capital(one.title) if number > len(comparison.labels) else one.title
        parts.append((anchor, title, section_html(one, own, anchor=anchor, title=title, simulated=simulated)))
    inner = "\n".join(html for *_, html in parts)
    title = " · ".join(comparison.labels)
    subtitle = f"{count(len(comparison.rows), 'figure')} in common; differences are from {comparison.labels[0]}"
    contents = [(anchor, name) for anchor, name, html in parts if html]
    return with_pictures(page(title, subtitle, inner, contents, made_by="compare", simulated=simulated), drawn)


def _provenance(samples: Sequence[Sample], logs: Sequence[Sequence[LogReference]]) -> Section:
    rows = tuple(
        (sample.label, f"{log.file}, SHA-256 {log.sha256}; begun {results.started}")
        for sample, several in zip(samples, logs, strict=True)
        for log, results in zip(several, sample.logs, strict=True)
    )
    return Section("source", "Provenance", "", (Named(rows),))
