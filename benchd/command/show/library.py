"""``benchd library``: everything that was measured, listed, ranked, filtered and published."""

from __future__ import annotations

import shlex
import sys
from argparse import Namespace
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

from benchd.analysis.catalogue import AT
from benchd.command.messages import draw, say
from benchd.command.output import not_a_log, print_as, print_json
from benchd.errors import InputError, LogRefused, did_you_mean
from benchd.exits import Exit
from benchd.library.conditions import judge, parse
from benchd.library.figure_names import FigureNames
from benchd.library.library_text import (
    REPEATABILITY_ONLY,
    ListColumn,
    conditions_lines,
    figure_text,
    heading,
    notice,
    ranking_lines,
    sample_lines,
    spectral_remark,
)
from benchd.library.ranking import by_conditions, newest, rank
from benchd.library.scan import open_library, refresh, remove_index
from benchd.library.store import Store, StoredSample
from benchd.report.words import SIMULATED, columns, count, printable

MAX_NAMED = 5  # damaged logs that are named unasked
MAIN_FIGURES = ("white luminance", "black luminance", "contrast", "gamma")


def main(arguments: Namespace) -> Exit:
    """Do the action; exit code 1 when nothing fulfils a condition or a requested log is damaged."""
    folder, index = Path(arguments.library), Path(arguments.index) if arguments.index else None
    if arguments.action == "rebuild":
        remove_index(folder, index)
    with closing(open_library(folder, index)) as store:
        if arguments.action == "add":
            return _add(store, folder, arguments)
        _refresh(store, folder, arguments.library)
        return _ACTIONS[arguments.action](store, arguments)


def _refresh(store: Store, folder: Path, library: str) -> None:
    """Bring the index up to date, with a line of progress."""
    terminal = sys.stderr.isatty()

    def progress(done: int, of: int, path: str) -> None:
        if terminal:
            draw(f"reading logs: {done + 1} of {of}  {printable(path)}")
        elif not done and of > 1:
            say(f"Reading {of} logs that are new, changed or were read by another version.")

    found = refresh(store, folder, progress)
    if terminal and found.read:
        say(f"Read {count(found.read, 'log')}.")
    for file in found.damaged[:MAX_NAMED]:
        say(printable(f"damaged: {file.path}: {file.fault}"))
    if more := len(found.damaged[MAX_NAMED:]):
        say(f"damaged: {more} more; `benchd library list{_where(library)}` names them all")


def _rebuild(store: Store, arguments: Namespace) -> Exit:
    files, samples = store.files(), store.samples()
    damaged = [file for file in files.values() if file.fault]
    print(f"{store.path}: {count(len(samples), 'log')} with results, {len(damaged)} damaged, {len(files)} files")
    return Exit.COMPLETE


def _add(store: Store, folder: Path, arguments: Namespace) -> Exit:
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
    _refresh(store, folder, arguments.library)
    return Exit.NO if faults else Exit.COMPLETE


def _known_names(store: Store, library: str) -> FigureNames:
    """The names of its figures; ``library`` as it was typed, for the commands that are printed."""
    return replace(store.known_names(), where=_where(library))


def _where(library: str) -> str:
    return "" if library == "logs" else f" --library {shlex.quote(library)}"


def _chosen(store: Store, condition: str, library: str, *, latest: bool, surely: bool = False) -> list[StoredSample]:
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
    said = [f"not read: {sample.path}: {sample.facts.unread}" for sample in samples if sample.facts.unread]
    said += [f"damaged: {one['file']}: {one['why']}" for one in damaged]
    said += [f"copy: {copy} is the same log as {first} and counts once" for copy, first in _copies(store)]
    words = "".join(printable(one) + "\n" for one in said)
    return print_as(
        arguments.format,
        lambda: {"samples": [_sample_json(store, sample) for sample in samples], "damaged": damaged},
        lambda: _samples_text(store, samples, MAIN_FIGURES) + words,
    )


def _copies(store: Store) -> Iterator[tuple[str, str]]:
    """Files that are copies of another one, and of which."""
    first: dict[str, str] = {}
    for file in store.files().values():
        if not file.fault and first.setdefault(file.sha256, file.path) != file.path:
            yield file.path, first[file.sha256]


def _figures(store: Store, arguments: Namespace) -> Exit:
    keys = ("figure", "unit", "logs", "short")
    rows = [(one.name, one.unit, one.samples, one.short) for one in store.names() if one.samples]
    return print_as(
        arguments.format,
        lambda: [dict(zip(keys, row, strict=True)) for row in rows],
        lambda: "\n".join(columns([keys, *(tuple(map(str, row)) for row in rows)], left=(0, 1, 3))) + "\n",
    )


def _samples_text(store: Store, samples: list[StoredSample], figures: tuple[str, ...]) -> str:
    if not samples:
        return "no log\n"
    shown = [_column(store, name) for name in figures]
    lines = [*sample_lines(samples, shown), *conditions_lines(samples, shown)]
    return "\n".join(map(printable, lines)) + f"\n\n{count(len(samples), 'log')}{_simulated_words(samples)}\n"


