"""A claim sheet: what a maker states of a display, claim by claim, each with the maker's wording and conditions."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema

from benchd import installed
from benchd.profile.claim_numbers import number_fault
from benchd.profile.reading.base import ProfileModel, wrong
from benchd.profile.reading.explain import show
from benchd.profile.reading.values import Name

Better = Literal["more", "less", "nearer"]

CLAIMABLE: dict[str, tuple[str, Better]] = {
    "white luminance": ("cd/m2", "more"),
    "black luminance": ("cd/m2", "less"),
    "contrast": ("1", "more"),
    "checkerboard contrast": ("1", "more"),
    "white x": ("1", "nearer"),
    "white y": ("1", "nearer"),
    "white u'": ("1", "nearer"),
    "white v'": ("1", "nearer"),
    "white CCT": ("K", "nearer"),
    "white Duv": ("1", "nearer"),
    "gamma": ("1", "nearer"),
    "grayscale delta E mean": ("1", "less"),
    "grayscale delta E maximum": ("1", "less"),
    "maximum peak luminance": ("cd/m2", "more"),
    "halo contrast": ("1", "more"),
    "HDR colour delta E ITP mean": ("1", "less"),
    "HDR colour delta E ITP maximum": ("1", "less"),
    "HDR knee": ("cd/m2", "more"),
    "HDR tone error mean": ("%", "less"),
    "HDR delta E ITP mean": ("1", "less"),
    "HDR delta E ITP maximum": ("1", "less"),
}
"""Figure -> its unit, and which way it is better. The names are those of the report."""

RENAMED = {"maximum peak luminance": "maximum peak luminance"}
"""Figures under a name of before."""

FAMILIES: dict[str, tuple[str, Better, str]] = {
    r"peak luminance of a [0-9.]+ % window": ("cd/m2", "more", "peak luminance of a 10 % window"),
    r"sustained luminance of a [0-9.]+ % window": ("cd/m2", "more", "sustained luminance of a 10 % window"),
    r"sustained luminance of a [0-9.]+ % window, share of its peak": (
        "%",
        "more",
        "sustained luminance of a 10 % window, share of its peak",
    ),
    r"HDR contrast of a ([0-9]+) x \1 board": ("1", "more", "HDR contrast of a 3 x 3 board"),
    r"colour delta E (mean|maximum)( of .+)?": ("1", "less", "colour delta E mean of chart24"),
    r"coverage of .+": ("%", "more", "coverage of Display P3"),
    r"non-uniformity of \S+": ("%", "less", "non-uniformity of white"),
    r"colour non-uniformity of \S+": ("1", "less", "colour non-uniformity of white"),
}
"""The same for names that have a part of their own, and an example."""

MEASUREMENTS = "benchd.measurements"
"""Entry points of measurements that packages add."""

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
    figure, unit, better = _figure(match["figure"], match["unit1"] or match["unit2"] or "")
    sign, factors = match["sign"], []
    for written in (match["unit1"] or match["unit2"] or "", match["unit2"] or match["unit1"] or ""):
        known, factor = UNITS.get(written.lower().replace(" ", ""), (written if written == unit else None, 1.0))
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


def _figure(written: str, unit_written: str) -> tuple[str, str, Better]:
    """Name as the report has it, unit, and which way is better.

    Where packages add measurements, their figures may have any name and unit: logs tell whether there is such a one.
    """
    written, at, point = written.strip().partition(" at ")
    if at:  # a point of a sweep: "white luminance at brightness=100"
        name, unit, better = _figure(written, unit_written)
        if not re.fullmatch(r"\S+=\S+( \S+=\S+)*", point):
            raise ValueError(f"{show(point)} is no point of a sweep; write control=value, such as at brightness=100")
        return f"{name} at {point}", unit, better
    plain = written.lower()
    for name, (unit, better) in CLAIMABLE.items():
        if name.lower() == plain:
            return name, unit, better
    for pattern, (unit, better, _) in FAMILIES.items():
        if re.fullmatch(pattern, written, re.IGNORECASE):
            return written, unit, better
    if plain in RENAMED:
        raise ValueError(f"{show(written)} is now called {RENAMED[plain]}")
    if installed.claims(MEASUREMENTS):
        unit, _ = UNITS.get(unit_written.lower().replace(" ", ""), (unit_written, 1.0))
        return written, unit or "1", "nearer"
    import difflib  # for a wrong name only

    known = [*CLAIMABLE, *(example for *_, example in FAMILIES.values())]
    close = difflib.get_close_matches(plain, [name.lower() for name in known], n=3, cutoff=0.5)
    advice = f"did you mean {' or '.join(close)}?" if close else f"known are: {', '.join(known)}"
    raise ValueError(f"there is no figure {show(written)}; {advice}")


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
