"""What a patch that was read to a precision came to, for the log's ``done``. Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import fmean, variance
from typing import Any

from benchd.run.adaptive.settling import TimedReading, per_second_seen
from benchd.run.adaptive.settling_model import HIDDEN

DIFFERENCES_DOF = 2.0 / 3.0
"""Freedom of a variance from differences of neighbours, a difference (von Neumann et al. 1941, normal errors)."""


def repeatability_reached(
    counted: Sequence[TimedReading], per_second: float | None, asked: float, floor_cd_m2: float
) -> dict[str, Any]:
    """What was requested, what was reached, and the mean luminance of the readings that count.

    ``per_second``: variance x time by which reading ended; None where the readings alone give it.
    """
    values = [one.luminance_cd_m2 for one in counted]
    mean, own = fmean(values), variance_x_time(counted)
    per_second = own if per_second is None else per_second
    reached = None
    if per_second is not None:
        reached = math.sqrt(per_second / sum(one.took_s for one in counted)) / max(mean, floor_cd_m2)
    return {
        "asked": asked,
        "reached": None if reached is None else float(f"{reached:.4g}"),
        "luminance_cd_m2": float(f"{mean:.6g}"),
    }


def variance_x_time(counted: Sequence[TimedReading]) -> float | None:
    """Sample variance x integration time; None of fewer than two readings."""
    return variance(one.luminance_cd_m2 for one in counted) * counted[0].took_s if len(counted) > 1 else None


def settling_left(left: float, hidden: float, side: float, scale_cd_m2: float) -> dict[str, Any]:
    """What settling leaves in the mean: at most, and as a standard uncertainty in cd/m2.

    ``left``: what was seen and is left at most; ``hidden``: what could be there unseen, two standard errors; both
    relative to ``scale_cd_m2``. What was seen lies between nothing and ``left`` (rectangular, JCGM 100, 4.3.7) to the
    ``side`` where the light comes from. The middle of that goes the same way in all patches of the panel, so it is
    separated, with its sign: ``settling_common_cd_m2`` is a part of ``settling_u_cd_m2``.
    """
    u = scale_cd_m2 * math.sqrt(left**2 / 3.0 + (hidden / HIDDEN) ** 2)
    return {
        "left_at_most": float(f"{left + hidden:.3g}"),
        "settling_u_cd_m2": float(f"{u:.6g}"),
        "settling_common_cd_m2": float(f"{0.5 * side * left * scale_cd_m2:.6g}"),
    }


def scatter_seen(counted: Sequence[TimedReading], floor_cd_m2: float, *, watched: bool) -> list[list[float]]:
    """For the noise model: luminance, variance x time, degrees of freedom; nothing of fewer than two readings."""
    own, n = variance_x_time(counted), len(counted)
    if own is None:
        return []
    seen = (per_second_seen(counted), DIFFERENCES_DOF * (n - 1.0)) if watched else (own, n - 1.0)
    level = max(fmean(one.luminance_cd_m2 for one in counted), floor_cd_m2)
    return [[float(f"{value:.6g}") for value in (level, *seen)]]
