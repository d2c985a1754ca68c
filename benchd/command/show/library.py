"""``benchd library``: everything that was measured, listed, ranked, filtered and published."""

from __future__ import annotations

import os
import sys
from argparse import Namespace
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

from benchd.analysis.catalogue import AT
from benchd.command.log_names import as_typed
from benchd.command.messages import say
from benchd.command.output import print_as, print_json, width
from benchd.command.own_output import Kind, refuse_other
from benchd.command.show.library_folders import bring_up_to_date, folders_of, naming
from benchd.errors import InputError, LogRefused, did_you_mean
from benchd.exits import Exit
from benchd.library.conditions import judge, parse
from benchd.library.figure_list import figure_lines, topics
from benchd.library.figure_names import FigureNames
from benchd.library.library_text import (
    ELLIPSIS,
    REPEATABILITY_ONLY,
    ListColumn,
    conditions_lines,
    figure_text,
    heading,
    notice,
    ranking_lines,
    sample_lines,
    spectral_remark,
    wrapped_lines,
)
from benchd.library.ranking import by_conditions, newest, rank
from benchd.library.scan import open_library, remove_index
from benchd.library.store import Store, StoredSample
from benchd.local_time import local_time
from benchd.report.words import SIMULATED, columns_within, count, printable

MAIN_FIGURES = ("white luminance", "contrast", "maximum peak luminance", "black luminance", "gamma")
"""The most important first: on a narrow terminal the last are left out."""


def main(arguments: Namespace) -> Exit:
    """Do the action; exit code 1 when nothing fulfils a condition or a requested log is damaged."""
    if arguments.action in _WRITES:
        refuse_other(_target(arguments), _WRITES[arguments.action](arguments), yes=arguments.yes)
    folder, others = folders_of(arguments)
    index = Path(arguments.index) if arguments.index else None
    if arguments.action == "rebuild":
        remove_index(folder, index)
    with closing(open_library(folder, index)) as store:
        if arguments.action == "add":
            return _add(store, folder, others, arguments)
        bring_up_to_date(store, folder, others, arguments.library)
        return _ACTIONS[arguments.action](store, arguments)


def _rebuild(store: Store, arguments: Namespace) -> Exit:
    files, samples = store.files(), store.samples()
    damaged = [file for file in files.values() if file.fault]
    print(f"{store.path}: {count(len(samples), 'log')} with results, {len(damaged)} damaged, {len(files)} files")
    return Exit.COMPLETE


def _add(store: Store, folder: Path, others: Sequence[Path], arguments: Namespace) -> Exit:
    from benchd.library.intake import take_in

    faults = 0
    for name in arguments.logs:
        try:
            kept, already = take_in(Path(name), folder)
        except LogRefused as refused:
            say(printable(str(refused)))
            faults += 1
            continue
        print(printable(f"{name}: {'is there already as' if already else 'copied to'} {kept}"))
    bring_up_to_date(store, folder, others, arguments.library)
    return Exit.NO if faults else Exit.COMPLETE


def _known_names(store: Store, library: str | None) -> FigureNames:
    """The names of its figures; ``library`` as it was typed, for the commands that are printed."""
    return replace(store.known_names(), where=naming(library))


def _chosen(
    store: Store, condition: str, library: str | None, *, latest: bool, surely: bool = False
) -> list[StoredSample]:
    """The samples that fulfil ``condition``; how many are inconclusive goes to stderr."""
    samples = store.samples()
    if condition:
        verdict = judge(parse(condition, _known_names(store, library)), store, surely=surely)
        verdicts = [verdict(sample) for sample in samples]
        if unknown := sum(1 for one in verdicts if one is None):
            say(f"{count(unknown, 'log')} left out: the figure is absent, or a bound that leaves it inconclusive.")
        samples = [sample for sample, one in zip(samples, verdicts, strict=True) if one]
    return newest(samples) if latest else samples


