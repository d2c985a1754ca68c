"""Numbers that data sheets write in other ways: refused with the sentence that helps, never read as something else."""

from __future__ import annotations

import re
from collections.abc import Callable

_TOKEN = re.compile(r"(?<![\w.,:=])(?:[0-9]{1,3}(?: [0-9]{3})+|[0-9])[0-9.,'\u2019_]*(?:[eE][+-]?[0-9]+)?(?![\w])")
"""A number as it stands; one within a name such as chart24, or a setting such as brightness=50, is none."""
_SMALL = re.compile(r"gamma|delta E|Duv|white [xyuv]\b|non-uniformity|coverage|share|error", re.IGNORECASE)
"""Figures that are never a thousand: there 2.200 is what it looks like."""


def number_fault(claim: str) -> str:
    """What is wrong with a number of ``claim``, and how to write it; "" where all are plain decimals."""
    for match in _TOKEN.finditer(claim):
        token = match[0].rstrip(".,").replace(" ", "")
        for pattern, says in _RULES:
            if pattern.fullmatch(token) and not (pattern is _ONE_POINT and _SMALL.search(claim)):
                return f"number '{token}': {says(token)}"
    return ""


_ONE_POINT = re.compile(r"[1-9][0-9]{0,2}\.[0-9]{3}")
_SIGNS = re.compile("[.,'\u2019_]")


def _thousands(token: str) -> str:
    plain = _SIGNS.sub("", token)
    return f"write thousands with blanks or with nothing between them: {int(plain):,} or {plain}".replace(",", " ")


def _either(token: str) -> str:
    whole, rest = _SIGNS.split(token)
    decimals = rest.rstrip("0") or "0"
    decimal = f"{whole}.{decimals if decimals != rest else rest + '0'}"
    return f"it may be read as {whole}{rest} or as {decimal}; write {whole}{rest} or {whole} {rest}, or {decimal}"


def _point(token: str) -> str:
    return f"the decimal sign is a point: write {token.replace(',', '.')}"


def _both(token: str) -> str:
    *groups, rest = _SIGNS.split(token)
    return f"write {' '.join(groups)}.{rest}: blanks or nothing between thousands, a point before decimals"


def _power(token: str) -> str:
    return "write it in plain digits, such as 1 000 000"


_RULES: tuple[tuple[re.Pattern[str], Callable[[str], str]], ...] = (
    (re.compile(r"[0-9]{1,3}(?:\.[0-9]{3}){2,}|[0-9]{1,3}(?:,[0-9]{3}){2,}"), _thousands),
    (re.compile("[0-9]{1,3}(?:['\u2019_][0-9]{3})+"), _thousands),
    (_ONE_POINT, _either),
    (re.compile(r"[1-9][0-9]{0,2},[0-9]{3}"), _either),
    (re.compile(r"[0-9]{1,3}(?:\.[0-9]{3})+,[0-9]+|[0-9]{1,3}(?:[,'\u2019_][0-9]{3})+\.[0-9]+"), _both),
    (re.compile(r"[0-9]+,[0-9]+"), _point),
    (re.compile(r"[0-9.,]+[eE].*"), _power),
)
