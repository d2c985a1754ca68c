"""Conditions on samples, as a reader writes them: ``contrast >= 1000 and sample = plover-27/*``.

::

    condition  = either, { "or", either }
    either     = one, { "and", one }
    one        = "not", one | "(", condition, ")" | NAME, SIGN, VALUE, [ UNIT ]
    SIGN       = "=" | "!=" | "<" | "<=" | ">" | ">="

NAME is a fact of the run (`FACTS`) or a figure: a name that `benchd.library.figure_names` takes, or a path. A fact is
compared as text, in which ``*`` stands for any signs; ``yes`` and ``no`` go with the facts that are true or false.
A figure is compared as a number. Words with blanks, brackets or signs in them go in double quotes. This is the whole
grammar; no text of it ever reaches the database.

Does a sample fulfil it? Yes, no, or inconclusive: of a bound one side is known, of an absent figure none. Three-valued
logic after Kleene. ``surely``: a figure fulfils a condition only when its whole 95 % interval does; then one without an
uncertainty is inconclusive.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cache
from itertools import takewhile
from typing import Literal, NamedTuple

from benchd.analysis.catalogue import AT
from benchd.clock import is_moment
from benchd.errors import Fault, ProfileError
from benchd.library.entry import Figure
from benchd.library.figure_names import FigureNames
from benchd.library.store import Store, StoredSample
from benchd.measurements.declared_figure import unit_size
from benchd.measuring_conditions import KINDS_OF_CONDITION

Sign = Literal["=", "!=", "<", "<=", ">", ">="]
SIGNS: tuple[Sign, ...] = ("=", "!=", "<", "<=", ">", ">=")

TEXT_FACTS = (
    *("sample", "model", "plan", "target", "note", "started", "meter", "screen", "log", "file", "imported"),
    *("technology", "correction"),
    *KINDS_OF_CONDITION,
)
TRUTH_FACTS = ("simulated", "complete", "stated")
FACTS = (*TEXT_FACTS, *TRUTH_FACTS)
"""The facts of a run besides its figures."""

DEEPEST = 50  # brackets and "not" within one another
WHERE = "condition"

_TOKEN = re.compile(r'\s*(?:(?P<quoted>"[^"]*")|(?P<sign><=|>=|!=|=|<|>)|(?P<bracket>[()])|(?P<word>[^\s()<>="!]+))')
_NUMBER = re.compile(r"[-+]?(\d+(\.\d*)?|\.\d+)([eE][-+]?\d+)?\Z")


class Compare(NamedTuple):
    """``name sign value``. ``value`` is a number for a figure, a text for a fact; ``column`` where it stands."""

    name: str
    sign: Sign
    value: float | str
    unit: str
    column: int


@dataclass(frozen=True, slots=True)
class Not:
    """The contrary."""

    part: Condition


@dataclass(frozen=True, slots=True)
class Both:
    """All of the parts."""

    parts: tuple[Condition, ...]


@dataclass(frozen=True, slots=True)
class Either:
    """At least one of the parts."""

    parts: tuple[Condition, ...]


Condition = Compare | Not | Both | Either


class _Token(NamedTuple):
    kind: str
    text: str
    column: int


def parse(text: str, figures: FigureNames) -> Condition:
    """The condition in ``text``; ``figures`` are those that the library has.

    Raises `ProfileError` with the column of the fault.
    """
    return _Parser(text, figures).whole()


def names_in(condition: Condition) -> tuple[str, ...]:
    """The figures and facts in a condition, each once, in order."""
    if isinstance(condition, Compare):
        return (condition.name,)
    parts = (condition.part,) if isinstance(condition, Not) else condition.parts
    return tuple(dict.fromkeys(name for part in parts for name in names_in(part)))


class _Parser:
    def __init__(self, text: str, figures: FigureNames) -> None:
        self._figures = figures
        self._text = text
        self._tokens = self._read(text)
        self._end = _Token("end", "", len(text) + 1)
        self._at = 0

    def _read(self, text: str) -> list[_Token]:
        tokens: list[_Token] = []
        place = 0
        while text[place:].strip():
            match = _TOKEN.match(text, place)
            if match is None:
                column = place + 1 + len(text[place:]) - len(text[place:].lstrip())
                sign = text[column - 1]
                raise self._wrong(column, 'a " without its second one' if sign == '"' else f"{sign!r} has no meaning")
            kind = match.lastgroup or ""
            found = match.group(kind)
            tokens.append(_Token("word" if kind == "quoted" else kind, found.strip('"'), match.start(kind) + 1))
            if kind == "word" and found in ("and", "or", "not"):
                tokens[-1] = tokens[-1]._replace(kind="joint")
            place = match.end()
        return tokens

    def _wrong(self, column: int, text: str) -> ProfileError:
        return ProfileError((Fault(WHERE, 1, column, text),))

    @property
    def _next(self) -> _Token:
        return self._tokens[self._at] if self._at < len(self._tokens) else self._end

    def _take(self) -> _Token:
        token = self._next
        self._at += 1
        return token

    def whole(self) -> Condition:
        if not self._tokens:
            raise self._wrong(1, "an empty condition; write one such as: contrast >= 1000")
        found = self._condition(0)
        if self._next.kind != "end":
            raise self._wrong(self._next.column, f"{self._next.text!r} stands where 'and' or 'or' must")
        return found

    def _condition(self, depth: int) -> Condition:
        parts = [self._all(depth)]
        while self._next == ("joint", "or", self._next.column):
            self._take()
            parts.append(self._all(depth))
        return parts[0] if len(parts) == 1 else Either(tuple(parts))

    def _all(self, depth: int) -> Condition:
        parts = [self._one(depth)]
        while self._next == ("joint", "and", self._next.column):
            self._take()
            parts.append(self._one(depth))
        return parts[0] if len(parts) == 1 else Both(tuple(parts))

    def _one(self, depth: int) -> Condition:
        token = self._take()
        if depth > DEEPEST:
            raise self._wrong(token.column, f"more than {DEEPEST} brackets or 'not' within one another")
        if token == ("joint", "not", token.column):
            return Not(self._one(depth + 1))
        if token.text == "(" and token.kind == "bracket":
            inner = self._condition(depth + 1)
            closing = self._take()
            if closing.kind != "bracket" or closing.text != ")":
                raise self._wrong(closing.column, "a ) is missing")
            return inner
        if token.kind != "word":
            raise self._wrong(token.column, "here belongs a figure or a fact of the run, such as contrast or sample")
        return self._compare(token)

    def _compare(self, name: _Token) -> Compare:
        if self._next.kind == "word":
            name = self._of_several_words(name)
        if name.text not in FACTS:
            name = name._replace(text=self._figure(name))
        return self._comparison(name)

    def _of_several_words(self, first: _Token) -> _Token:
        """The longest figure that the text from ``first`` up to a sign names, such as contrast at brightness=50.

        Where it names none, all of it, which is reported; after a fact ``first`` alone.
        """
        rest = takewhile(lambda at: self._tokens[at].kind in ("word", "sign"), range(self._at, len(self._tokens)))
        ends = [at for at in rest if self._tokens[at].kind == "sign"]
        for at in reversed(ends):
            typed = self._text[first.column - 1 : self._tokens[at].column - 1].strip()
            cut = AT in typed and "=" not in typed  # the first sign belongs to the point of the sweep
            if not cut and self._figures.meant(typed) in self._figures.names:
                self._at = at
                return first._replace(text=typed)
        if first.text in FACTS or not ends:
            return first
        self._at = ends[-1]
        return first._replace(text=self._text[first.column - 1 : self._tokens[ends[-1]].column - 1].strip())

    def _figure(self, name: _Token) -> str:
        """The figure of a name."""
        found = self._figures.meant(name.text)
        if found not in self._figures.names:
            advice = self._figures.advice(name.text, FACTS)
            raise self._wrong(name.column, f"no sample has a figure {name.text!r}; {advice}")
        return found

    def _comparison(self, name: _Token) -> Compare:
        sign = self._take()
        if sign.kind != "sign":
            raise self._wrong(sign.column, f"after {name.text} belongs one of {' '.join(SIGNS)}")
        value = self._take()
        if value.kind != "word":
            raise self._wrong(value.column, f"after {name.text} {sign.text} belongs a value")
        asked: Sign = next(one for one in SIGNS if one == sign.text)
        if name.text in FACTS:
            return self._fact(name, asked, value)
        number, ratio, rest = value.text.partition(":1")  # 1000:1
        if rest or not _NUMBER.match(number):
            raise self._wrong(value.column, f"{name.text} is a figure; {value.text!r} is not a number")
        unit = self._take().text if self._next.kind == "word" else ratio
        return Compare(name.text, asked, float(number), unit, name.column)

    def _fact(self, name: _Token, sign: Sign, value: _Token) -> Compare:
        if name.text in TRUTH_FACTS and (sign not in ("=", "!=") or value.text not in ("yes", "no")):
            raise self._wrong(value.column, f"write {name.text} = yes or {name.text} = no")
        if sign not in ("=", "!=") and name.text != "started":
            raise self._wrong(value.column, f"{name.text} is a text; compare it with = or !=")
        if sign not in ("=", "!=") and not is_moment(value.text):
            raise self._wrong(value.column, f"{value.text} is no date; write it such as 2026-03-01 or 2026-03")
        return Compare(name.text, sign, value.text, "", name.column)


Verdict = bool | None
"""True, False, or None: inconclusive."""


def judge(condition: Condition, store: Store, *, surely: bool = False) -> Callable[[StoredSample], Verdict]:
    """A function that judges whether a sample fulfils ``condition``.

    Raises `ProfileError` for a figure that is given in a unit that does not fit it.
    """
    columns = {name: store.figure(name) for name in names_in(condition) if name not in FACTS}
    condition = _in_own_units(condition, {name: unit for name, (unit, _) in columns.items()})
    figures = {name: column for name, (_, column) in columns.items()}
    return lambda sample: _verdict(condition, sample, figures, surely)


def _in_own_units(condition: Condition, units: Mapping[str, str]) -> Condition:
    """The condition with every value in the unit of its figure."""
    if isinstance(condition, Compare):
        own = units.get(condition.name, "")
        size = unit_size(condition.unit, own)
        if size is None:
            unit = "no unit" if own in ("", "1") else f"the unit {own}"
            text = f"{condition.name} has {unit}, not {condition.unit}"
            raise ProfileError((Fault(WHERE, 1, condition.column, text),))
        return condition if size == 1.0 else condition._replace(value=float(condition.value) * size, unit=own)
    if isinstance(condition, Not):
        return Not(_in_own_units(condition.part, units))
    return replace(condition, parts=tuple(_in_own_units(part, units) for part in condition.parts))


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
    decisive = not isinstance(condition, Both)  # one true part decides "or", one false part decides "and"
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
    if name in KINDS_OF_CONDITION:
        value = json.loads(sample.facts.conditions).get(name)
        return "not recorded" if value is None else str(value)
    value = sample.facts.name if name == "sample" else getattr(sample.facts, name)
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
