"""``benchd report``, ``compare`` and ``claims``: results of one log or several, for others to read."""

from __future__ import annotations

import re
import sys
from argparse import Namespace
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

from benchd.analysis.catalogue import POINT, figures, headlines, point_words
from benchd.analysis.results import Results
from benchd.analysis.sweep_points import (
    at_point,
    brightest,
    in_order,
    listed_points,
    rows_at,
    settings_in,
    split_name,
)
from benchd.analysis.unread_blocks import unread_text
from benchd.analysis.verdicts.claim_verdicts import Claim, ClaimOutcome, check_claims
from benchd.analysis.verdicts.comparison import BY_KIND, Comparison, Sample, compare
from benchd.analysis.verdicts.equivalence import Margin
from benchd.analysis.verdicts.panel import PanelQuestion, same_panel
from benchd.command.log_names import log_named
from benchd.command.messages import coloured, say
from benchd.command.output import is_log, print_as, print_json, width, write_text
from benchd.command.own_output import Kind, refuse_other, refuse_publication
from benchd.command.show.plot_files import refuse_other_files, write_plots
from benchd.command.show.results import results_of_each
from benchd.errors import InputError, did_you_mean
from benchd.exits import Exit
from benchd.measurements.declared_figure import plain_name, spelled_out
from benchd.parallel import spread
from benchd.profile import profile_store as library
from benchd.report.data.log_reference import LogReference
from benchd.report.data.verdicts import claims_json, comparison_json
from benchd.report.model import Section
from benchd.report.sections.claims import ClaimsShown, claims_section
from benchd.report.sections.comparison import comparison_sections
from benchd.report.terminal.section_text import sections_text
from benchd.report.units import unit_text
from benchd.report.words import printable

if TYPE_CHECKING:
    from benchd.analysis.catalogue_figure import Figure
    from benchd.profile.claim_sheet import ClaimSheet
    from benchd.report.plots.plot import Plot


def main_report(arguments: Namespace) -> Exit:
    """Write the page, and the plots with --plots."""
    if not arguments.output and not arguments.plots:
        raise InputError("name the output: -o PAGE.html (or -o - for stdout), or --plots DIR for plots alone")
    _refuse_other(arguments, Kind.REPORT)
    from benchd.report.page.results_page import Logged, report_page, report_plots
    from benchd.report.plots.picture import Drawing

    refuse_idle_at(arguments)
    sheet = sheet_of(arguments.claims) if arguments.claims else None
    files = [Path(name) for name in arguments.logs]
    logs = [Logged(*one) for one in results_of_each(files, arguments.target, _with_intervals)]
    claims = claims_shown(sheet, [one.results for one in logs], arguments.at) if sheet else None
    plots = report_plots(logs)
    _refuse_other_plots(arguments, plots)
    with Drawing(plots, png=bool(arguments.plots)) as drawing:
        page = report_page(logs, claims, drawing) if arguments.output else ""
        if arguments.plots:
            write_plots(list(drawing), Path(arguments.plots))
    if arguments.output:
        write_text(page, arguments.output, "Page")
    return Exit.COMPLETE


def _refuse_other(arguments: Namespace, page: Kind) -> None:
    """Is the place of the page and of the plots free? Raises `InputError`."""
    if arguments.output:
        refuse_other(arguments.output, page, yes=arguments.yes)
    if arguments.plots:
        refuse_publication(Path(arguments.plots))


def _refuse_other_plots(arguments: Namespace, plots: Sequence[Plot]) -> None:
    """The names of plots are known from the logs alone, so that this comes after they are read. Raises `InputError`."""
    if arguments.plots:
        refuse_other_files(plots, Path(arguments.plots), yes=arguments.yes)


def _with_intervals(results: Results, of: Callable[[Results], Iterable[Figure]] = figures) -> Results:
    """The results, whose intervals are then found once for page and plots, which different processes make."""
    for one in () if results.sweep else of(results):
        _ = one.quantity.interval
    return results


def _text(sections: Sequence[Section], simulated: bool) -> str:
    return sections_text(sections, simulated=simulated, width=width(), colour=coloured(sys.stdout))


