"""``benchd compare``: displays side by side."""

from __future__ import annotations

import re
import shutil
import sys
from argparse import Namespace
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from benchd.analysis.verdicts.comparison import BY_KIND, Comparison, Sample, compare
from benchd.analysis.verdicts.equivalence import Margin
from benchd.analysis.verdicts.panel import PanelQuestion, same_panel
from benchd.command.messages import say
from benchd.command.show.printed import write_text
from benchd.command.show.results import results_of
from benchd.errors import InputError
from benchd.exits import Exit
from benchd.report.data.document import json_text
from benchd.report.data.log_reference import LogReference
from benchd.report.words import printable

_MARGIN = re.compile(r"(?P<size>[0-9]+(?:\.[0-9]+)?)\s*(?P<percent>%?)\Z")


def main(arguments: Namespace) -> Exit:
    """Print the comparison, or write it as a page."""
    samples, references = _samples(arguments.logs, arguments.model, arguments.target)
    margins = margins_of(arguments.margin)
    comparison = compare(samples, margins)
    _refuse_unknown(margins, comparison)
    if not comparison.rows:
        raise InputError("these logs have no figure in common; measure both with the same plan")
    for doubt in dict.fromkeys(doubt for sample in samples for log in sample.logs for doubt in log.doubts):
        say(f"Note: in doubt: {printable(doubt.text)}")
    panel = _panel(samples) if arguments.same_panel else []
    if arguments.format == "json" and arguments.output == "-":
        raise InputError("--format json and -o - both go to stdout; name a file for the page")
    if arguments.format == "json":
        from benchd.report.data.verdicts import comparison_json

        sys.stdout.write(json_text(comparison_json(comparison, references, panel)))
    if arguments.output or arguments.plots:
        from benchd.command.show.report import write_plots
        from benchd.report.page.compare_page import comparison_page, comparison_plots

        plots = comparison_plots(samples)
        if arguments.plots:
            write_plots(plots, Path(arguments.plots))
        if arguments.output:
            write_text(comparison_page(comparison, samples, references, panel, plots), arguments.output, "Page")
    if arguments.format == "json" or arguments.output or arguments.plots:
        return Exit.COMPLETE
    from benchd.report.sections.comparison import comparison_sections
    from benchd.report.terminal.section_text import sections_text

    width = shutil.get_terminal_size((100, 24)).columns
    sections, simulated = comparison_sections(comparison, panel), comparison.simulated
    sys.stdout.write(sections_text(sections, simulated=simulated, width=width, colour=sys.stdout.isatty()))
    return Exit.COMPLETE


def _samples(
    logs: Sequence[str], models: Sequence[str], target: str | None
) -> tuple[list[Sample], list[list[LogReference]]]:
    """What is to be compared, models after single logs unless only models are given; labels all different."""
    named: list[tuple[str, list[str]]] = [("", [log]) for log in logs]
    for text in models:
        name, sign, listed = text.partition("=")
        several = [file for file in listed.split(",") if file]
        if not (sign and name and several):
            raise InputError(f"--model {text}: write NAME=LOG,LOG, such as plover=1.log,2.log")
        named.append((name, several))
    if len(named) < 2:
        raise InputError("a comparison needs two logs, or two --model; see benchd compare --help")
    samples, references = [], []
    for name, files in named:
        found = [results_of(Path(file), target) for file in files]
        digests = [reference.sha256 for _, reference in found]
        if len(set(digests)) < len(digests):
            raise InputError(f"--model {name}: the same log is given twice; a log counts once")
        label = name or found[0][0].sample or Path(files[0]).stem
        samples.append(Sample(label, tuple(results for results, _ in found), tuple(digests)))
        references.append([reference for _, reference in found])
    return _labelled(samples, references), references


def _labelled(samples: Sequence[Sample], references: Sequence[Sequence[LogReference]]) -> list[Sample]:
    """Samples of one name are distinguished by their file."""
    labels = [sample.label for sample in samples]
    made: list[Sample] = []
    for number, (sample, several) in enumerate(zip(samples, references, strict=True), 1):
        label = sample.label
        if labels.count(label) > 1:
            label = f"{label} ({Path(several[0].file).stem})"
        if label in [one.label for one in made]:
            label = f"{label} {number}"
        made.append(Sample(printable(label), sample.logs, sample.digests))
    return made


def margins_of(texts: Sequence[str]) -> dict[str, Margin]:
    """Margins by the names of figures. Raises `InputError` for one that can't be read."""
    found = {}
    for text in texts:
        name, _, size = text.rpartition("=")
        match = _MARGIN.match(size.strip())
        if not name.strip() or match is None or float(match["size"]) <= 0:
            raise InputError(f"--margin {text}: write FIGURE=SIZE, such as contrast=5% or gamma=0.05, above zero")
        found[name.strip()] = Margin(float(match["size"]), percent=bool(match["percent"]))
    return found


def _refuse_unknown(margins: dict[str, Margin], comparison: Comparison) -> None:
    """A margin for a figure that no sample has would be ignored in silence; so would a misread per cent."""
    known = [row.headline for row in comparison.rows]
    names = {one.name for one in known} | {one.name.partition(" at ")[0].partition(" (")[0] for one in known} | {"*"}
    for name, margin in margins.items():
        if name not in names:
            import difflib  # for a wrong name only

            close = difflib.get_close_matches(name, names, n=3, cutoff=0.5)
            advice = (
                f"did you mean {' or '.join(close)}?" if close else f"known are: {', '.join(sorted(names - {'*'}))}"
            )
            raise InputError(f"--margin {name}: these logs have no such figure in common; {advice}")
        row = next((one for one in known if one.name == name), None)
        if row and margin.percent and row.unit in BY_KIND and row.unit not in ("cd/m2", "1", "K", "gamma"):
            unit = "points" if row.unit == "%" else "its own unit"
            raise InputError(f"--margin {name}: a difference of it is stated in {unit}, so leave the % away")


def _panel(samples: Sequence[Sample]) -> list[tuple[str, PanelQuestion]]:
    """The evidence for each sample against the first, from the first log of each."""
    first, several = samples[0].logs[0], any(len(sample.logs) > 1 for sample in samples)
    found = []
    for sample in samples[1:]:
        question = same_panel(first, sample.logs[0])
        if several:
            units = f"{first.sample} and {sample.logs[0].sample}"
            question = replace(question, answer=f"From one unit of each, {units}: {question.answer}")
        found.append((sample.label, question))
    return found