def _list(store: Store, arguments: Namespace) -> Exit:
    if arguments.figures:
        return _figures(store, arguments)
    samples = _chosen(store, arguments.where, arguments.library, latest=arguments.latest)
    damaged = [{"file": file.path, "why": file.fault} for file in store.files().values() if file.fault]
    said = [f"{_near(sample.path)} lacks {sample.facts.unread}" for sample in samples if sample.facts.unread]
    said += [f"damaged: {_near(one['file'])}: {one['why']}" for one in damaged]
    said += [f"copy: {_near(copy)} is the same log as {_near(first)} and counts once" for copy, first in _copies(store)]
    words = "".join(line + "\n" for one in said for line in wrapped_lines(one, width()))
    return print_as(
        arguments.format,
        lambda: {"samples": [_sample_json(store, sample) for sample in samples], "damaged": damaged},
        lambda: _samples_text(store, samples, MAIN_FIGURES) + words,
    )


def _near(path: str) -> str:
    """The path of a log as it is named from here, where it stands below the current folder."""
    return os.path.relpath(path) if Path(path).is_relative_to(Path.cwd()) else path


def _copies(store: Store) -> Iterator[tuple[str, str]]:
    """Files that are copies of another one, and of which."""
    first: dict[str, str] = {}
    for file in store.files().values():
        if not file.fault and first.setdefault(file.sha256, file.path) != file.path:
            yield file.path, first[file.sha256]


def _figures(store: Store, arguments: Namespace) -> Exit:
    names = [one for one in store.names() if one.samples]
    topic = topics(names)
    return print_as(
        arguments.format,
        lambda: [
            {"figure": one.name, "unit": one.unit, "logs": one.samples, "short": one.short}
            | {"topic": topic.get(one.name, ""), "headline": one.headline}
            for one in names
        ],
        lambda: "\n".join([*figure_lines(names, width()), "", _logs_words(store.samples())]) + "\n",
    )


def _samples_text(store: Store, samples: list[StoredSample], figures: tuple[str, ...]) -> str:
    if not samples:
        return "no log\n"
    every = [_column(store, name) for name in figures]
    own = {sample.id for sample in samples}
    shown = [one for one in every if not own.isdisjoint(one.figures)] or every[:1]  # none without a single value
    lines = [*sample_lines(samples, shown, width()), *conditions_lines(samples, shown, width())]
    return "\n".join(map(printable, lines)) + f"\n\n{_logs_words(samples)}\n"


def _column(store: Store, name: str) -> ListColumn:
    unit, figures = store.figure(name)
    return ListColumn(name, unit, store.about(name)[0], figures)


def _logs_words(samples: list[StoredSample]) -> str:
    return f"{count(len(samples), 'log')}{_simulated_words(samples)}"


def _simulated_words(samples: list[StoredSample]) -> str:
    simulated = sum(sample.facts.simulated for sample in samples)
    return f", {simulated} of them {SIMULATED}" if simulated else ""


def _show(store: Store, arguments: Namespace) -> Exit:
    found = _named(store, arguments.sample, arguments.library)
    return print_as(
        arguments.format,
        lambda: [_sample_json(store, sample, every=True) for sample in found],
        lambda: "\n".join(_show_text(store, sample, arguments.details) for sample in found),
    )


def _named(store: Store, name: str, library: str | None) -> list[StoredSample]:
    samples = store.samples()
    begin, elided, end = name.partition(ELLIPSIS)  # as a narrow list has it
    ways: tuple[Callable[[StoredSample], bool], ...] = (
        lambda sample: sample.facts.name == name,
        lambda sample: Path(name).absolute().as_posix().endswith(sample.path),
        lambda sample: bool(elided) and sample.facts.name.startswith(begin) and sample.facts.name.endswith(end),
        lambda sample: len(name) >= 6 and sample.facts.sha256.startswith(name.lower()),
        lambda sample: sample.facts.model == name,
    )
    for way in ways:
        if found := [sample for sample in samples if way(sample)]:
            return found
    every = f"`benchd library list{naming(library)}` names them all"
    advice = did_you_mean(name, {sample.facts.name for sample in samples}, every)
    raise InputError(f"the library has no sample {name!r}; {advice}")