_MARGIN = re.compile(r"(?P<size>[0-9]+(?:\.[0-9]+)?)\s*(?P<unit>[^\s0-9].*)?\Z")


def main_compare(arguments: Namespace) -> Exit:
    """Print the comparison, or write it as a page."""
    from benchd.report.plots.picture import Drawing

    _refuse_other(arguments, Kind.COMPARISON)
    at = _point_of(arguments.at)
    samples, references = _samples(arguments.logs, arguments.model, arguments.target, at)
    points = [str(log.settings.get(POINT, "")) for sample in samples for log in sample.logs]
    _refuse_unswept(at, settings_in(" ".join(points)))
    if arguments.format == "json" and arguments.output == "-":
        raise InputError("--format json and -o - both go to stdout; name a file for the page")
    if not arguments.output and not arguments.plots:
        comparison, panel = _compared(arguments, samples, references)
        return print_as(
            arguments.format,
            lambda: comparison_json(comparison, references, panel),
            lambda: _text(comparison_sections(comparison, panel), comparison.simulated),
        )
    from benchd.report.page.compare_page import comparison_page, comparison_plots

    page, plots = "", comparison_plots(samples)
    _refuse_other_plots(arguments, plots)
    with Drawing(plots, png=bool(arguments.plots)) as drawing:
        comparison, panel = _compared(arguments, samples, references)
        if arguments.output:
            page = comparison_page(comparison, samples, references, panel, plots, drawing)
        if arguments.format == "json":
            print_json(comparison_json(comparison, references, panel))
        if arguments.plots:
            write_plots(list(drawing), Path(arguments.plots))
    if page:
        write_text(page, arguments.output, "Page")
    return Exit.COMPLETE


def _point_of(typed: str) -> dict[str, str]:
    """The settings that ``--at`` names. Raises `InputError` for other words."""
    if typed and not settings_in(typed):
        raise InputError(f"--at {typed}: write control=value, such as brightness=100, with blanks between several")
    return settings_in(typed)


def _refuse_unswept(at: Mapping[str, str], swept: Iterable[str]) -> None:
    """A control that no log sweeps would be ignored in silence."""
    if unknown := sorted(at.keys() - set(swept)):
        raise InputError(f"--at: none of these logs sweeps {', '.join(unknown)}; leave it away")


def _compared(
    arguments: Namespace, samples: Sequence[Sample], references: Sequence[Sequence[LogReference]]
) -> tuple[Comparison, list[tuple[str, PanelQuestion]]]:
    """The comparison and the question of the panel; what can't be compared is said."""
    margins = margins_of(arguments.margin)
    comparison = compare(samples, margins, over=spread)
    _refuse_unknown(margins, comparison)
    if not comparison.rows:
        raise InputError(_nothing_in_common(samples))
    for note in _left_out(samples, references, comparison):
        say(printable(note))
    for doubt in dict.fromkeys(doubt for sample in samples for log in sample.logs for doubt in log.doubts):
        say(f"Note: in doubt: {printable(doubt.text)}")
    return comparison, _panel(samples) if arguments.same_panel else []


def _samples(
    logs: Sequence[str],
    models: Sequence[str],
    target: str | None,
    at: Mapping[str, str],
) -> tuple[list[Sample], list[list[LogReference]]]:
    """What is to be compared, models after single logs unless only models are given; labels all different."""
    named: list[tuple[str, list[str]]] = [("", [log]) for log in logs]
    for text in models:
        name, sign, listed = text.partition("=")
        several = [log_named(file) for file in listed.split(",") if file]
        if not (sign and name and several):
            raise InputError(f"--model {text}: write NAME=LOG,LOG, such as plover=1.log,2.log")
        named.append((name, several))
    if len(named) < 2:
        raise InputError("a comparison needs two logs, or two --model; see benchd compare --help")
    samples: list[Sample] = []
    references: list[list[LogReference]] = []
    each = [Path(file) for _, files in named for file in files]
    every = iter(results_of_each(each, target, partial(_at, point=at)))
    for name, files in named:
        found = list(islice(every, len(files)))
        digests = [reference.sha256 for _, reference, _ in found]
        if len(set(digests)) < len(digests):
            raise InputError(f"--model {name}: the same log is given twice; a log counts once")
        if twin := next((one for one in samples if set(one.digests) == set(digests)), None):
            raise InputError(
                f"{files[0]} is the same log as that of {twin.label}; a log differs from itself in nothing"
            )
        label = name or found[0][0].sample or Path(files[0]).stem
        samples.append(Sample(label, tuple(results for results, *_ in found), tuple(digests)))
        references.append([reference for _, reference, _ in found])
    return _labelled(samples, references), references


