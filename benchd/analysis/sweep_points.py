"""Points of a sweep as they are typed: "preset=standard brightness=100", in any order, without what is clear.

A figure of a sweep has its point after its name: "white luminance at preset=standard brightness=100".
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from benchd.analysis.catalogue import AT, POINT, point_words
from benchd.analysis.results import Results
from benchd.analysis.results_log import SweepRow
from benchd.errors import InputError
from benchd.measuring_conditions import condition_of_control

LISTED = 4
"""So many points are named in a message; of more only the first."""

_SETTING = re.compile(r"([^\s=]+)\s*=\s*([^=]+?)(?=\s+[^\s=]+\s*=|\s*\Z)")


def settings_in(point: str) -> dict[str, str]:
    """The settings in the words of a point: control -> value, both as text; none in other words."""
    return {control.lower(): value for control, value in _SETTING.findall(point)}


def split_name(name: str) -> tuple[str, dict[str, str]]:
    """The name of a figure without its point, and the settings of that: control -> value, both as text."""
    base, _, point = name.partition(AT)
    return base, settings_in(point)


def in_order(name: str) -> str:
    """The name of a figure with the controls of its point in the alphabet's order: plans may differ in theirs."""
    base, settings = split_name(name)
    point = " ".join(f"{control}={value}" for control, value in sorted(settings.items()))
    return f"{base}{AT}{point}" if point else name


def is_at(settings: Mapping[str, object], wanted: Mapping[str, str]) -> bool:
    """Is the point with ``settings`` a wanted one? Controls that ``wanted`` leaves out may have any value."""
    found = {control.lower(): str(value) for control, value in settings.items()}
    return all(control in found and same_setting(found[control], value) for control, value in wanted.items())


def same_setting(found: str, wanted: str) -> bool:
    """Equal as numbers, else as texts without regard to capitals."""
    try:
        return float(found) == float(wanted)
    except ValueError:
        return found.lower() == wanted.lower()


def brightest(rows: Iterable[SweepRow]) -> SweepRow | None:
    """The point with the highest white luminance, by which a sweep is summed up; None where that is not known."""
    white = [(one.value, row) for row in rows if (one := row.quantity("white luminance")) and one.plain and one.value]
    return max(white, key=lambda one: one[0], default=(0.0, None))[1]


def rows_at(rows: Sequence[SweepRow], point: Mapping[str, str]) -> list[SweepRow]:
    """Those at the ``point``; controls that they do not have say nothing of them. None where they have none of it."""
    known = {control: value for control, value in point.items() if any(control in row.settings for row in rows)}
    return [row for row in rows if known and is_at(row.settings, known)]


def at_point(results: Results, point: Mapping[str, str]) -> Results:
    """The results of the one point of a sweep that ``point`` names, as if its plan swept nothing.

    Raises `InputError` where no point has those settings, or several have them.
    """
    rows = results.sweep.rows if results.sweep else ()
    found = rows_at(rows, point)
    if len(found) != 1:
        words = " ".join(f"{control}={value}" for control, value in point.items())
        what = f"{len(found)} points have {words}" if found else f"no point has {words}"
        known = listed_points([point_words(row) for row in found or rows])
        raise InputError(f"{results.sample or results.plan}: {what}; there are {known}")
    [row] = found
    blocks = {name: one for name, one in results.blocks.items() if name.partition("/")[0] == row.point}
    settings = {**results.settings, POINT: point_words(row)}
    set_to = {condition_of_control(control): value for control, value in row.settings.items()}
    conditions = tuple(
        replace(one, value=set_to[one.key], others=()) if one.key in set_to else one for one in results.conditions
    )
    return replace(results, blocks=blocks, settings=settings, sweep=None, conditions=conditions)


def names_at(typed: str, names: Iterable[str]) -> list[str]:
    """Those of the ``names`` of figures that are of the figure ``typed``, at a point that its settings allow.

    ``typed`` without a point allows all of them.
    """
    base, wanted = split_name(typed)
    same = (name for name in names if AT in name and name.partition(AT)[0].lower() == base.lower())
    return [name for name in same if is_at(split_name(name)[1], wanted)]


def listed_points(points: Sequence[str]) -> str:
    """``2 points of a sweep (brightness=20; brightness=100)``."""
    several = "1 point" if len(points) == 1 else f"{len(points)} points"
    more = "; ..." if len(points) > LISTED else ""
    return f"{several} of a sweep ({'; '.join(points[:LISTED])}{more})"
