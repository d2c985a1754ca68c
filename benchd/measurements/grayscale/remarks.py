"""What stands out in a grayscale and must be read with its figures: fits that disagree, a white that is not the top."""

from __future__ import annotations

from collections.abc import Mapping

from benchd.analysis.uncertainty.quantity import Quantity, difference
from benchd.measurements.grayscale.results import GammaFit

DISAGREE = 0.05
"""Two gamma fits that differ by more, and by more than the uncertainty of their difference, are remarked on."""


def fits_disagree(fixed: GammaFit, free: GammaFit, of_target: tuple[float, float] | None) -> str:
    """A sentence where the two gamma fits disagree, else "". ``of_target``: both fits of the target's own curve.

    A power law gives one gamma by either rule; where they differ the curve is none, and neither number describes it.
    """
    if not (fixed.gamma.plain and free.gamma.plain):
        return ""
    apart = difference(fixed.gamma, free.gamma)
    if apart.value is None or abs(apart.value) <= DISAGREE or _within(apart):
        return ""
    words = (
        f"the two gamma fits disagree: {fixed.gamma.value:.2f} through white, {free.gamma.value:.2f} with a free "
        "slope; the curve is not one power law, and neither number describes it alone"
    )
    if of_target is None:
        return words
    return f"{words} (the target's own curve at these codes: {of_target[0]:.2f} and {of_target[1]:.2f})"


def white_is_darker(luminances: Mapping[int, Quantity], largest: int) -> str:
    """A sentence where a grey is brighter than white by more than the uncertainty of their difference, else "".

    ``luminances`` by code. Where no uncertainty is known, any excess counts, and the sentence says so.
    """
    white = luminances.get(largest)
    if white is None or not white.plain or white.value is None:
        return ""
    brighter = {
        code: difference(one, white) for code, one in luminances.items() if code != largest and one.plain and one.value
    }
    brighter = {code: apart for code, apart in brighter.items() if (apart.value or 0.0) > 0.0 and not _within(apart)}
    if not brighter:
        return ""
    code = max(brighter, key=lambda one: brighter[one].value or 0.0)
    grey, apart = luminances[code], brighter[code]
    unknown = "" if apart.interval else " (no uncertainty of the difference is known)"
    return (
        f"white, code {largest}, is darker than the grey of code {code}: {white.value:.4g} against {grey.value:.4g} "
        f"cd/m2{unknown}; gamma, target luminances and colour differences are relative to that white"
    )


def _within(apart: Quantity) -> bool:
    """Does the 95 % interval of a difference hold zero? False where it is not known."""
    interval = apart.interval
    return interval is not None and interval[0] <= 0.0 <= interval[1]
