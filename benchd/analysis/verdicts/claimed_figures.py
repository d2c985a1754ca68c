"""Which figures of a log a maker's claim is held against; where there is none, the reason.

Of a log that sweeps the display's settings a claim is held against the figures of one point: the one that the claim
names ("white luminance at brightness=100"), that its conditions name, that the operator states for claims that name
none, or the only one that has them. Where several are left none is picked, since the maker's figure may be that of any:
the point is not named.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from benchd.analysis.catalogue import AT, headlines, point_words
from benchd.analysis.catalogue_figure import Figure
from benchd.analysis.measurement import result_part
from benchd.analysis.results import Results
from benchd.analysis.results_log import SweepRow
from benchd.analysis.sweep_points import brightest, is_at, listed_points, split_name
from benchd.analysis.unread_blocks import unread_text
from benchd.analysis.verdicts.claim_conditions import other_conditions, settings_named
from benchd.measurements.declared_figure import plain_name

NO_LOG = "no log has this figure"


class ClaimedFigures(NamedTuple):
    """The figures of one log; ``why`` there are none: "" where the log just has nothing to do with it.

    ``measured``: the log has the figure, at several points of a sweep of which none is named.
    """

    figures: tuple[Figure, ...]
    why: str = ""
    measured: bool = False


def claimed_figures(figure: str, conditions: str, log: Results, at: Mapping[str, str]) -> ClaimedFigures:
    """The figures of ``log`` that a claim of ``figure`` under ``conditions`` may be of.

    ``at``: the settings, control -> value, that hold where neither names them.
    """
    base, typed = split_name(figure)
    if log.sweep is not None:
        return _swept(base, typed, conditions, log, log.sweep.rows, at)
    found = headlines(log)
    names = claimed_names(base, (one.name for one in found))
    if not names:
        return ClaimedFigures((), _absent(base, log))
    if typed:
        why = f"has {names[0]}, but swept no settings: leave the words from 'at' away, and state them as conditions"
        return ClaimedFigures((), f"{_named(log)} {why}")
    return ClaimedFigures(tuple(one for name in names for one in found if one.name == name))


def _swept(
    base: str,
    typed: dict[str, str],
    conditions: str,
    log: Results,
    rows: tuple[SweepRow, ...],
    given: Mapping[str, str],
) -> ClaimedFigures:
    having = [row for row in rows if claimed_names(base, row.figures)]
    if not having:
        return ClaimedFigures((), _absent(base, log))
    controls = having[0].settings
    of_these = {name: value for name, value in given.items() if name in {control.lower() for control in controls}}
    wanted = of_these | settings_named(conditions, typed.keys() | controls.keys()) | typed
    at = [row for row in having if is_at(row.settings, wanted)]
    if not at:
        words = " ".join(f"{control}={value}" for control, value in wanted.items())
        points = listed_points([point_words(row) for row in having])
        return ClaimedFigures((), f"{_named(log)} has it at {points}, none of them at {words}")
    if len(at) > 1:
        row = brightest(at) or at[0]
        such = f"{claimed_names(base, row.figures)[0]}{AT}{point_words(row)}"
        others = other_conditions(conditions, log, next(iter(row.figures.values())))
        words = (
            f"{_named(log)} has it at {len(at)} points of a sweep over {', '.join(row.settings)}, and the claim names "
            f"no single one; name it with --at '{point_words(row)}', or in the claim: {plain_name(such)}"
        )
        return ClaimedFigures((), "; ".join(filter(None, (words, others))), measured=True)
    [row] = at
    names = claimed_names(base, row.figures)
    found = [one for one in headlines(log) if one.block.partition("/")[0] == row.point]
    figures = tuple(one for name in names for one in found if split_name(one.name)[0] == name)
    lacking = row.figures[names[0]].quantity.why
    return ClaimedFigures(figures, "" if figures else f"{_named(log)} at {point_words(row)}: {lacking}")


def claimed_names(base: str, names: Iterable[str]) -> list[str]:
    """Those of the ``names`` of a log's figures that a claim of the figure ``base`` may be of, without points."""
    written, found = base.lower(), list(names)
    if one := _COVERAGE.match(written):
        return [name for name in found if _covers(one, name.lower())]
    open_lists = written in ("colour delta e mean", "colour delta e maximum")
    several = [name for name in found if open_lists and name.lower().startswith(f"{written} of ")]
    return [*(name for name in found if name.lower() == written), *several]


_COVERAGE = re.compile(r"coverage of (?P<space>.+?)(?: in (?P<diagram>xy|u'v'))?\Z")


def _covers(claimed: re.Match[str], name: str) -> bool:
    """Is the figure ``name`` what is claimed? Makers say "sRGB" for "sRGB / BT.709" and leave the diagram open."""
    one = _COVERAGE.match(name)
    if one is None or claimed["diagram"] not in (None, one["diagram"]):
        return False
    space = one["space"]
    return claimed["space"] in (space, space.partition(" (")[0], *space.split(" / "))


def _absent(base: str, log: Results) -> str:
    """What the log says of blocks that lack the figure, or that can't be read here and may have it."""
    blocks = {name for name, one in log.blocks.items() if not _declares(one.kind, base)}
    lacking = unread_text(((one.result, one.why) for one in log.absent), blocks)
    return f"{_named(log)} lacks {lacking}" if lacking else ""


def _declares(kind: str, base: str) -> bool:
    return any(one.called(base) for one in result_part(kind).declared)


def _named(log: Results) -> str:
    return log.sample or f"the log of {log.plan}"
