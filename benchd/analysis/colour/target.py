"""The target that a screen is held against: white, primaries, tone curve and, where wanted, a luminance."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, cast

from benchd.errors import InputError
from benchd.measurements.former_names import space_now

XY = tuple[float, float]
CurveKind = Literal["srgb", "power", "bt1886", "gsdf"]

CURVES: tuple[CurveKind, ...] = ("srgb", "power", "bt1886", "gsdf")


@dataclass(frozen=True, slots=True)
class Target:
    """What the screen should do. Chromaticities are CIE 1931 x, y.

    ``luminance_cd_m2`` is the level of white for the ``absolute`` colour difference; None: no such level.
    """

    name: str
    white: XY
    red: XY
    green: XY
    blue: XY
    curve: CurveKind
    exponent: float | None = None  # of a power curve
    luminance_cd_m2: float | None = None
    about: str = ""

    @property
    def curve_text(self) -> str:
        """The curve in words, with its source."""
        return {
            "srgb": "sRGB curve after IEC 61966-2-1",
            "power": f"power curve, exponent {self.exponent}",
            "bt1886": "curve after ITU-R BT.1886, Annex 1",
            "gsdf": "grayscale standard display function after DICOM PS3.14",
        }[self.curve]


def target_from(fields: Mapping[str, Any]) -> Target:
    """The target from its normalised form in a log. Raises `InputError` naming the field that is wrong."""
    try:
        curve, primaries = fields["curve"], fields["primaries"]
        kind = curve["kind"]
        level = fields.get("luminance_cd_m2")
        name, about = space_now(str(fields["name"]), str(fields.get("about", "")))
        target = Target(
            name=name,
            white=_xy(fields["white"]),
            red=_xy(primaries["red"]),
            green=_xy(primaries["green"]),
            blue=_xy(primaries["blue"]),
            curve=cast(CurveKind, kind),
            exponent=float(curve["exponent"]) if kind == "power" else None,
            luminance_cd_m2=None if level is None else float(level),
            about=about,
        )
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise InputError(f"the target can't be used: {type(error).__name__} at {error}") from error
    if target.curve not in CURVES:
        raise InputError(f"target {target.name!r}: curve {target.curve!r} is not known; use {', '.join(CURVES)}")
    return target


def _xy(pair: Any) -> XY:
    x, y = (float(value) for value in pair)
    if not (0.0 <= x < 1.0 and 0.0 < y < 1.0):
        raise ValueError(f"chromaticity {x}, {y}")
    return (x, y)
