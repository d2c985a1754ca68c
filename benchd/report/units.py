"""The unit of a figure as it is printed behind it or in the head of a column, and signs of print for plain names."""

from __future__ import annotations

import re

from benchd.measurements.declared_figure import plain_name

UNITLESS = frozenset(
    {"", "ratio", "xy", "u'v'", "Duv", "dE00", "dE ITP", "gamma", "residual", "balance", "volume", "codes"}
)
"""Kinds of figure that carry no unit: their name says what they are."""

_SIGNS = (
    *(("dE00", "ΔE₀₀"), ("dE ITP", "ΔE ITP"), ("dE76", "ΔE₇₆"), ("dE94", "ΔE₉₄")),
    *(("u'v'", "u′v′"), ("u'", "u′"), ("v'", "v′"), ("cd/m2", "cd/m²")),
)


def unit_text(unit: str) -> str:
    """``cd/m2``, ``:1``, ``K``; "" for what has none."""
    if unit in UNITLESS:
        return ""
    return ":1" if unit == "1" else unit


def behind(unit: str) -> str:
    """The unit with the blank that parts it from its figure; ":1" has none."""
    text = unit_text(unit)
    return f" {text}" if text and text != ":1" else text


def printed(text: str) -> str:
    """A name, a head or a unit with the signs that print has and a terminal has not: ``ΔE₀₀``, ``u′v′``, ``cd/m²``."""
    text = plain_name(text)
    for plain, sign in _SIGNS:
        text = text.replace(plain, sign)
    return text


def sentence(text: str) -> str:
    """``text`` with a large first letter where it begins with a word, and not with a sign such as ``u'v'``."""
    return re.sub(r"^[a-z](?=[a-z]+\b)", lambda found: found[0].upper(), text)


def titled(text: str) -> str:
    """Both: ``Mean ΔE₀₀``, but ``u′v′ of any pair``."""
    return sentence(printed(text))
