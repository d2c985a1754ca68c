"""A colour space that a screen is held against: primaries, white and curve, each with where it is published."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from pydantic import Field

from benchd.profile.reading.base import ProfileModel, Wrong
from benchd.profile.reading.values import Name
from benchd.profile.target_file import Chromaticity, Curve, Primaries, primaries_wrong


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
        primaries = self.primaries
        curve: dict[str, Any] = {"kind": self.curve.kind}
        if self.curve.exponent is not None:
            curve["exponent"] = self.curve.exponent
        return {
            "name": self.space,
            "about": self.label,
            "white": list(self.white),
            "primaries": {name: list(getattr(primaries, name)) for name in ("red", "green", "blue")},
            "curve": curve,
            "luminance_cd_m2": None,
        }
