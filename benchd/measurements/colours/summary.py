"""Averages of colour differences over a list of colours, with the words without which they mean nothing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from benchd.analysis.colour.target import Target
from benchd.analysis.log.patch_values import PatchValues
from benchd.analysis.results import WhiteName
from benchd.analysis.uncertainty.averages import averages
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.measurements.colours.results import Accuracy, Aim

FORMULAS = {
    "2000": "CIEDE2000 after ISO/CIE 11664-6, kL = kC = kH = 1",
    "76": "CIE 1976 (dE*ab) after CIE 15",
    "94": "CIE 1994 for graphic arts, kL 1, K1 0.045, K2 0.015, the target as reference (not symmetric)",
}
WORST = 3
"""How many of the worst colours are named."""
CAT_NAMES = {"bradford": "Bradford", "cat02": "CAT02"}


class Judged(NamedTuple):
    """Differences of all colours in one order, under one aim, convention and formula."""

    name: str
    aim: Aim
    convention: WhiteName
    formula: str
    figures: Sequence[Quantity]


def summary(
    case: Judged,
    names: Sequence[str],
    space: Target,
    white: PatchValues,
    level: float | None,
    adaptation: str,
    missing: str,
) -> Accuracy:
    """Mean, median, 95th percentile (linear between ranks), maximum, and the worst colours by name."""
    named = list(zip(names, case.figures, strict=True))
    lab_white, adapted = _words(case.convention, space, white, level, adaptation)
    return Accuracy(
        name=case.name,
        aim=case.aim,
        convention=case.convention,
        formula=FORMULAS[case.formula],
        white=lab_white,
        adaptation=adapted,
        **averages(named, missing, worst=WORST)._asdict(),
    )


def _words(
    convention: WhiteName, space: Target, white: PatchValues, level: float | None, adaptation: str
) -> tuple[str, str]:
    """Which white, and which adaptation."""
    point = f"x {space.white[0]:.4f} y {space.white[1]:.4f}"
    if convention == "white_luminance":
        at = f", {white.luminance.value:.4g} cd/m2" if white.luminance.plain else ""
        return (
            f"the space's white {point} at the luminance of the measured white{at}",
            "none: its white stays the white",
        )
    if convention == "white_measured":
        method = CAT_NAMES.get(adaptation, adaptation)
        return "the measured white", f"{method}, of the targets from the space's white to the measured one"
    where = f"{level:g} cd/m2" if level else "a luminance that the target does not name"
    return f"the space's white {point} at {where}; readings stay absolute", "none: its white stays the white"
