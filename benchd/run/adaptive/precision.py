"""A patch that is read to a precision: what a plan requests, how long that takes, what it came to. Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import fmean, variance
from typing import Any, NamedTuple

from benchd.run.adaptive.settling import LevelChange, TimedReading, per_second_seen
from benchd.run.adaptive.settling_model import HIDDEN


class PrecisionRequest(NamedTuple):
    """What a plan requests of a patch."""

    repeatability: float  # relative standard uncertainty of the mean, from repeatability
    at_most_s: float  # on one patch, settling included
    fixed_s: float | None = None  # integration time of every reading, where the plan states it
    dark: bool = False


class PreviousPatch(NamedTuple):
    """What was there before the patch.

    ``still``: the same patch was on the screen; ``moved``: the meter was moved; ``parts``: what gets brighter and what
    gets darker by the codes, as shares of white. A reading alone does not show the step: on a slow panel it may not
    have begun, and a change of colour may leave the luminance as it was. ``from_black``, ``to_black``: all the screen.
    """

    luminance_cd_m2: float | None
    still: bool = False
    moved: bool = False
    parts: tuple[float, float] = (0.0, 0.0)
    from_black: bool = False
    to_black: bool = False

    def change(self, now_cd_m2: float, brightest_cd_m2: float, *, dark: bool) -> LevelChange | None:
        """What the patch changed, where it reads ``now_cd_m2``; None where nothing is known of what was there before.

        ``brightest_cd_m2``: of all light that was seen.
        """
        if self.still:
            return LevelChange(0.0, 0.0, dark)
        if self.moved:
            # At another place the last luminance means little: take the largest step there can be.
            return LevelChange(brightest_cd_m2, brightest_cd_m2, dark, either=True)
        if self.luminance_cd_m2 is None:
            return None
        up, down = (brightest_cd_m2 * part for part in self.parts)
        up, down = max(up, now_cd_m2 - self.luminance_cd_m2), max(down, self.luminance_cd_m2 - now_cd_m2)
        return LevelChange(up, down, dark, self.from_black, self.to_black)


def needed_s(per_second: float, dof: float, uncertainty_cd_m2: float) -> float:
    """Integration time in all that brings the mean's standard uncertainty to ``uncertainty_cd_m2`` in the mean."""
    inflation = dof / (dof - 2.0) if dof > 2.0 else 3.0
    return inflation * per_second / uncertainty_cd_m2**2


DIFFERENCES_DOF = 2.0 / 3.0
"""Freedom of a variance from differences of neighbours, a difference (von Neumann et al. 1941, normal errors)."""


def repeatability_reached(
    counted: Sequence[TimedReading], per_second: float | None, asked: float, floor_cd_m2: float
) -> dict[str, Any]:
    """What was requested, what was reached, and the mean luminance of the readings that count.

    ``per_second``: variance x time by which reading ended; None where the readings alone give it.
    """
    mean = fmean(one.luminance_cd_m2 for one in counted)
    per_second = variance_x_time(counted) if per_second is None else per_second
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
