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
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal, NamedTuple

from benchd.errors import Fault, ProfileError
from benchd.library.figure_names import FigureNames

Sign = Literal["=", "!=", "<", "<=", ">", ">="]
SIGNS: tuple[Sign, ...] = ("=", "!=", "<", "<=", ">", ">=")

TEXT_FACTS = (
    *("sample", "model", "plan", "target", "note", "started", "meter", "screen", "log", "file", "imported"),
    *("technology", "correction"),
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
        if name.text not in FACTS:
            name = name._replace(text=self._figure(name))
        return self._comparison(name)

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
        if not _NUMBER.match(value.text):
            raise self._wrong(value.column, f"{name.text} is a figure; {value.text!r} is not a number")
        unit = self._take().text if self._next.kind == "word" else ""
        return Compare(name.text, asked, float(value.text), unit, name.column)

    def _fact(self, name: _Token, sign: Sign, value: _Token) -> Compare:
        if name.text in TRUTH_FACTS and (sign not in ("=", "!=") or value.text not in ("yes", "no")):
            raise self._wrong(value.column, f"write {name.text} = yes or {name.text} = no")
        if sign not in ("=", "!=") and name.text != "started":
            raise self._wrong(value.column, f"{name.text} is a text; compare it with = or !=")
        return Compare(name.text, sign, value.text, "", name.column)
