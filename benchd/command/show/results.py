"""``benchd results``: a log becomes numbers."""

from __future__ import annotations

import sys
from argparse import Namespace
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from benchd.analysis.analyse import Block, BlockWork, InOrder, analysed
from benchd.analysis.colour.target import target_from
from benchd.analysis.log.history import Event, with_history
from benchd.analysis.log.log_data import LogData
from benchd.analysis.measurement import Result
from benchd.analysis.results import Absent, Results
from benchd.command.log_names import short_name, which_log
from benchd.command.messages import coloured, say
from benchd.command.output import print_as, print_json, width, write_text
from benchd.command.own_output import Kind, refuse_other
from benchd.errors import InputError
from benchd.exits import Exit
from benchd.parallel import spread
from benchd.report.data.log_reference import LogReference
from benchd.report.words import SIMULATED, printable
from benchd.run.log.journal import LogFile

if TYPE_CHECKING:
    from benchd.report.brief import Brief
    from benchd.report.data.document import Json


def main(arguments: Namespace) -> Exit:
    """Print the results in the requested format."""
    if arguments.log is None:
        raise InputError(which_log("results"))
    if arguments.block is not None and arguments.format == "colour-text":
        raise InputError("colour-text has every patch of the log; leave --block away")
    if arguments.block is not None and arguments.details:
        raise InputError("--block prints its block whole, and --details all of them; remove one of the two")
    refuse_other(arguments.output, _kind(arguments), yes=arguments.yes)
    if arguments.cross_check:
        return _print_cross_check(arguments)
    if arguments.format == "colour-text":
        write_text(_colour_text(Path(arguments.log)), arguments.output)
        return Exit.COMPLETE
    compensate = False if arguments.no_compensation else None
    if arguments.format == "text" and arguments.block is None and arguments.budget is None:
        return _print_text(arguments, compensate)
    results, reference = results_of(Path(arguments.log), arguments.target, compensate=compensate)
    if arguments.budget is not None:
        return _print_budget(arguments, results, reference)
    if arguments.format == "parquet":
        _write_parquet(_document(arguments, results, reference), arguments.output)
    elif arguments.format == "csv":
        from benchd.report.data.csv_rows import csv_text

        write_text(csv_text(_document(arguments, results, reference)), arguments.output)
    elif arguments.format == "json":
        print_json(_document(arguments, results, reference), arguments.output)
    else:
        from benchd.report.terminal.results_text import render_block

        colour = _in_colour(arguments)
        write_text(render_block(results, arguments.block, width=width(), colour=colour), arguments.output)
    return Exit.COMPLETE


def _kind(arguments: Namespace) -> Kind:
    """What is written to ``--output``."""
    if arguments.cross_check or arguments.budget is not None:
        name = "CROSS_CHECK" if arguments.cross_check else "BUDGET"
        return Kind[f"{name}_JSON" if arguments.format == "json" else name]
    if arguments.format == "text":
        return Kind.BLOCK if arguments.block is not None else Kind.DETAILS if arguments.details else Kind.SUMMARY
    return _KINDS[arguments.format]


_KINDS = {
    "json": Kind.RESULTS_JSON,
    "csv": Kind.CSV,
    "parquet": Kind.PARQUET,
    "colour-text": Kind.COLOUR_TEXT,
}


SHARED_BYTES = range(50_000, 1_000_000)
"""Of a log whose blocks are worked on at once: the work on less is too little, and results of more are too much to send
from process to process."""


def _print_text(arguments: Namespace, compensate: bool | None) -> Exit:
    """One screen, or all that is asked for; what is said of a block is made where the block is analysed."""
    log, colour = Path(arguments.log), _in_colour(arguments)
    said: dict[str, Any] = {}
    say_of: Callable[[Any], Any]
    if arguments.details:  # imported before processes split
        from benchd.report.terminal.results_text import block_text, render_text

        say_of = partial(block_text, width=width(), colour=colour)
    else:
        from benchd.report.summary import own_brief as say_of

    def over(work: BlockWork, blocks: Sequence[Block]) -> list[Result | Absent]:
        def both(block: Block) -> tuple[Result | Absent, Any]:
            found = work(block)
            return found, None if isinstance(found, Absent) else say_of(found)

        pairs = spread(both, blocks[::-1])[::-1]  # most plans begin with what takes little
        said.update((found.block, text) for found, text in pairs if not isinstance(found, Absent))
        return [found for found, _ in pairs]

    shared = log.is_file() and log.stat().st_size in SHARED_BYTES
    results, reference = results_of(log, arguments.target, compensate=compensate, over=over if shared else map)
    if arguments.details:
        text = render_text(results, log=reference, width=width(), colour=colour, known=said)
    else:
        text = summary_text(results, reference, colour=colour, known=said)
    write_text(text, arguments.output)
    return Exit.COMPLETE


def _in_colour(arguments: Namespace) -> bool:
    return coloured(sys.stdout) and arguments.output == "-"


def summary_text(
    results: Results,
    reference: LogReference,
    *,
    colour: bool,
    check: bool = False,
    known: Mapping[str, Brief] = MappingProxyType({}),
) -> str:
    """What a log comes to, on one screen; of a quick ``check`` in six lines. ``known``: as of `summary_of`."""
    from benchd.report.summary import summary_of
    from benchd.report.terminal.summary_text import render_summary

    named = reference if check else reference._replace(file=str(short_name(Path(reference.file))))
    return render_summary(summary_of(results, known), named, colour=colour, check=check)


