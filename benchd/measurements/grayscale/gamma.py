"""Gamma: the slope of log luminance on log signal, fitted over many steps or taken between two."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from benchd.analysis.uncertainty.cloud import Cloud
from benchd.analysis.uncertainty.quantity import Quantity, absent, derived, log, propagated, ratio, scaled, with_note
from benchd.analysis.uncertainty.sources import Fixed, Node, Source, total
from benchd.measurements.grayscale.results import LOCAL_RULE, POINT_RULE

FIT_FROM_PERCENT, FIT_TO_PERCENT = 10, 90
NEGLIGIBLE = 0.005
"""A black that is only a bound is left at zero where it moves a gamma by less: no printed digit changes."""


def fit(signal: Sequence[float], relative: Sequence[float], *, white_fixed: bool) -> tuple[float, float]:
    """Gamma and largest |residual| of ln(relative) for signals V and relative outputs, both in (0, 1).

    Least squares of y = ln(relative) on x = ln V: ``white_fixed`` through V = 1, relative = 1, else with a free
    intercept. Log-log fit of IDMS, from memory. Raises ValueError for less than two points or for light <= 0.
    """
    x, y = [math.log(v) for v in signal], [math.log(one) for one in relative]
    if len(x) < 2:
        raise ValueError("a fit needs two points")
    mean_x = mean_y = 0.0
    if not white_fixed:
        mean_x, mean_y = sum(x) / len(x), sum(y) / len(y)
    over = sum((one - mean_x) * (other - mean_y) for one, other in zip(x, y, strict=True))
    gamma = over / sum((one - mean_x) ** 2 for one in x)
    offset = mean_y - gamma * mean_x
    return gamma, max(abs(other - gamma * one - offset) for one, other in zip(x, y, strict=True))


def fit_rule(*, white_fixed: bool) -> str:
    """The rule of `fit`, to be printed beside its gamma."""
    way = "line through white" if white_fixed else "free slope and intercept"
    return (
        f"least squares of ln((L - Lblack) / (Lwhite - Lblack)) on ln V, {way}; steps from {FIT_FROM_PERCENT} to "
        f"{FIT_TO_PERCENT} % of the largest code; black subtracted; log-log fit after IDMS (from memory)"
    )


def fitted(
    signal: Sequence[float], lights: Sequence[Quantity], white: Quantity, black: Quantity, *, white_fixed: bool
) -> tuple[Quantity, Quantity]:
    """Gamma and largest residual for measured luminances, black subtracted. Bounds as in `_over_black`."""

    def residual_of(*values: float) -> float:
        *some, top, dark = values
        return fit(signal, [(one - dark) / (top - dark) for one in some], white_fixed=white_fixed)[1]

    parts = (*lights, white)
    if len(lights) < 2:
        nothing = absent("1", "a fit needs two steps between the ends of its rule")
        return nothing, nothing
    gamma = _over_black(lambda several: _slope(signal, several, white_fixed), parts, black)
    if gamma.bound:
        # Black moves single residuals up and others down: their largest can't be bounded by black's two ends.
        return gamma, absent("1", gamma.why, gamma.records)

    def residual(several: Sequence[Quantity]) -> Quantity:
        found = propagated(residual_of, "1", several, uncertain=False)
        return found._replace(sources=_largest_residual(signal, several, white_fixed)) if found.plain else found

    return gamma, _over_black(residual, parts, black)


def _largest_residual(signal: Sequence[float], several: Sequence[Quantity], white_fixed: bool) -> Node | None:
    """What moves the largest size of the residuals of `fit`: they are linear in the logarithms that are fitted.

    With x of the signals and the line's part H = x x' / x'x (and 1 / n, x about its mean), residuals are (1 - H) y.
    """
    *lights, white, black = (one.value or 0.0 for one in several)
    if any(one.sources is None for one in several):
        return None
    x = np.log(np.array(signal))
    x = x if white_fixed else x - x.mean()
    left = np.eye(len(x)) - np.outer(x, x) / (x @ x) - (0.0 if white_fixed else 1.0 / len(x))
    above = np.array(lights) - black
    residuals = left @ np.log(above / (white - black))
    slopes = left / above
    of_white = -left.sum(axis=1) / (white - black)
    rows = np.column_stack([slopes, of_white, -slopes.sum(axis=1) - of_white])
    nodes = [total(list(zip(row, (one.sources for one in several), strict=True))) for row in rows.tolist()]
    return Cloud(residuals[:, None], [[node] for node in nodes if node is not None]).over("max")


def _slope(signal: Sequence[float], several: Sequence[Quantity], white_fixed: bool) -> Quantity:
    """Gamma of `fit` for lights, white and black. It is a sum of c ln((L - Lblack) / (Lwhite - Lblack)), c from V."""
    values = [one.value for one in several if one.value is not None]
    if len(values) < len(several):
        return derived(0.0, "1", [(0.0, one) for one in several])
    *some, top, dark = values
    try:
        gamma, _ = fit(signal, [(one - dark) / (top - dark) for one in some], white_fixed=white_fixed)
    except (ValueError, ZeroDivisionError, OverflowError):
        return derived(math.nan, "1", [(0.0, one) for one in several])
    x = [math.log(v) for v in signal]
    middle = 0.0 if white_fixed else sum(x) / len(x)
    over = sum((one - middle) ** 2 for one in x)
    slopes = [(one - middle) / over / (light - dark) for one, light in zip(x, some, strict=True)]
    # With a free intercept white only shifts the line.
    of_white = -sum(x) / over / (top - dark) if white_fixed else 0.0
    return derived(gamma, "1", list(zip((*slopes, of_white, -sum(slopes) - of_white), several, strict=True)))


def local_gamma(first_v: float, first: Quantity, next_v: float, following: Quantity, black: Quantity) -> Quantity:
    """ln((L2 - Lb) / (L1 - Lb)) / ln(V2 / V1) between two neighbouring steps; its note is `LOCAL_RULE`."""
    if first_v <= 0.0 or next_v <= 0.0 or first_v == next_v:
        return absent("1", "no logarithm: the signal is zero")
    run = math.log(next_v / first_v)

    def slope(several: Sequence[Quantity]) -> Quantity:
        one, two, dark = (each.value or 0.0 for each in several)
        if one <= dark or two <= dark:
            return derived(math.nan, "1", [(0.0, each) for each in several])
        of_first, of_next = -1.0 / (one - dark) / run, 1.0 / (two - dark) / run
        pairs = list(zip((of_first, of_next, -of_first - of_next), several, strict=True))
        return derived(math.log((two - dark) / (one - dark)) / run, "1", pairs)

    found = _over_black(slope, (first, following), black)
    return with_note(found, LOCAL_RULE) if found.present else found


def point_gamma(signal: float, luminance: Quantity, white: Quantity) -> Quantity:
    """ln(L / Lwhite) / ln V of one step; black is not subtracted. Its note is `POINT_RULE`."""
    if not 0.0 < signal < 1.0:
        return absent("1", "not defined at black and at white")
    found = scaled(log(ratio(luminance, white)), 1.0 / math.log(signal), "1")
    return with_note(found, POINT_RULE) if found.present else found


def _over_black(
    function: Callable[[Sequence[Quantity]], Quantity], parts: Sequence[Quantity], black: Quantity
) -> Quantity:
    """``function`` of ``parts`` and, last, black. Where black is a bound, both its ends are tried.

    If they differ by less than `NEGLIGIBLE` the value for black = 0 stands, with a note; else the result is a
    bound, taken at the bound on black.
    """
    if black.bound != "below" or any(part.bound or not part.present for part in parts):
        return function((*parts, black))
    # Anywhere between zero and its bound: the half width of a rectangle about it, over the root of 3 (JCGM 100, 4.3.7).
    unknown = Fixed(((Source("black, only known to be below a bound"), (black.value or 0.0) / math.sqrt(12.0)),))
    nothing = black._replace(value=0.0, s=0.0, bound=None, status="ok", why="", sources=unknown)
    at_zero = function((*parts, nothing))
    at_bound = function((*parts, black))
    if at_zero.value is None or at_bound.value is None:
        return at_bound
    if abs(at_bound.value - at_zero.value) >= NEGLIGIBLE:
        return at_bound
    return with_note(at_zero, f"black, {black.why}, taken as 0: it moves this by less than {NEGLIGIBLE}")