def _at(results: Results, point: Mapping[str, str]) -> Results:
    """The results, of a log that sweeps settings those of the ``point`` alone where one is given.

    With the intervals of what is compared, which they keep: here, where several logs are worked on at once.
    """
    shown = at_point(results, point) if point and results.sweep else results
    return _with_intervals(shown, headlines)


def _nothing_in_common(samples: Sequence[Sample]) -> str:
    """Why no figure is compared, and what to do about it."""
    logs = [log for sample in samples for log in sample.logs]
    sweeps = [log.sweep.rows for log in logs if log.sweep is not None]
    if not sweeps:
        return "these logs have no figure in common; measure both with the same plan"
    point: dict[str, str] = {}
    for rows in sweeps:
        point = settings_in(point_words(brightest(rows) or rows[0])) | point
    common = all(rows_at(rows, point) for rows in sweeps)
    such = " ".join(f"{control}={value}" for control, value in point.items())
    advice = f"compare with one point, such as --at '{such}'" if common else "measure both with the same plan"
    if len(sweeps) == len(logs):
        return f"these sweeps have no point in common; {advice}"
    points = listed_points([point_words(row) for row in sweeps[0]])
    return f"a log without a sweep has no figure in common with one that has its figures at {points}; {advice}"


def _left_out(
    samples: Sequence[Sample], references: Sequence[Sequence[LogReference]], comparison: Comparison
) -> Iterator[str]:
    """Logs that have no part in the comparison; points skipped, and blocks that can't be read here."""
    compared = {in_order(row.headline.name) for row in comparison.rows}
    for sample, files in zip(samples, references, strict=True):
        for log, reference in zip(sample.logs, files, strict=True):
            if compared.isdisjoint(in_order(one.name) for one in headlines(log)):
                swept = "it sweeps settings, so that its figures are those of points; see --at" if log.sweep else ""
                yield f"Note: {reference.file} has no part in this: {swept or 'it has none of the figures compared'}"
            if said := unread_text(((one.result, one.why) for one in log.absent), log.blocks):
                yield f"Note: {reference.file} lacks {said}"


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
        unit = match["unit"] or ""
        found[spelled_out(name.strip())] = Margin(float(match["size"]), unit == "%", unit)
    return found


def _refuse_unknown(margins: dict[str, Margin], comparison: Comparison) -> None:
    """A margin for a figure that no sample has would be ignored in silence; so would a misread per cent."""
    known = [row.headline for row in comparison.rows]
    names = {one.name for one in known} | {split_name(one.name)[0].partition(" (")[0] for one in known} | {"*"}
    for name, margin in margins.items():
        if name not in names:
            advice = plain_name(did_you_mean(name, sorted(names - {"*"})))
            raise InputError(f"--margin {plain_name(name)}: these logs have no such figure in common; {advice}")
        row = next((one for one in known if name in (one.name, split_name(one.name)[0])), None)
        if row and margin.unit not in ("", "%", row.unit, unit_text(row.unit)):
            own = unit_text(row.unit) or "none"
            raise InputError(f"--margin {name}: the figure's unit is {own}, not {margin.unit}")
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
            units = " and ".join(one.sample or "one not named" for one in (first, sample.logs[0]))
            question = replace(question, answer=f"From one unit of each, {units}: {question.answer}")
        found.append((sample.label, question))
    return found


