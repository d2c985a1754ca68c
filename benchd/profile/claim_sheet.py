"""A claim sheet: what a maker states of a display, claim by claim, each with the maker's wording and conditions."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, WithJsonSchema

from benchd.measurements.declared_figure import DeclaredFigure, declared_figures, figure_called, unit_size
from benchd.profile.reading.base import ProfileModel, wrong
from benchd.profile.reading.explain import show
from benchd.profile.reading.values import Name

_TOKEN = re.compile(r"(?<![\w.,:=])(?:[0-9]{1,3}(?: [0-9]{3})+|[0-9])[0-9.,'\u2019_]*(?:[eE][+-]?[0-9]+)?(?![\w])")
"""A number as it stands; one within a name such as tcs12, or a setting such as brightness=50, is none."""
_SMALL = re.compile(
    r"gamma|delta E|[dΔ]E(?:00|₀₀| ITP)|Duv|white [xyuv]\b|non-uniformity|coverage|share|error", re.IGNORECASE
)
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


def _both(token: str) -> str:
    *groups, rest = _SIGNS.split(token)
    return f"write {' '.join(groups)}.{rest}: blanks or nothing between thousands, a point before decimals"


_RULES: tuple[tuple[re.Pattern[str], Callable[[str], str]], ...] = (
    (re.compile(r"[0-9]{1,3}(?:\.[0-9]{3}){2,}|[0-9]{1,3}(?:,[0-9]{3}){2,}"), _thousands),
    (re.compile("[0-9]{1,3}(?:['\u2019_][0-9]{3})+"), _thousands),
    (_ONE_POINT, _either),
    (re.compile(r"[1-9][0-9]{0,2},[0-9]{3}"), _either),
    (re.compile(r"[0-9]{1,3}(?:\.[0-9]{3})+,[0-9]+|[0-9]{1,3}(?:[,'\u2019_][0-9]{3})+\.[0-9]+"), _both),
    (re.compile(r"[0-9]+,[0-9]+"), lambda token: f"the decimal sign is a point: write {token.replace(',', '.')}"),
    (re.compile(r"[0-9.,]+[eE].*"), lambda token: "write it in plain digits, such as 1 000 000"),
)


_UNIT = r"(?:cd/m2|cd/m²|:\s?1|%|(?!typ)[^\W\d_]\S*)"
_CLAIM = re.compile(
    r"(?P<figure>[^\W\d_].*?)\s*(?P<sign>>=|<=|≥|≤|>|<|=)?\s*"
    r"(?P<number>(?<![\w.:])[-\u2212]?(?:[0-9]{1,3}(?: [0-9]{3})+|[0-9]+)(?:\.[0-9]+)?)\s*"
    rf"(?P<unit1>{_UNIT})?\s*(?:(?:±|\+-|\+/-)\s*(?P<tolerance>[0-9]+(?:\.[0-9]+)?)\s*(?P<unit2>{_UNIT})?\s*)?"
    r"(?P<typical>typical|typ\.?)?\Z"
)
_POINT = re.compile(r"[^\s=]+=[^\s=][^=]*(?: [^\s=]+=[^\s=][^=]*)*")
_NEVER_NEGATIVE = frozenset({"cd/m2", "1", "K", "xy", "u'v'", "dE00", "gamma"})
_EXAMPLES = "such as 'white luminance >= 350 cd/m2', 'contrast 1000:1 typical' or 'white CCT 6500 K ± 300 K'"


@dataclass(frozen=True, slots=True)
class Terms:
    """A claim taken apart: limits in ``unit``, None where there is none. A typical value is its own limit.

    ``own_unit``  the unit that the maker wrote where it is another size, such as fL; ``unit_size``: in ``unit``
    """

    figure: str
    low: float | None
    high: float | None
    unit: str
    typical: bool
    own_unit: str = ""
    unit_size: float = 1.0


def terms_of(text: str) -> Terms:
    """The terms of a claim. Raises ValueError with a sentence for the operator."""
    plain = " ".join(text.split())
    if fault := number_fault(plain):
        raise ValueError(f"claim {show(text)}: {fault}")
    match = _CLAIM.match(plain)
    if match is None:
        raise ValueError(f"claim {show(text)}: write a figure, a sign or 'typical', and a number, {_EXAMPLES}")
    figure, declared = _figure(match["figure"])
    unit, better = declared.quantity_unit, declared.better
    sign, factors, own = match["sign"], [], ("", 1.0)
    relative = match["unit2"] == "%" and unit != "%"  # a tolerance in % of the number
    unit1, unit2 = match["unit1"] or "", "" if relative else match["unit2"] or ""
    for written in (unit1 or unit2, unit2 or unit1):
        factor = unit_size(written, unit)
        if factor is None:
            wanted = {"1": "no unit, or :1 for a ratio"}.get(unit, unit)
            raise ValueError(f"claim {show(text)}: unit {show(written)} does not fit {figure}, which has {wanted}")
        factors.append(factor)
        own = own if factor == 1.0 else (written, factor)
    number = _tidy(float(match["number"].replace(" ", "").replace("\u2212", "-")) * factors[0])
    if number < 0 and declared.unit in _NEVER_NEGATIVE:
        raise ValueError(f"claim {show(text)}: {figure} is never below zero; write a limit of zero or more")
    typical = bool(match["typical"])
    if match["tolerance"] is not None:
        if sign not in (None, "=") or typical:
            raise ValueError(f"claim {show(text)}: a tolerance is complete; remove '{sign or match['typical']}'")
        width = float(match["tolerance"]) * (abs(number) / 100.0 if relative else factors[1])
        return Terms(figure, _tidy(number - width), _tidy(number + width), unit, typical, *own)
    if typical and sign not in (None, "="):
        raise ValueError(f"claim {show(text)}: either '{sign}' or 'typical'")
    at_least, at_most = sign in (">=", "≥", ">"), sign in ("<=", "≤", "<")
    if typical or at_least or at_most:
        low = number if at_least or (typical and better != "less") else None
        high = number if at_most or (typical and better != "more") else None
        return Terms(figure, low, high, unit, typical, *own)
    raise ValueError(
        f"claim {show(text)}: state how the number is meant: >= (at least), <= (at most), ± (within), or 'typical'"
    )


def _tidy(limit: float) -> float:
    """Ten significant digits: no limit has more, and none is 2.3000000000000003."""
    return float(f"{limit:.10g}")


def _figure(written: str) -> tuple[str, DeclaredFigure]:
    """Name as the report has it, with its point of a sweep, and what is declared of it."""
    written, at, point = written.strip().partition(" at ")
    if at:  # a point of a sweep: "white luminance at brightness=100"
        name, declared = _figure(written)
        if not _POINT.fullmatch(point):
            raise ValueError(f"{show(point)} is no point of a sweep; write control=value, such as at brightness=100")
        return f"{name} at {point}", declared
    return figure_called(written, claimable())


def claimable() -> Iterator[DeclaredFigure]:
    """The figures that a claim may be of."""
    return (one for one in declared_figures() if one.claimable and one.headline)


def _claim(value: Any) -> Any:
    if isinstance(value, str):
        try:
            terms_of(value)
        except ValueError as error:
            raise wrong(str(error)) from None
    return value


class ClaimLine(ProfileModel):
    """One claim."""

    claim: Annotated[str, BeforeValidator(_claim), WithJsonSchema({"type": "string"})] = Field(
        description="figure, sign and number: 'white luminance >= 350 cd/m2', 'contrast 1000:1 typical'"
    )
    wording: str = Field(min_length=1, description="the maker's own words, to the letter")
    conditions: str = Field(
        default="", description="the conditions that the maker states: preset, brightness, patch; left out: none stated"
    )
    allowance_percent: float | None = Field(
        default=None,
        gt=0,
        le=50,
        description="of a typical value: how much one unit may miss it by; left out: the sheet's",
    )

    @property
    def terms(self) -> Terms:
        """The claim taken apart."""
        return terms_of(self.claim)


class ClaimSheet(ProfileModel):
    """What a maker states of one display."""

    sheet: Name = Field(description="name of the sheet, as the file's")
    product: str = Field(min_length=1, description="whose claims these are")
    source: str = Field(min_length=1, description="where the maker states it, and when it was read")
    about: str = Field(default="", description="one line of description")
    typical_allowance_percent: float = Field(
        default=10.0, gt=0, le=50, description="how much one unit may miss a typical value by (10: common practice)"
    )
    claims: list[ClaimLine] = Field(min_length=1, max_length=200, description="the claims, in the order of the sheet")
