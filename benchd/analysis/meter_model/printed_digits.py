"""The meter's resolution as its own answers show it, where it is not stated.

The numbers in an answer are known by their value: they are the light that the reading was taken for. In one range,
a power of ten of the quantity's size, the step is the coarsest power of ten that fits all answers, where at least
twenty differ; where fewer do, that of all answers of the log; and where these are too few, or show no more, it is a
guess: the last digit that was printed.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

DIFFERING = 20
MAX_LOOKED_AT = 2000
"""Answers of one range; more would show nothing new."""
FOUND, GUESS = "found from the answers", "a guess: the last printed digit"
GUESSED = ", a guess"
"""Ends the name of a group of roundings to such a step."""
ZERO = -99
"""The range of answers that are zero."""
FOOT_LAMBERT_CD_M2 = 3.4262590996353905
FORMS: tuple[tuple[str, ...], ...] = (("X", "Y", "Z"), ("Y", "x", "y"), ("Y", "u", "v"))
SAME = 1e-9
LOWEST_EXPONENT = -30

_NUMBER = re.compile(r"[-+]?(\d+)(?:\.(\d*))?(?:[eE]([-+]?\d{1,3}))?|[-+]?\.(\d+)(?:[eE]([-+]?\d{1,3}))?")


class Row(NamedTuple):
    """Up to this size of a quantity (its absolute value) its step is so much; ``how`` that is known."""

    up_to: float
    step: float
    how: str


class Printed(NamedTuple):
    """A number as it was printed: its value, the power of ten of its last digit, and of its last digit but zeros."""

    value: float
    last: int
    last_but_zeros: int
    text: str


class _Range:
    """Answers of one quantity in one range."""

    __slots__ = ("differing", "fits", "looked", "printed")

    def __init__(self) -> None:
        self.printed, self.fits, self.looked = 99, 99, 0
        self.differing: set[str] = set()

    def take(self, one: Printed) -> None:
        self.looked += 1
        self.printed = min(self.printed, one.last)
        if one.value:
            self.fits = min(self.fits, one.last_but_zeros)
        if len(self.differing) < DIFFERING:
            self.differing.add(one.text)


class Answers:
    """Collects from readings, as they are passed by; only so many that more would show nothing new."""

    __slots__ = ("_forms", "_ranges", "form", "unit_cd_m2")

    def __init__(self, head: Mapping[str, Any]) -> None:
        sent = (head.get("resolution") or {}).get("sent")
        if isinstance(sent, Mapping):
            form = tuple(str(one) for one in sent["quantities"])
            self._forms = [(form, float(unit)) for unit in sent["units_cd_m2"]]
        else:  # a log of before: what a meter may send
            self._forms = [(form, unit) for form in FORMS for unit in (1.0, FOOT_LAMBERT_CD_M2)]
        self.form, self.unit_cd_m2 = self._forms[0]
        self._ranges: tuple[dict[int, _Range], ...] = ({}, {}, {})

    def see(self, xyz: Sequence[float], raw: str) -> None:
        """One reading: its light as the meter read it, and its answer."""
        light = self._ranges[self.form.index("Y")].get(_decade(xyz[1] / self.unit_cd_m2))
        if light is not None and light.looked >= MAX_LOOKED_AT:
            return
        for form, unit in self._forms:
            printed = _matching(form, unit, xyz, raw)
            if printed is not None:
                # The first answer shows which form and unit it is, where that was open.
                self.form, self.unit_cd_m2, self._forms = form, unit, [(form, unit)]
                break
        else:
            return
        for quantity, one, ranges in zip(self.form, printed, self._ranges, strict=True):
            if one is not None:
                ranges.setdefault(_decade(one.value) if quantity in "XYZ" else 0, _Range()).take(one)

    def rows(self, index: int) -> tuple[Row, ...]:
        """Of one quantity of `form`, the smallest size first; light in cd/m2."""
        quantity, ranges = self.form[index], self._ranges[index]
        if not ranges:
            return ()
        unit = self.unit_cd_m2 if quantity in "XYZ" else 1.0
        fits = min(one.fits for one in ranges.values())
        several = len(set().union(*(one.differing for one in ranges.values()))) >= DIFFERING
        rows = []
        for key, one in sorted(ranges.items()):
            exponent, how = one.printed, GUESS
            if len(one.differing) >= DIFFERING:
                exponent, how = max(exponent, one.fits), FOUND
            elif several and exponent <= fits < 99:
                exponent, how = fits, FOUND
            up_to = math.inf if quantity not in "XYZ" else 10.0 ** (key + 1) * (1.0 - 1e-8)
            rows.append(Row(unit * up_to, unit * 10.0 ** max(exponent, LOWEST_EXPONENT), how))
        return tuple(rows)


def _decade(value: float) -> int:
    return math.floor(math.log10(abs(value)) + 1e-9) if value else ZERO


def _matching(form: tuple[str, ...], unit_cd_m2: float, xyz: Sequence[float], raw: str) -> list[Printed | None] | None:
    """For each quantity the number of ``raw`` that it was made from; None where the answer lacks one.

    Light that is zero has no chromaticity, so that nothing is looked for.
    """
    x, y, z = xyz
    total = x + y + z
    wanted: list[float | None]
    if form[0] == "X":
        wanted = [value / unit_cd_m2 if math.isfinite(value) else None for value in xyz]
    elif not total or not math.isfinite(total):
        wanted = [y / unit_cd_m2, None, None]
    elif form[1] == "x":
        wanted = [y / unit_cd_m2, x / total, y / total]
    else:
        below = x + 15.0 * y + 3.0 * z
        wanted = [y / unit_cd_m2, 4.0 * x / below, 9.0 * y / below] if below else [None, None, None]
    for text in (raw, raw.replace(",", ".")) if "," in raw else (raw,):
        numbers = sorted((printed(match) for match in _NUMBER.finditer(text)), key=lambda one: one.last)
        found = [next((one for one in numbers if _fits(one, value)), None) for value in wanted]
        if all(value is None or one is not None for value, one in zip(wanted, found, strict=True)):
            return found
    return None


def _fits(one: Printed, value: float | None) -> bool:
    return value is not None and abs(one.value - value) <= SAME * abs(value)


def printed(match: re.Match[str]) -> Printed:
    """A number of an answer."""
    whole, places, exponent, only_places, other_exponent = match.groups()
    digits = places if only_places is None else only_places
    last = int(exponent or other_exponent or 0) - len(digits or "")
    mantissa = (whole or "") + (digits or "")
    stripped = mantissa.rstrip("0")
    return Printed(float(match[0]), last, last + len(mantissa) - len(stripped) if stripped else last, match[0])