def main_claims(arguments: Namespace) -> Exit:
    """Print every claim with its verdict."""
    sheet = sheet_of(arguments.sheet)
    logs = [results for results, *_ in results_of_each([Path(log) for log in arguments.logs], arguments.target)]
    shown = claims_shown(sheet, logs, arguments.at)
    simulated = any(log.simulated for log in logs)
    return print_as(
        arguments.format,
        lambda: claims_json(shown, simulated=simulated),
        lambda: _text([claims_section(shown)], simulated),
    )


def sheet_of(name: str) -> ClaimSheet:
    """The sheet of that name or path. Raises `InputError` with all errors in the file."""
    path = library.find("claims", name)
    if is_log(path):
        raise InputError(f"{name} is a log; the sheet of claims comes first: benchd claims SHEET LOG...")
    return library.load_claims(library.read_text(path), str(path))


def refuse_idle_at(arguments: Namespace) -> None:
    """Without claims a point would be ignored in silence. Raises `InputError`."""
    if arguments.at and not arguments.claims:
        raise InputError(
            "--at names the point of claims; add --claims SHEET, or leave --at away: the page has all points"
        )


def claims_shown(sheet: ClaimSheet, logs: Sequence[Results], typed: str) -> ClaimsShown:
    """The sheet checked against every log, for a report; ``typed``: the point of claims that name none, as of --at.

    Raises `InputError` for a point that no log has.
    """
    at = _point_of(typed)
    _refuse_unswept(at, (name.lower() for log in logs if log.sweep for name in log.sweep.controls))
    for log in logs:
        if log.sweep and at and not rows_at(log.sweep.rows, at):
            at_point(log, at)  # says which points there are
    measured = "; ".join(measured_under(log) for log in logs)
    return ClaimsShown(
        sheet.product, sheet.source, measured, checked_claims(sheet, logs, at), tuple(_notes(sheet, logs))
    )


def _notes(sheet: ClaimSheet, logs: Sequence[Results]) -> Iterator[str]:
    """Each sample whose model is not named by the sheet: its claims may be those of another product."""
    known = [_letters(sheet.sheet), _letters(sheet.product)]
    for sample in dict.fromkeys(log.sample for log in logs if log.sample):
        model = _letters(sample.partition("/")[0])
        if not any(model in name or name in model for name in known):
            yield (
                f"the sheet {sheet.sheet} is of {sheet.product}; the sample is {printable(sample)}: "
                "unless that is the same product, no verdict holds"
            )


def _letters(name: str) -> str:
    return "".join(sign for sign in name.casefold() if sign.isalnum())


def checked_claims(
    sheet: ClaimSheet, logs: Sequence[Results], at: Mapping[str, str] | None = None
) -> tuple[ClaimOutcome, ...]:
    """Every claim of the sheet against every log; ``at``: the point of claims that name none."""
    claims = []
    for line in sheet.claims:
        terms = line.terms
        low, high, allowance = terms.low, terms.high, None
        if terms.typical:
            allowance = line.allowance_percent or sheet.typical_allowance_percent
            # Ten digits, so that 1000 less a tenth is 900 and is printed as the limit that it is.
            low = None if low is None else float(f"{low - abs(low) * allowance / 100.0:.10g}")
            high = None if high is None else float(f"{high + abs(high) * allowance / 100.0:.10g}")
        claims.append(
            Claim(
                *(terms.figure, low, high, terms.unit, line.claim, line.wording, line.conditions),
                typical=terms.typical,
                allowance_percent=allowance,
                own_unit=terms.own_unit,
                unit_size=terms.unit_size,
            )
        )
    return check_claims(claims, logs, at)


def measured_under(log: Results) -> str:
    """Sample, plan, note and settings of the display that a log was measured under."""
    words = [f"{log.sample or 'a sample'} with the plan {log.plan}", log.note]
    if log.sweep:
        words.append(f"a sweep over {', '.join(log.sweep.controls)}")
    words += [f"in doubt: {doubt.text}" for doubt in log.doubts]
    return ", ".join(filter(None, words))
