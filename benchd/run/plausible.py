"""Whether a reading can be the light of the patch: the meter off the screen, a lamp switched on, a display asleep.

No reading alone shows it; these rules are bounds that every working display keeps and a practitioner would check:

- a bright patch reads at least `MIN_OVER_FLOOR` times the meter's lowest luminance;
- a bright patch reads at least `MIN_RATIO` times any dark patch of the same settings: a meter that lies beside the
  screen, and one that repeats itself, read the same whatever is shown;
- the readings of one patch are alike: no two differ by more than `MAX_SCATTER` times;
- the run's first bright and first dark patch, its two references, read again later what they read before. Bright may
  have moved by `BRIGHT_JUMP` (common practice: above 5 % it is no drift), dark by `DARK_JUMP` of itself and twice the
  meter's lowest luminance. A lamp shows in the dark patch, a moved meter in both.

What can't be known: a light that came on before the first reading or came and went between two checks, and a change
below these bounds. Pure; the sequencer acts on it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from benchd.errors import BenchdError, Implausible, LightChanged
from benchd.instruments.meter import Reading, Status
from benchd.patch.model import max_code
from benchd.plan.safety import relative_luminance
from benchd.plan.step import ATTENDED, Step
from benchd.plan.sweep import Point

BRIGHT, DARK = 0.2, 0.01  # relative luminance of the code at the meter, with a gamma of 2.2
GAMMA = 2.2
MIN_OVER_FLOOR = 10.0
MIN_RATIO = 1.1
MAX_SCATTER = 1.5
BRIGHT_JUMP = 0.05
DARK_JUMP = 0.10
CHECK_EVERY_S = 600.0
"""Bench time between two reference checks."""

CheckName = Literal["bright", "dark"]
CHECK_SHARE: dict[str, float] = {"bright": BRIGHT_JUMP / 4.0, "dark": DARK_JUMP / 4.0}
"""How well a reference check reads where the plan requests a repeatability: it need not see more than a jump."""


@dataclass(frozen=True, slots=True)
class Bounds:
    """What the meter is specified for, in cd/m2, where known; and whether reference checks are made."""

    floor_cd_m2: float | None = None
    ceiling_cd_m2: float | None = None
    look_again: bool = True


@dataclass(frozen=True, slots=True)
class Extremes:
    """The dimmest bright patch and the brightest dark patch of one point of settings, each with its step."""

    bright_cd_m2: float | None = None
    bright_step: str = ""
    dark_cd_m2: float | None = None
    dark_step: str = ""


def reference_of(step: Step) -> CheckName | None:
    """Which reference ``step`` could be: a full field that is bright or dark."""
    if step.kind != "measure" or step.patch.kind != "field" or step.series is not None or step.place in ATTENDED:
        return None
    level = level_at_meter(step)
    return "bright" if level > BRIGHT else "dark" if level < DARK else None


def level_at_meter(step: Step) -> float:
    """Relative luminance, 0 to 1, of the code in front of the meter, for a display with a gamma of 2.2."""
    red, green, blue = step.patch.code_at(*step.at)
    top = max_code(step.patch.bits)
    return relative_luminance(((red / top) ** GAMMA, (green / top) ** GAMMA, (blue / top) ** GAMMA))


def luminance(readings: Sequence[Reading], bounds: Bounds) -> float | None:
    """Mean luminance of the readings with figures; the meter's floor where it saw nothing; None where it saw too much.

    In cd/m2.
    """
    if any(reading.status is Status.OVER for reading in readings):
        return None
    if not (figures := [reading.xyz[1] for reading in readings if reading.xyz is not None]):
        return bounds.floor_cd_m2
    return max(sum(figures) / len(figures), bounds.floor_cd_m2 or 0.0)


def fault_in(
    step: Step, readings: Sequence[Reading], seen: Mapping[Point, Extremes], bounds: Bounds
) -> BenchdError | None:
    """The error that these readings of ``step`` are, or None.

    `Implausible`: they contradict each other. `LightChanged`: they contradict the patch, or an earlier step.
    """
    if inner := _contradict_each_other(step, readings, bounds):
        return Implausible(f"{inner}; something moved or flickered while {step.id} was read")
    if (found := luminance(readings, bounds)) is None:
        return None
    level, floor = level_at_meter(step), bounds.floor_cd_m2
    hint = "look whether the meter is on the screen and the display is awake, then resume"
    if level > BRIGHT and floor is not None and found < MIN_OVER_FLOOR * floor:
        return LightChanged(
            f"the bright patch of {step.id} reads {found:.3g} cd/m2, next to the meter's lowest ({floor:g} cd/m2): "
            f"that is not its light; {hint}"
        )
    if step.kind != "measure":
        return None
    extremes = seen.get(step.settings, Extremes())
    if level > BRIGHT and extremes.dark_cd_m2 is not None and found < MIN_RATIO * extremes.dark_cd_m2:
        return LightChanged(
            f"the bright patch of {step.id} reads {found:.4g} cd/m2, no more than the dark one of {extremes.dark_step} "
            f"({extremes.dark_cd_m2:.4g} cd/m2): the readings do not follow the screen; {hint}"
        )
    if level < DARK and extremes.bright_cd_m2 is not None and extremes.bright_cd_m2 < MIN_RATIO * found:
        return LightChanged(
            f"the dark patch of {step.id} reads {found:.4g} cd/m2, no less than the bright one of "
            f"{extremes.bright_step} ({extremes.bright_cd_m2:.4g} cd/m2): the readings do not follow the screen; {hint}"
        )
    return None


def taken_in(step: Step, readings: Sequence[Reading], before: Extremes, bounds: Bounds) -> Extremes:
    """``before`` with what ``step`` adds to it."""
    found, level = luminance(readings, bounds), level_at_meter(step)
    if found is None:
        return before
    if level > BRIGHT and (before.bright_cd_m2 is None or found < before.bright_cd_m2):
        return Extremes(found, step.id, before.dark_cd_m2, before.dark_step)
    if level < DARK and (before.dark_cd_m2 is None or found > before.dark_cd_m2):
        return Extremes(before.bright_cd_m2, before.bright_step, found, step.id)
    return before


def has_jumped(check: CheckName, before_cd_m2: float, now_cd_m2: float, bounds: Bounds) -> bool:
    """True when a reference reads so different from before that it is not drift."""
    change = abs(now_cd_m2 - before_cd_m2)
    if check == "bright":
        return change > BRIGHT_JUMP * before_cd_m2
    return change > DARK_JUMP * before_cd_m2 + 2.0 * (bounds.floor_cd_m2 or 0.0)


def _contradict_each_other(step: Step, readings: Sequence[Reading], bounds: Bounds) -> str:
    if not (good := [r.xyz[1] for r in readings if r.status is Status.OK and r.xyz is not None]):
        return ""
    low, high, floor = min(good), max(good), bounds.floor_cd_m2 or 0.0
    if step.kind == "measure" and high > MAX_SCATTER * max(low, MIN_OVER_FLOOR * floor):
        return f"the readings of one patch lie between {low:.4g} and {high:.4g} cd/m2"
    if low > 2.0 * floor and floor and any(r.status is Status.UNDER for r in readings):
        return f"one reading is under range and another of the same patch is {low:.4g} cd/m2"
    top = bounds.ceiling_cd_m2
    if top is not None and high < 0.5 * top and any(r.status is Status.OVER for r in readings):
        return f"one reading is over range and another of the same patch is {high:.4g} cd/m2"
    return ""