def _show_text(store: Store, sample: StoredSample, every: bool) -> str:
    facts = sample.facts
    lines = [f"{facts.name}  {notice(sample)}".rstrip(), f"  log      {sample.path}  sha256 begins {facts.sha256[:16]}"]
    lines += [f"  copies   {sample.copies} more of the same log"] if sample.copies else []
    lines.append(f"  run      {local_time(facts.started)}, plan {facts.plan}, target {facts.target or 'none'}")
    steps = f"{facts.steps_done} of {facts.steps_planned} steps, {facts.readings} readings, faults {facts.faults}"
    lines.append(f"  done     {steps}")
    meter = f"readings imported from {facts.imported}, not taken by benchd" if facts.imported else facts.meter
    lines.append(f"  meter    {meter or 'not known'}; screen {facts.screen or 'not known'}")
    lines += [f"  note     {facts.note}"] if facts.note else []
    lines += [f"  lacks    {facts.unread}"] if facts.unread else []
    rows, points, under = [], set[str](), dict[str, list[str]]()
    for named in store.figures_of(sample.id):
        if named.headline == every:  # the headlines, or everything under its own path
            continue
        if AT in named.name and named.headline:
            points.add(named.figure.settings)
            continue
        text = figure_text(named.name, named.unit, named.kind, named.figure, with_unit=True)
        title = heading(named.name, "") if named.headline else named.name
        settings = f"at {named.figure.settings}" if named.figure.settings else ""
        rows.append((title, text, SIMULATED if facts.simulated else "", settings, named.figure.why))
        if named.figure.conditions:
            under.setdefault(named.figure.conditions, []).append(title)
    if rows:
        narrower = ((4, 12), (3, 12), (0, 24))  # the reason of an absent figure, the settings, the name
        lines += ["", *(f"  {line}" for line in columns_within(rows, width() - 2, narrower, left=(0, 2, 3, 4)))]
    for conditions, names in under.items():
        lines += wrapped_lines(f"{', '.join(names)}: holds for {conditions}", width(), "  ")
    if points:
        log = as_typed(store.folder / sample.path)
        lines.append(f"  a sweep of {count(len(points), 'point')}: every one of them with `benchd results {log}`")
    return "".join(f"{printable(line)}\n" for line in lines)


def _rank(store: Store, arguments: Namespace) -> Exit:
    known = _known_names(store, arguments.library)
    column = _column(store, known.meant(arguments.figure))
    if not column.figures:
        raise InputError(f"no sample has a figure {arguments.figure!r}; {known.advice(arguments.figure)}")
    name, unit = column.name, column.unit
    better = store.about(name)[1]
    highest = arguments.highest or (better != "less" and not arguments.lowest)
    samples = _chosen(store, arguments.where, arguments.library, latest=arguments.latest)
    parts = store.parts(name)
    ranks = {
        under: rank(several, column.figures, highest_first=highest, parts=parts)
        for under, several in by_conditions(samples, column.figures).items()
    }
    lines = [line for several in ranks.values() for line in several]
    spectral = {under: spectral_remark([column], [line.sample for line in ranked]) for under, ranked in ranks.items()}
    if arguments.format == "json":
        print_json(
            [
                {"rank": line.rank, "group": line.group, "figure": _figure_json(unit, line.figure, line.sample)}
                | {"spectral": spectral[under]}
                | _facts_json(store, line.sample)
                for under, ranked in ranks.items()
                for line in ranked[: arguments.limit or len(ranked)]
            ]
        )
        return Exit.COMPLETE if lines else Exit.NO
    if not lines:
        print("no log")
        return Exit.NO
    for number, (under, ranked) in enumerate(ranks.items()):
        limit = arguments.limit or len(ranked)
        print("\n" * (number > 0) + "\n".join(ranking_lines(column, ranked, limit, width())))
        if len(ranked) > limit:
            print(f"{len(ranked) - limit} more: --limit {len(ranked)}")
        for line in wrapped_lines(f"holds for: {under}" if under else "", width()):
            print(line)
    without = len(samples) - len(lines)
    unstated = sum(not line.sample.facts.stated for line in lines)
    first = "highest" if highest else "lowest"
    print(f"\n{count(len(lines), 'log')}, {first} first{_simulated_words([line.sample for line in lines])}")
    for remark in (
        f"{len(ranks)} ranks: figures that hold for different conditions are not ranked together"
        if len(ranks) > 1
        else "",
        f"{count(without, 'log')} without this figure" if without else "",
        f"{count(unstated, 'log')} with {REPEATABILITY_ONLY}: the meter's own errors are left out; groups are too fine"
        if unstated
        else "",
        *dict.fromkeys(spectral.values()),
        "±: expanded uncertainty at 95 %; = : not significantly different from the first of its group",
    ):
        for line in wrapped_lines(remark, width()):
            print(line)
    return Exit.COMPLETE


