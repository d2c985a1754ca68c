"""What a plan requests of a patch that is read to a precision, and the shortest integration that reaches it. Pure."""

from __future__ import annotations

from typing import NamedTuple

from benchd.run.adaptive.settling import LevelChange


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