def _column(store: Store, name: str) -> ListColumn:
    unit, figures = store.figure(name)
    return ListColumn(name, unit, store.about(name)[0], figures)


def _simulated_words(samples: list[StoredSample]) -> str:
    simulated = sum(sample.facts.simulated for sample in samples)
    return f", {simulated} of them {SIMULATED}" if simulated else ""


def _show(store: Store, arguments: Namespace) -> Exit:
    found = _named(store, arguments.sample, arguments.library)
    return print_as(
        arguments.format,
        lambda: [_sample_json(store, sample, every=True) for sample in found],
        lambda: "\n".join(_show_text(store, sample, arguments.all) for sample in found),
    )


def _named(store: Store, name: str, library: str) -> list[StoredSample]:
    samples = store.samples()
    ways: tuple[Callable[[StoredSample], bool], ...] = (
        lambda sample: sample.facts.sample == name,
        lambda sample: Path(name).as_posix().endswith(sample.path),
        lambda sample: len(name) >= 6 and sample.facts.sha256.startswith(name.lower()),
        lambda sample: sample.facts.model == name,
    )
    for way in ways:
        if found := [sample for sample in samples if way(sample)]:
            return found
    every = f"`benchd library list{_where(library)}` names them all"
    advice = did_you_mean(name, {sample.facts.sample for sample in samples}, every)
    raise InputError(f"the library has no sample {name!r}; {advice}")


def _show_text(store: Store, sample: StoredSample, every: bool) -> str:
    facts = sample.facts
    lines = [f"{facts.sample}  {notice(sample)}".rstrip(), f"  log      {sample.path}  sha256 {facts.sha256[:16]}"]
    lines += [f"  copies   {sample.copies} more of the same log"] if sample.copies else []
    lines.append(f"  run      {facts.started}, plan {facts.plan}, target {facts.target or 'none'}")
    steps = f"{facts.steps_done} of {facts.steps_planned} steps, {facts.readings} readings, faults {facts.faults}"
    lines.append(f"  done     {steps}")
    meter = f"readings imported from {facts.imported}, not taken by benchd" if facts.imported else facts.meter
    lines.append(f"  meter    {meter or 'not known'}; screen {facts.screen or 'not known'}")
    lines += [f"  note     {facts.note}"] if facts.note else []
    lines += [f"  not read {facts.unread}"] if facts.unread else []
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
        rows.append((f"  {title}", text, SIMULATED if facts.simulated else "", settings, named.figure.why))
        if named.figure.conditions:
            under.setdefault(named.figure.conditions, []).append(title)
    if rows:
        lines += ["", *columns(rows, left=(0, 2, 3, 4))]
    lines += [f"  {', '.join(names)}: holds for {conditions}" for conditions, names in under.items()]
    if points:
        lines.append(
            f"  a sweep of {count(len(points), 'point')}: every one of them with `benchd results {sample.path}`"
        )
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
                | _facts_json(line.sample)
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
        print("\n" * (number > 0) + "\n".join(ranking_lines(column, ranked, limit)))
        if len(ranked) > limit:
            print(f"{len(ranked) - limit} more: --limit {len(ranked)}")
        if under:
            print(f"holds for: {printable(under)}")
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
        if remark:
            print(remark)
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
    target = not_a_log(arguments.output)
    rows = (write_parquet if arguments.format == "parquet" else write_csv)(store, samples, target)
    print(f"{target}: {count(rows, 'row')} of {count(len(samples), 'log')}{_simulated_words(samples)}")
    return Exit.COMPLETE


def _site(store: Store, arguments: Namespace) -> Exit:
    from benchd.library.publish import publish

    samples = _chosen(store, arguments.where, arguments.library, latest=arguments.latest)
    folder = Path(arguments.library).resolve()
    target = Path(arguments.output)
    target = target if target.is_dir() else not_a_log(arguments.output)
    page = publish(store, samples, target, arguments.title or folder.name, force=arguments.yes)
    print(f"{page}: {count(len(samples), 'log')}{_simulated_words(samples)}")
    return Exit.COMPLETE


def _facts_json(sample: StoredSample) -> dict[str, Any]:
    facts = sample.facts
    return {
        **facts._asdict(),
        "notice": SIMULATED if facts.simulated else "",
        "model": facts.model,
        "file": sample.path,
    }


def _figure_json(unit: str, figure: Any, sample: StoredSample) -> dict[str, Any]:
    return {**figure._asdict(), "unit": unit, "simulated": sample.facts.simulated}


def _sample_json(store: Store, sample: StoredSample, every: bool = False) -> dict[str, Any]:
    named = store.figures_of(sample.id)
    figures = {one.name: _figure_json(one.unit, one.figure, sample) for one in named if every or one.headline}
    return {**_facts_json(sample), "figures": figures}


_ACTIONS: dict[str, Callable[[Store, Namespace], Exit]] = {
    "list": _list,
    "show": _show,
    "rank": _rank,
    "query": _query,
    "export": _export,
    "site": _site,
    "rebuild": _rebuild,
}