def _query(store: Store, arguments: Namespace) -> Exit:
    samples = _chosen(store, arguments.condition, arguments.library, latest=arguments.latest, surely=arguments.surely)
    if arguments.format == "json":
        print_json([_sample_json(store, sample) for sample in samples])
    else:
        known = _known_names(store, arguments.library)
        typed = tuple(filter(None, (word.strip() for word in arguments.show.split(","))))
        shown = tuple(map(known.meant, typed))
        for word, name in zip(typed, shown, strict=True):
            if name not in known.names:
                raise InputError(f"--show: no sample has a figure {word!r}; {known.advice(word)}")
        if not shown:
            from benchd.library.conditions import FACTS, names_in

            wanted = [name for name in names_in(parse(arguments.condition, known)) if name not in FACTS]
            shown = tuple(wanted) or MAIN_FIGURES
        sys.stdout.write(_samples_text(store, samples, shown))
    return Exit.COMPLETE if samples else Exit.NO


def _export(store: Store, arguments: Namespace) -> Exit:
    from benchd.library.export import write_csv, write_parquet

    samples = _chosen(store, arguments.where, arguments.library, latest=arguments.latest)
    target = _target(arguments)
    rows = (write_parquet if arguments.format == "parquet" else write_csv)(store, samples, target)
    print(f"{target}: {count(rows, 'row')} of {count(len(samples), 'log')}{_simulated_words(samples)}")
    return Exit.COMPLETE


def _site(store: Store, arguments: Namespace) -> Exit:
    from benchd.library.publish import publish

    samples = _chosen(store, arguments.where, arguments.library, latest=arguments.latest)
    title = arguments.title or (Path(arguments.library).resolve().name if arguments.library else "Displays measured")
    page = publish(store, samples, _target(arguments), title)
    print(f"{page}: {count(len(samples), 'log')}{_simulated_words(samples)}")
    return Exit.COMPLETE


def _target(arguments: Namespace) -> Path:
    """The file that is written; of a page in a folder its ``index.html``."""
    target = Path(arguments.output)
    return target / "index.html" if arguments.action == "site" and target.is_dir() else target


_WRITES: dict[str, Callable[[Namespace], Kind]] = {
    "export": lambda arguments: Kind.PARQUET if arguments.format == "parquet" else Kind.CSV,
    "site": lambda arguments: Kind.RANKS,
}
"""The actions that write a file, and which kind of file."""


def _facts_json(store: Store, sample: StoredSample) -> dict[str, Any]:
    facts = sample.facts
    return {
        **facts._asdict(),
        "sample": facts.name,
        "named": bool(facts.sample),
        "notice": SIMULATED if facts.simulated else "",
        "model": facts.model,
        "file": sample.path,
        "path": str(store.folder / sample.path),
    }


def _figure_json(unit: str, figure: Any, sample: StoredSample) -> dict[str, Any]:
    return {**figure._asdict(), "unit": unit, "simulated": sample.facts.simulated}


def _sample_json(store: Store, sample: StoredSample, every: bool = False) -> dict[str, Any]:
    named = store.figures_of(sample.id)
    figures = {one.name: _figure_json(one.unit, one.figure, sample) for one in named if every or one.headline}
    return {**_facts_json(store, sample), "figures": figures}


_ACTIONS: dict[str, Callable[[Store, Namespace], Exit]] = {
    "list": _list,
    "show": _show,
    "rank": _rank,
    "query": _query,
    "export": _export,
    "site": _site,
    "rebuild": _rebuild,
}
