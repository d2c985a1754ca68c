"""The figures of a library as a list for a person: under their topics, a family in one line, paths only counted."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from benchd.analysis.catalogue import AT
from benchd.library.store import IndexedName
from benchd.measurements.declared_figure import DeclaredFigure, declared_figures, plain_name
from benchd.report.words import columns, count, grouped, printable

OTHER = "other"
MOST_POINTS, MOST_BLOCKS = 4, 6
"""Points of sweeps, and blocks, that are named."""
IN_SWEEPS = "points of sweeps"


class _Line(NamedTuple):
    """A figure, or a family of them with its ``members``; ``samples``: the most logs that one of them has."""

    name: str
    unit: str
    samples: int
    short: str = ""
    members: tuple[str, ...] = ()


def topics(names: Sequence[IndexedName]) -> dict[str, str]:
    """Name of a headline figure -> its topic, in the order of a summary."""
    return {name: one.topic if one else OTHER for name, one in _declared(names).items()}


def figure_lines(names: Sequence[IndexedName], width: int) -> list[str]:
    """The list, in lines of at most ``width`` where names allow it."""
    lines: list[str] = []
    for topic, several in _by_topic(names).items():
        lines.append(topic)
        rows = [(f"  {one.name}", "" if one.unit == "1" else one.unit, f"{one.samples}", one.short) for one in several]
        for one, text in zip(several, columns([*rows, ("", "", "logs", "")], left=(0, 1, 3)), strict=False):
            lines.append(text)
            lines += _wrapped("; ".join(one.members), width, "      ")
    return [*lines, *_points(names, width), *_paths(names, width)]


def _declared(names: Sequence[IndexedName]) -> dict[str, DeclaredFigure | None]:
    """Headline figures outside points of sweeps, in the order in which measurements declare them."""
    known = list(declared_figures())
    plain = [one.name for one in names if one.headline and AT not in one.name]
    found = {name: next((one for one in known if one.has(name)), None) for name in plain}
    order = {id(one): place for place, one in enumerate(known)}
    return dict(sorted(found.items(), key=lambda item: order.get(id(item[1]), len(order))))


def _by_topic(names: Sequence[IndexedName]) -> dict[str, list[_Line]]:
    """Lines by topic. In one line are the members of a family, and a figure of several blocks."""
    indexed = {one.name: one for one in names}
    declared = _declared(names)
    keys = {name: (one.topic, one.name) if one else (OTHER, name) for name, one in declared.items()}
    together = grouped((key, indexed[name]) for name, key in keys.items())
    found: dict[str, list[_Line]] = {}
    for (topic, name), several in together.items():
        first, most = several[0], max(one.samples for one in several)
        family = declared[first.name]
        if family and "{}" in name:
            members = [f"{family.member_of(one.name)}{f' ({one.short})' if one.short else ''}" for one in several]
        else:
            members = [one.name.removeprefix(name).strip() for one in several if one.name != name]
        short = "" if family and "{}" in name else first.short
        line = _Line(plain_name(name).replace("{}", "…"), first.unit, most, short)
        found.setdefault(topic, []).append(line._replace(members=tuple(members)))
    return found


def _points(names: Sequence[IndexedName], width: int) -> Iterator[str]:
    at = Counter(one.name.partition(AT)[2] for one in names if one.headline and AT in one.name)
    if not at:
        return
    such = next(one.name for one in names if one.headline and AT in one.name)
    listed = "; ".join([*list(at)[:MOST_POINTS], *(["…"] if len(at) > MOST_POINTS else [])])
    text = f"At {count(len(at), 'point')} of sweeps ({listed}) each has its own figures, such as '{plain_name(such)}'."
    yield from ("", *_wrapped(text, width))


def _paths(names: Sequence[IndexedName], width: int) -> Iterator[str]:
    paths = [one.name for one in names if not one.headline]
    if not paths:
        return
    blocks = Counter(IN_SWEEPS if "=" in (block := path.partition("/")[0]) else block for path in paths)
    most = [f"{block} {number}" for block, number in blocks.most_common(MOST_BLOCKS)]
    listed = ", ".join([*most, *(["…"] if len(blocks) > MOST_BLOCKS else [])])
    text = (
        f"By path, such as {paths[0]}: {len(paths)} more ({listed}). Those of one log: benchd library show LOG "
        "--details. Every name: --format json."
    )
    yield from ("", *_wrapped(text, width))


def _wrapped(text: str, width: int, indent: str = "") -> list[str]:
    return textwrap.wrap(
        printable(text), width, initial_indent=indent, subsequent_indent=indent, break_on_hyphens=False
    )
