"""Does a sample fulfil a condition? Yes, no, or inconclusive: of a bound one side is known, of an absent figure none.

Three-valued logic after Kleene. ``surely``: a figure fulfils a condition only when its whole 95 % interval does; then
one without an uncertainty is inconclusive.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from functools import cache

from benchd.errors import InputError
from benchd.library.conditions import FACTS, TRUTH_FACTS, Compare, Condition, Not, Sign, names_in
from benchd.library.conditions import Both as All
from benchd.library.entry import Figure
from benchd.library.store import Store, StoredSample

Verdict = bool | None
"""True, False, or None: inconclusive."""


def judge(condition: Condition, store: Store, *, surely: bool = False) -> Callable[[StoredSample], Verdict]:
    """A function that judges whether a sample fulfils ``condition``.

    Raises `InputError` for a figure that is given in another unit than its own.
    """
    columns = {name: store.figure(name) for name in names_in(condition) if name not in FACTS}
    _check_units(condition, {name: unit for name, (unit, _) in columns.items()})
    figures = {name: column for name, (_, column) in columns.items()}
    return lambda sample: _verdict(condition, sample, figures, surely)


def _check_units(condition: Condition, units: Mapping[str, str]) -> None:
    if isinstance(condition, Compare):
        own = units.get(condition.name, "")
        if condition.unit and condition.unit != own:
            unit = "no unit" if own in ("", "1") else f"the unit {own}"
            raise InputError(f"condition, column {condition.column}: {condition.name} has {unit}, not {condition.unit}")
        return
    for part in (condition.part,) if isinstance(condition, Not) else condition.parts:
        _check_units(part, units)


def _verdict(
    condition: Condition, sample: StoredSample, figures: Mapping[str, Mapping[int, Figure]], surely: bool
) -> Verdict:
    if isinstance(condition, Compare):
        if condition.name in FACTS:
            return _fact(condition, sample)
        figure = figures[condition.name].get(sample.id)
        if surely and figure is not None and figure.bound is None and not sample.facts.stated:
            return None  # as for claims: without a stated meter the repeatability alone is no uncertainty
        return _figure(condition, figure, surely)
    if isinstance(condition, Not):
        inner = _verdict(condition.part, sample, figures, surely)
        return None if inner is None else not inner
    found = [_verdict(part, sample, figures, surely) for part in condition.parts]
    decisive = not isinstance(condition, All)  # one true part decides "or", one false part decides "and"
    return decisive if decisive in found else None if None in found else not decisive


def _fact(asked: Compare, sample: StoredSample) -> Verdict:
    value = fact(sample, asked.name)
    wanted = str(asked.value)
    if asked.name in TRUTH_FACTS:
        same = value == wanted
    elif asked.sign in ("=", "!="):
        same = _pattern(wanted).match(value) is not None
    else:  # a moment: ISO 8601 in UTC sorts as text
        return _holds((value > wanted) - (value < wanted), asked.sign)
    return same if asked.sign == "=" else not same


def fact(sample: StoredSample, name: str) -> str:
    """A fact of `FACTS` as text; ``yes`` or ``no`` for the true and false ones."""
    if name == "log":
        return sample.facts.sha256
    if name == "file":
        return sample.path
    value = getattr(sample.facts, name)
    return ("yes" if value else "no") if isinstance(value, bool) else str(value)


@cache
def _pattern(text: str) -> re.Pattern[str]:
    return re.compile(".*".join(re.escape(part) for part in text.split("*")) + r"\Z", re.IGNORECASE | re.DOTALL)


def _figure(asked: Compare, figure: Figure | None, surely: bool) -> Verdict:
    if figure is None or figure.value is None:
        return None
    low, high = interval(figure) if surely else _stated(figure)
    if low is None or high is None:
        return None
    wanted = float(asked.value)
    sides = {_holds((side > wanted) - (side < wanted), asked.sign) for side in (low, high)}
    if asked.sign in ("=", "!=") and low < wanted < high:
        return None
    return sides.pop() if len(sides) == 1 else None


def _holds(order: int, sign: Sign) -> bool:
    """``order``: -1, 0 or 1 as the value is less than, equal to or more than the condition."""
    if sign in ("=", "!="):
        return (order == 0) == (sign == "=")
    return (order == 0 and "=" in sign) or order == (1 if sign.startswith(">") else -1)


def _stated(figure: Figure) -> tuple[float, float]:
    assert figure.value is not None
    return (
        -math.inf if figure.bound == "below" else figure.value,
        math.inf if figure.bound == "above" else figure.value,
    )


def interval(figure: Figure) -> tuple[float | None, float | None]:
    """The ends between which the true value lies: the 95 % interval, or the open side of a bound; None unknown."""
    if figure.value is None:
        return None, None
    if figure.bound is not None:
        return _stated(figure)
    return figure.low, figure.high