def _document(arguments: Namespace, results: Results, reference: LogReference) -> Json:
    """All of it, or what is of one block."""
    document = document_of(results, reference)
    if arguments.block is None:
        return document
    from benchd.report.data.document import of_block
    from benchd.report.terminal.results_text import refuse_no_block

    refuse_no_block(results, arguments.block)
    return of_block(document, arguments.block)


def _write_parquet(document: Json, output: str) -> None:
    from benchd.report.data import parquet

    if output == "-":
        raise InputError("--format parquet needs --output FILE")
    rows = parquet.write(document, Path(output))
    print(f"{output}: {rows} rows{f', {SIMULATED}' if document['simulated'] else ''}")


def _print_budget(arguments: Namespace, results: Results, reference: LogReference) -> Exit:
    from benchd.report.terminal.budget_text import budget_json, budget_text, figures_of

    if arguments.format not in ("text", "json"):
        raise InputError(f"--budget is printed with --format text or json, not {arguments.format}")
    several = figures_of(results, reference, arguments.budget)
    return print_as(
        arguments.format,
        lambda: budget_json(results, reference, several),
        lambda: budget_text(results, several, min(width(), 160)),
        arguments.output,
    )


def _print_cross_check(arguments: Namespace) -> Exit:
    from benchd.analysis.verdicts.cross_check import cross_check
    from benchd.measurements.registry import cross_check_of
    from benchd.report.data.document import every_figure
    from benchd.report.terminal.cross_check_text import cross_check_json, cross_check_text

    if arguments.format not in ("text", "json") or arguments.budget is not None:
        raise InputError("--cross-check is printed with --format text or json, and without --budget")
    compensate = False if arguments.no_compensation else None
    results, log, reference = analysed_log(Path(arguments.log), arguments.target, compensate=compensate)
    found = cross_check(results, log, every_figure(results, reference), cross_check_of)
    print_as(
        arguments.format,
        lambda: cross_check_json(found, results.simulated, reference),
        lambda: cross_check_text(found, results.simulated, reference, min(width(), 160)),
        arguments.output,
    )
    return Exit.COMPLETE if found.agrees else Exit.NO


def _colour_text(log: Path) -> str:
    from benchd.analysis.log.log_data import collect
    from benchd.profile.reading.colour_data_text import write_colour_text
    from benchd.report.data.colour_text_file import colour_table

    file = LogFile(log)
    log_data = collect(file.records())
    return write_colour_text(colour_table(log_data, file.sha256))


def results_of(
    log: Path, target_name: str | None = None, *, compensate: bool | None = None, over: InOrder = map
) -> tuple[Results, LogReference]:
    """The results of a log and the reference that names it by its digest; ``compensate`` None: as its plan states.

    ``over``: how the work on its blocks is done.
    """
    results, _, reference, note = _analysed(log, target_name, compensate=compensate, over=over)
    _said(note)
    return results, reference


def results_of_each(
    logs: Sequence[Path],
    target_name: str | None = None,
    then: Callable[[Results], Results] = lambda results: results,
) -> list[tuple[Results, LogReference, tuple[Event, ...]]]:
    """`results_of` several logs, what ``then`` makes of them, and what happened in each; in order, on all cores."""

    def work(log: Path) -> tuple[Results, LogReference, tuple[Event, ...], str]:
        events: list[Event] = []
        results, _, reference, note = _analysed(log, target_name, events=events)
        return then(results), reference, tuple(events), note

    found = spread(work, logs)
    for *_, note in found:
        _said(note)
    return [(results, reference, events) for results, reference, events, _ in found]


def analysed_log(
    log: Path, target_name: str | None = None, *, compensate: bool | None = None
) -> tuple[Results, LogData, LogReference]:
    """As `results_of`, with the readings that the figures were computed from."""
    results, readings, reference, note = _analysed(log, target_name, compensate=compensate)
    _said(note)
    return results, readings, reference


def _said(note: str) -> None:
    if note:
        say(note)


def _analysed(
    log: Path,
    target_name: str | None,
    *,
    compensate: bool | None = None,
    events: list[Event] | None = None,
    over: InOrder = map,
) -> tuple[Results, LogData, LogReference, str]:
    """With a note for the operator, or ""; what happened is added to ``events``."""
    target, note = None, ""
    if target_name:
        from benchd.profile import profile_store as library

        path = library.find("targets", target_name)
        target = target_from(library.load_target(library.read_text(path), str(path)).normalised())
    file = LogFile(log)
    records = file.records() if events is None else with_history(file.records(), events)
    results, readings = analysed(records, target, compensate=compensate, over=over)
    if target is not None and results.target is None:
        said = f"an HDR signal has a scale of its own, so --target {target_name} judges nothing here"
        note = f"{printable(str(log))}: {said}"
    return results, readings, LogReference(str(log), file.sha256), note


def document_of(results: Results, reference: LogReference) -> Json:
    """The results as data for JSON."""
    from benchd.report.data.document import to_json  # what prints text need not wait for it

    return to_json(results, reference)
