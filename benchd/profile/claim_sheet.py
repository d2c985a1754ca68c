"""A claim sheet: what a maker states of a display, claim by claim, each with the maker's wording and conditions."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, WithJsonSchema

from benchd.errors import did_you_mean
from benchd.measurements.declared_figure import Better, DeclaredFigure, declared_figures
from benchd.profile.reading.base import ProfileModel, wrong
from benchd.profile.reading.explain import show
from benchd.profile.reading.values import Name

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


RENAMED = {"greatest peak luminance": "maximum peak luminance"}
"""Figures under a name of before."""

CD_M2_PER_FL = 3.4262591
"""1 fL is 1 / pi cd/ft2; with a foot of 0.3048 m."""

_NIT, _FOOT_LAMBERT = ("cd/m2", 1.0), ("cd/m2", CD_M2_PER_FL)
UNITS: dict[str, tuple[str, float]] = {
    **dict.fromkeys(("cd/m2", "cd/m\u00b2", "cd/m^2", "nit", "nits"), _NIT),
    **dict.fromkeys(
        ("fl", "ftl", "ft-l", "foot-lambert", "foot-lamberts", "footlambert", "footlamberts"), _FOOT_LAMBERT
    ),
    **{unit: (unit, 1.0) for unit in ("%", "")},
    "k": ("K", 1.0),
    ":1": ("1", 1.0),
}
"""A unit as written, in small letters -> the figure's unit, and how many of that it is."""

_UNIT = r"(?:cd/m2|cd/m²|:\s?1|%|(?!typ)[^\W\d_]\S*)"
_CLAIM = re.compile(
    r"(?P<figure>\S.*?)\s*(?P<sign>>=|<=|≥|≤|>|<|=)?\s*"
    r"(?P<number>(?<![\w.:])(?:[0-9]{1,3}(?: [0-9]{3})+|[0-9]+)(?:\.[0-9]+)?)\s*"
    rf"(?P<unit1>{_UNIT})?\s*(?:(?:±|\+-|\+/-)\s*(?P<tolerance>[0-9]+(?:\.[0-9]+)?)\s*(?P<unit2>{_UNIT})?\s*)?"
    r"(?P<typical>typical|typ\.?)?\Z"
)
_EXAMPLES = "such as 'white luminance >= 350 cd/m2', 'contrast 1000:1 typical' or 'white CCT 6500 K ± 300 K'"


@dataclass(frozen=True, slots=True)
class Terms:
    """A claim taken apart: limits in ``unit``, None where there is none. A typical value is its own limit."""

    figure: str
    low: float | None
    high: float | None
    unit: str
    typical: bool


def terms_of(text: str) -> Terms:
    """The terms of a claim. Raises ValueError with a sentence for the operator."""
    plain = " ".join(text.split())
    if fault := number_fault(plain):
        raise ValueError(f"claim {show(text)}: {fault}")
    match = _CLAIM.match(plain)
    if match is None:
        raise ValueError(f"claim {show(text)}: write a figure, a sign or 'typical', and a number, {_EXAMPLES}")
    figure, unit, better = _figure(match["figure"])
    sign, factors = match["sign"], []
    for written in (match["unit1"] or match["unit2"] or "", match["unit2"] or match["unit1"] or ""):
        plain_unit = written.lower().replace(" ", "")
        known, factor = (unit, 1.0) if plain_unit == unit.lower() else UNITS.get(plain_unit, (None, 1.0))
        if known is None or (known or unit) != unit:
            wanted = {"1": "no unit, or :1 for a ratio"}.get(unit, unit)
            raise ValueError(f"claim {show(text)}: unit {show(written)} does not fit {figure}, which has {wanted}")
        factors.append(factor)
    number = _tidy(float(re.sub(r"[^0-9.]", "", match["number"])) * factors[0])
    if match["tolerance"] is not None:
        if sign not in (None, "=") or match["typical"]:
            raise ValueError(f"claim {show(text)}: a tolerance is complete; remove '{sign or match['typical']}'")
        width = float(match["tolerance"]) * factors[1]
        return Terms(figure, _tidy(number - width), _tidy(number + width), unit, typical=False)
    if match["typical"]:
        if sign not in (None, "="):
            raise ValueError(f"claim {show(text)}: either '{sign}' or 'typical'")
        low = number if better in ("more", "nearer") else None
        high = number if better in ("less", "nearer") else None
        return Terms(figure, low, high, unit, typical=True)
    if sign in (">=", "≥", ">"):
        return Terms(figure, number, None, unit, typical=False)
    if sign in ("<=", "≤", "<"):
        return Terms(figure, None, number, unit, typical=False)
    raise ValueError(
        f"claim {show(text)}: state how the number is meant: >= (at least), <= (at most), ± (within), or 'typical'"
    )


def _tidy(limit: float) -> float:
    """Ten significant digits: no limit has more, and none is 2.3000000000000003."""
    return float(f"{limit:.10g}")


def _figure(written: str) -> tuple[str, str, Better]:
    """Name as the report has it, unit, and which way is better."""
    written, at, point = written.strip().partition(" at ")
    if at:  # a point of a sweep: "white luminance at brightness=100"
        name, unit, better = _figure(written)
        if not re.fullmatch(r"\S+=\S+( \S+=\S+)*", point):
            raise ValueError(f"{show(point)} is no point of a sweep; write control=value, such as at brightness=100")
        return f"{name} at {point}", unit, better
    for one in claimable():
        if name := one.called(written):
            return name, one.quantity_unit, one.better
    if written.lower() in RENAMED:
        raise ValueError(f"{show(written)} is now called {RENAMED[written.lower()]}")
    known = ", ".join(one.example for one in claimable())
    names = (one.example.lower() for one in claimable())
    raise ValueError(
        f"there is no figure {show(written)}; {did_you_mean(written.lower(), names, f'known are: {known}')}"
    )


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
