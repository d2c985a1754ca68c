"""What a screen is held against: a target, or a colour space. Both have white, primaries and a curve."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema
from pydantic_core import PydanticCustomError

from benchd.profile.reading.base import ProfileModel, Wrong, numbers_of, wrong
from benchd.profile.reading.explain import show
from benchd.profile.reading.values import Name


def _chromaticity(value: Any) -> tuple[float, float]:
    found = numbers_of(value, 2)
    if found is None:
        raise wrong(f"chromaticity {show(value)}: write CIE 1931 [x, y], such as [0.3127, 0.3290]")
    x, y = found
    if not (0.0 <= x < 1.0 and 0.0 < y < 1.0 and x + y <= 1.0):
        raise wrong(f"chromaticity [{x:g}, {y:g}]: x and y are 0 to 1 (y above 0), and x + y is at most 1")
    return (x, y)


Chromaticity = Annotated[
    tuple[float, float],
    BeforeValidator(_chromaticity),
    WithJsonSchema(
        {"type": "array", "items": {"type": "number", "minimum": 0, "maximum": 1}, "minItems": 2, "maxItems": 2}
    ),
]


class Primaries(ProfileModel):
    """The three primaries, CIE 1931 [x, y]."""

    red: Chromaticity = Field(description="CIE 1931 [x, y]")
    green: Chromaticity = Field(description="CIE 1931 [x, y]")
    blue: Chromaticity = Field(description="CIE 1931 [x, y]")


MIN_AREA = 1e-3
"""Of a triangle of primaries in CIE 1931 x, y; that of sRGB is 0.112."""


def primaries_wrong(data: Mapping[str, Any]) -> Iterable[Wrong]:
    """Primaries that make no colour space, or that stand in each other's place; from the plain data of a file."""
    primaries, white = data.get("primaries"), _point(data.get("white"))
    if not isinstance(primaries, dict):
        return
    red, green, blue = (_point(primaries.get(name)) for name in ("red", "green", "blue"))
    if red is None or green is None or blue is None:
        return
    if abs(_turn(red, green, blue)) < 2.0 * MIN_AREA:
        yield Wrong(("primaries",), "the three primaries lie on one line or close to it; look them up again")
    elif _turn(red, green, blue) < 0.0:
        yield Wrong(("primaries",), "red, green and blue run clockwise in x, y, as no display's do; two are swapped")
    elif white and min(_turn(red, green, white), _turn(green, blue, white), _turn(blue, red, white)) <= 0.0:
        yield Wrong(("white",), "white lies outside the triangle of the primaries, which can't make it; look both up")


def _point(value: Any) -> tuple[float, float] | None:
    """x and y, where they are such: what is not is reported by itself."""
    try:
        return _chromaticity(value)
    except PydanticCustomError:
        return None


def _turn(start: tuple[float, float], end: tuple[float, float], point: tuple[float, float]) -> float:
    """Twice the area of the triangle; above zero when its corners run anticlockwise."""
    return (end[0] - start[0]) * (point[1] - start[1]) - (end[1] - start[1]) * (point[0] - start[0])


class Curve(ProfileModel):
    """The tone curve."""

    kind: Literal["srgb", "power", "bt1886", "gsdf"] = Field(description="which curve")
    exponent: float | None = Field(default=None, gt=0, le=10, description="exponent of a power curve")

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """An exponent without a power curve, or a power curve without an exponent."""
        kind = data.get("kind")
        if kind == "power" and "exponent" not in data:
            yield Wrong((), "a power curve needs its exponent, such as {kind: power, exponent: 2.2}")
        if kind in ("srgb", "bt1886", "gsdf") and "exponent" in data:
            yield Wrong(("exponent",), f"the curve {kind} has no exponent to choose; remove the key", at_key=True)


class Target(ProfileModel):
    """What a screen is held against."""

    target: Name = Field(description="name of the target, as the file's")
    about: str = Field(default="", description="one line of description")
    source: str = Field(min_length=1, description="the publication that the figures are from")
    white: Chromaticity = Field(description="white, CIE 1931 [x, y]")
    primaries: Primaries = Field(description="red, green and blue, CIE 1931 [x, y]")
    curve: Curve = Field(description="the tone curve")
    luminance_cd_m2: float | None = Field(
        default=None, gt=0, le=100_000, description="cd/m2 of white for the absolute colour difference; left out: none"
    )

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """Primaries that make no colour space."""
        return primaries_wrong(data)

    def normalised(self) -> dict[str, Any]:
        """As a log keeps it and analysis reads it: plain values, every field there."""
        said = {"name": self.target, "about": self.about}
        return {**said, **_figures(self), "luminance_cd_m2": self.luminance_cd_m2}


class Space(ProfileModel):
    """A colour space: one file in ``profiles/spaces/``."""

    space: Name = Field(description="name of the space, as the file's")
    label: str = Field(min_length=1, max_length=40, description="what tables call it")
    source: str = Field(min_length=1, description="the publication that the figures are from")
    white: Chromaticity = Field(description="white, CIE 1931 [x, y]")
    primaries: Primaries = Field(description="red, green and blue, CIE 1931 [x, y]")
    curve: Curve = Field(description="the curve that codes are made with")

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """A curve for greys only, or primaries that make no colour space."""
        yield from primaries_wrong(data)
        curve = data.get("curve")
        if isinstance(curve, dict) and curve.get("kind") == "gsdf":
            yield Wrong(("curve", "kind"), "gsdf is a curve for greys; a colour space needs srgb, power or bt1886")

    def normalised(self) -> dict[str, Any]:
        """As a log keeps it and analysis reads it, in the shape of a target."""
        return {"name": self.space, "about": self.label, **_figures(self), "luminance_cd_m2": None}


def _figures(of: Target | Space) -> dict[str, Any]:
    return of.model_dump(mode="json", include={"white", "primaries", "curve"}, exclude_none=True)
