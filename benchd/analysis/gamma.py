"""Gamma: the slope of log luminance on log signal, fitted over many steps or taken between two."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

from benchd.analysis.quantity import Quantity, absent, log, propagated, ratio, scaled, with_note

FIT_FROM_PERCENT, FIT_TO_PERCENT = 10, 90

NEGLIGIBLE = 0.005
"""A black that is only a bound is left at zero where it moves a gamma by less: it can't be seen in print."""


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

    def figures(values: Sequence[float]) -> tuple[float, float]:
        *some, top, dark = values
        relative = [(one - dark) / (top - dark) for one in some]
        return fit(signal, relative, white_fixed=white_fixed)

    parts = (*lights, white)
    if len(lights) < 2:
        nothing = absent("1", "a fit needs two steps between the ends of its rule")
        return nothing, nothing
    gamma = _over_black(lambda *values: figures(values)[0], parts, black)
    residual = _over_black(lambda *values: figures(values)[1], parts, black)
    return gamma, replace(residual, s=None)


def local_gamma(first_v: float, first: Quantity, next_v: float, following: Quantity, black: Quantity) -> Quantity:
    """ln((L2 - Lb) / (L1 - Lb)) / ln(V2 / V1) between two neighbouring steps."""
    if first_v <= 0.0 or next_v <= 0.0 or first_v == next_v:
        return absent("1", "no logarithm: the signal is zero")
    run = math.log(next_v / first_v)
    return _over_black(lambda one, two, dark: math.log((two - dark) / (one - dark)) / run, (first, following), black)


def point_gamma(signal: float, luminance: Quantity, white: Quantity) -> Quantity:
    """ln(L / Lwhite) / ln V of one step; black is not subtracted."""
    if not 0.0 < signal < 1.0:
        return absent("1", "not defined at black and at white")
    return scaled(log(ratio(luminance, white)), 1.0 / math.log(signal), "1")


def _over_black(function: Callable[..., float], parts: Sequence[Quantity], black: Quantity) -> Quantity:
    """``function`` of ``parts`` and black. Where black is a bound, both its ends are tried.

    If they differ by less than `NEGLIGIBLE` the value for black = 0 stands, with a note; else the result is a
    bound, taken at the bound on black.
    """
    if black.bound != "below" or any(part.bound or not part.present for part in parts):
        return propagated(function, "1", (*parts, black))
    at_zero = propagated(function, "1", (*parts, replace(black, value=0.0, s=0.0, bound=None, status="ok", why="")))
    at_bound = propagated(function, "1", (*parts, black))
    if at_zero.value is None or at_bound.value is None:
        return at_bound
    if abs(at_bound.value - at_zero.value) >= NEGLIGIBLE:
        return at_bound
    return with_note(at_zero, f"black, {black.why}, taken as 0: it moves this by less than {NEGLIGIBLE}")
