"""The published tests of difference and of equivalence, which no verdict may be bolder than."""

from __future__ import annotations

import math
from typing import NamedTuple

from benchd.analysis.verdicts.equivalence import ALPHA, Measurand, welch_dof
from benchd.distributions import t_above, t_quantile


class Welch(NamedTuple):
    """Welch's test as published: t, degrees of freedom after Satterthwaite, two-sided p."""

    t: float
    dof: float
    p: float


class Tost(NamedTuple):
    """Two one-sided tests as published, with Welch's degrees of freedom: t of both, larger p, 90 % interval."""

    t_low: float
    t_high: float
    p: float
    low: float
    high: float


def welch(a: Measurand, b: Measurand) -> Welch:
    """Welch's test of ``a`` against ``b``."""
    u, dof = _published(a, b)
    t = (a.value - b.value) / u
    return Welch(t, dof, 2.0 * t_above(abs(t), dof))


def tost(a: Measurand, b: Measurand, margin: float) -> Tost:
    """Two one-sided tests of ``a`` against ``b``; ``margin`` in their unit."""
    u, dof = _published(a, b)
    d = a.value - b.value
    t_low, t_high = (d + margin) / u, (d - margin) / u
    half = u * t_quantile(1.0 - ALPHA, dof)
    return Tost(t_low, t_high, max(t_above(t_low, dof), t_above(-t_high, dof)), d - half, d + half)


def _published(a: Measurand, b: Measurand) -> tuple[float, float]:
    u = math.hypot(a.u, b.u)
    return u, welch_dof(a, b)
