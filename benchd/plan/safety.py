"""Flashing and static light: what a plan may do to eyes and to panels.

Method after WCAG 2.x success criterion 2.3.1 (definitions of general flash and red flash), held far below its
limit: at most one change between light and dark a second, where WCAG allows three flashes of two changes each.
Every window counts as large, because the area that WCAG lets go is smaller than 4 x 4 cm at half a metre.

HDR codes are judged in absolute luminance, after ITU-R BT.1702: a flash is a change of 20 cd/m2 or more whose darker
image is below 160 cd/m2; above, a change of more than 1/17 in Michelson contrast (from memory). Codes are taken at
their nominal luminance: a screen that does not reach it flashes less, not more.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from benchd.patch.model import BLACK, Code, Patch, Rect, Transfer, field, max_code
from benchd.plan.estimate import step_seconds
from benchd.plan.plan import Plan
from benchd.plan.signal import code_luminance
from benchd.plan.step import Step
from benchd.profile.reading.base import Path

if TYPE_CHECKING:
    from benchd.profile.bench import Bench
    from benchd.profile.timing import AnyBench

Linear = tuple[float, float, float]

MIN_BETWEEN_S = 1.0
"""Minimum time between two changes of light and dark."""

MIN_AUTO_INTEGRATION_S = 0.2
"""Minimum time of a reading when the meter decides: twelve periods of 60 Hz (common practice)."""

MIN_WARM_UP_S = 60.0

FLASH_CHANGE = 0.10  # of maximum relative luminance (WCAG, general flash)
FLASH_DARKER_BELOW = 0.80
RED_SHARE = 0.8  # R/(R+G+B) of a saturated red (WCAG, red flash)
RED_CHANGE_UV = 0.2  # in CIE 1976 u', v'

STATIC_BRIGHT_S = 60.0  # common practice
STATIC_BRIGHT_SHARE = 0.5

HDR_FLASH_CHANGE_CD_M2 = 20.0
HDR_FLASH_DARKER_BELOW_CD_M2 = 160.0
HDR_FLASH_MICHELSON = 1.0 / 17.0
HDR_RED_CHANGE = 0.25  # of the share of red; stands for a change of 0.2 in the 1976 diagram
HDR_STATIC_BRIGHT_CD_M2 = 200.0
"""Above this an emissive panel should not show one patch for long (common practice: half of its full-screen light)."""
DO_NOT_STARE_CD_M2 = 1000.0
_LUMA = (0.2627, 0.6780, 0.0593)  # ITU-R BT.2020

_VIRTUAL = 1440  # pixels a side on which geometry is compared; divisible by 4 and by 25

# Linear sRGB -> XYZ (IEC 61966-2-1).
_TO_XYZ = ((0.4124, 0.3576, 0.1805), (0.2126, 0.7152, 0.0722), (0.0193, 0.1192, 0.9505))
_WHITE_UV = (0.1978, 0.4683)


class PaceFault(NamedTuple):
    """Light and dark follow each other too fast. ``keys``: where to report it, the best place first."""

    keys: tuple[Path, ...]
    text: str


@lru_cache(maxsize=4096)
def is_alternation(before: Patch, after: Patch) -> bool:
    """True when some part of the screen changes between light and dark, or to or from saturated red."""
    if before == after:
        return False
    transfer = after.transfer if after.transfer != "sdr" else before.transfer
    if transfer != "sdr":  # beside an HDR patch the only SDR one is black
        return any(_hdr_flashes(old, before.bits, new, after.bits, transfer) for old, new in _changes(before, after))
    return any(_flashes(_linear(old, before.bits), _linear(new, after.bits)) for old, new in _changes(before, after))


def minimum_dwell_s(step: Step) -> float:
    """The shortest time that a step's patch can be on the screen: settling, then its readings."""
    if step.kind == "warm_up":
        return MIN_WARM_UP_S
    if step.series is not None:
        return step.series.for_s
    if step.precision is not None:
        return MIN_BETWEEN_S  # found by reading; the run itself waits where light and dark would change sooner
    return step.settle_s + step.readings * _minimum_reading_s(step)


def alternations(steps: Sequence[Step]) -> Iterator[tuple[float, int]]:
    """When, at the shortest timing, light and dark change: seconds from the first patch, and the step shown then.

    The screen is black before the first step, and again after the last (index ``len(steps)``). A patch is
    held against all those since the last change that were on the screen within the second before it, so
    that a change in small steps counts too.
    """
    black = field(BLACK)
    shown: list[tuple[float, Patch]] = [(0.0, black)]  # until when, and what
    at_s = 0.0
    for index, patch in enumerate([*(step.patch for step in steps), black]):
        if any(is_alternation(earlier, patch) for _, earlier in shown):
            yield at_s, index
            shown.clear()
        at_s += minimum_dwell_s(steps[index]) if index < len(steps) else 0.0
        shown = [(until_s, earlier) for until_s, earlier in shown if until_s > at_s - MIN_BETWEEN_S]
        shown.append((at_s, patch))


def faults_of_pace(plan: Plan, steps: Sequence[Step]) -> tuple[PaceFault, ...]:
    """Where light and dark could change twice within a second; one fault for each key that is to blame."""
    found: dict[Path, PaceFault] = {}
    last_s, last = -math.inf, 0
    for at_s, index in alternations(steps):
        if at_s - last_s < MIN_BETWEEN_S - 1e-9:
            fault = _pace_fault(plan, steps[last], at_s - last_s)
            found.setdefault(fault.keys[0], fault)
        last_s, last = at_s, index
    return tuple(found.values())


def cautions(plan: Plan, steps: Sequence[Step], bench: Bench | AnyBench) -> tuple[str, ...]:
    """Cautions for the operator before a run, one sentence each; empty when there are none."""
    found: list[str] = []
    if any(True for _ in alternations(steps)):
        found.append(
            "patches change between dark and bright, at most one change a second. Do not watch the screen if "
            "flashing light can harm you; Ctrl-C, or `benchd pause` for a job, shows black and stops"
        )
    found += _hdr_cautions(steps, bench.panel)
    if bench.panel == "emissive":
        block, seconds = _longest_bright([step for step in steps if step.series is None], bench)
        if seconds > STATIC_BRIGHT_S:
            found.append(
                f"an emissive panel may keep an image: {block} of plan {plan.plan} leaves one bright patch on the "
                f"screen for about {seconds / 60.0:.0f} min; choose fewer places or a lower level if that is too much"
            )
    return tuple(found)


def _pace_fault(plan: Plan, step: Step, gap_s: float) -> PaceFault:
    key = "dark_settle_s" if step.dark else "settle_s"
    keys: tuple[Path, ...] = ((key,), ("reference",))
    for index, block in enumerate(plan.blocks):
        if block.name == step.base:
            own: Path = ("blocks", index, block.kind)
            keys = ((*own, key),) if getattr(block.body, key) is not None else ((key,), own)
    reading_s = _minimum_reading_s(step)
    needed_s = math.ceil((MIN_BETWEEN_S - step.readings * reading_s) * 100 - 1e-6) / 100
    readings = "1 reading" if step.readings == 1 else f"{step.readings} readings"
    return PaceFault(
        keys,
        f"light and dark can follow each other after {gap_s:.2g} s ({key} {step.settle_s:g}, and {readings} of at "
        f"least {reading_s:g} s); at most one change a second is allowed: use {key}: {needed_s:g} or more",
    )


def _minimum_reading_s(step: Step) -> float:
    return MIN_AUTO_INTEGRATION_S if step.integration_s is None else step.integration_s


def _changes(before: Patch, after: Patch) -> set[tuple[Code, Code]]:
    """Which codes change into which, over all parts of the screen."""
    if before.kind == after.kind == "field":
        return {(before.code, after.code)}
    layers = [patch.rectangles(_VIRTUAL, _VIRTUAL) for patch in (before, after)]
    rects = [rect for layer in layers for rect in layer]
    xs = sorted({edge for rect in rects for edge in (rect.x, rect.x + rect.width)})
    ys = sorted({edge for rect in rects for edge in (rect.y, rect.y + rect.height)})
    # Between neighbouring edges nothing changes: one point stands for its part of the screen.
    return {(_code_at(layers[0], x, y), _code_at(layers[1], x, y)) for x in xs[:-1] for y in ys[:-1]}


def _code_at(rects: tuple[Rect, ...], x: int, y: int) -> Code:
    """The code at a pixel: that of the rectangle painted last over it."""
    covering = (r.code for r in reversed(rects) if r.x <= x < r.x + r.width and r.y <= y < r.y + r.height)
    return next(covering)


def _linear(code: Code, bits: int) -> Linear:
    """Linear red, green, blue of an sRGB screen, 0 to 1."""
    red, green, blue = (_eotf(value / max_code(bits)) for value in code)
    return (red, green, blue)


def _eotf(value: float) -> float:
    return value / 12.92 if value <= 0.04045 else float(((value + 0.055) / 1.055) ** 2.4)


def relative_luminance(linear: Linear) -> float:
    """Relative luminance, 0 to 1 (WCAG, from sRGB)."""
    return sum(weight * value for weight, value in zip(_TO_XYZ[1], linear, strict=True))


def _flashes(old: Linear, new: Linear) -> bool:
    darker, lighter = sorted((relative_luminance(old), relative_luminance(new)))
    if lighter - darker >= FLASH_CHANGE - 1e-9 and darker < FLASH_DARKER_BELOW:
        return True
    red = _is_saturated_red(old) or _is_saturated_red(new)
    return red and math.dist(_uv(old), _uv(new)) > RED_CHANGE_UV


def _is_saturated_red(linear: Linear) -> bool:
    return sum(linear) > 0 and linear[0] / sum(linear) >= RED_SHARE


def _uv(linear: Linear) -> tuple[float, float]:
    """CIE 1976 u', v'; black counts as white here, so that red out of black is a change of colour."""
    x, y, z = (sum(m * value for m, value in zip(row, linear, strict=True)) for row in _TO_XYZ)
    whole = x + 15.0 * y + 3.0 * z
    return (4.0 * x / whole, 9.0 * y / whole) if whole > 0 else _WHITE_UV


def _longest_bright(steps: Sequence[Step], bench: Bench | AnyBench) -> tuple[str, float]:
    """The block that leaves one bright patch on the screen longest, and for how many seconds."""
    longest = ("", 0.0)
    lit_s = 0.0
    for previous, step in pairwise([None, *steps]):
        assert step is not None
        moved = previous is not None and previous.at != step.at
        # Before a manual move another pattern shows the place, so the patch is not static over the move.
        if previous is None or previous.patch != step.patch or (moved and bench.manual_moves):
            lit_s = 0.0
        elif moved:
            lit_s += bench.timing.move_s
        if is_bright(step.patch):
            lit_s += step_seconds(step, bench.timing)
            longest = max(longest, (step.block, lit_s), key=lambda entry: entry[1])
    return longest


def is_bright(patch: Patch) -> bool:
    """True when an emissive panel should not show ``patch`` for long."""
    codes = [rect.code for rect in patch.rectangles(_VIRTUAL, _VIRTUAL)]
    if patch.transfer != "sdr":
        return any(_hdr_luminance(code, patch.bits, patch.transfer) > HDR_STATIC_BRIGHT_CD_M2 for code in codes)
    return any(relative_luminance(_linear(code, patch.bits)) > STATIC_BRIGHT_SHARE for code in codes)


def _hdr_flashes(old: Code, old_bits: int, new: Code, new_bits: int, transfer: Transfer) -> bool:
    """True when the change between two codes counts as half a flash, in general or of saturated red."""
    darker, lighter = sorted((_hdr_luminance(old, old_bits, transfer), _hdr_luminance(new, new_bits, transfer)))
    if darker < HDR_FLASH_DARKER_BELOW_CD_M2:
        if lighter - darker >= HDR_FLASH_CHANGE_CD_M2:
            return True
    elif (lighter - darker) / (lighter + darker) > HDR_FLASH_MICHELSON:
        return True
    first, second = _red_share(old, old_bits, transfer), _red_share(new, new_bits, transfer)
    return max(first, second) >= RED_SHARE and abs(first - second) > HDR_RED_CHANGE


def _hdr_cautions(steps: Sequence[Step], panel: str) -> list[str]:
    """Cautions for the operator before a run of HDR patches, or of readings over minutes."""
    found: list[str] = []
    hdr = [step.patch for step in steps if step.patch.transfer != "sdr"]
    if any(_hdr_luminance(patch.code, patch.bits, patch.transfer) >= DO_NOT_STARE_CD_M2 for patch in hdr):
        found.append(
            "patches of 1000 cd/m2 and more, which dazzle in a dark room: do not stare at the screen, and "
            "cover it with the meter's mount"
        )
    longest = max((step for step in steps if step.series), key=lambda one: one.series.for_s, default=None)  # type: ignore[union-attr]
    if longest is not None and longest.series is not None and longest.series.for_s > 120 and panel == "emissive":
        found.append(
            f"{longest.block} leaves one bright window on an emissive panel for {longest.series.for_s / 60.0:.0f} min "
            "at a time, which loads the panel: leave the block out if that is too much"
        )
    return found


def _hdr_luminance(code: Code, bits: int, transfer: Transfer) -> float:
    """About the nominal luminance of a code, cd/m2."""
    return sum(weight * code_luminance(value, bits, transfer) for weight, value in zip(_LUMA, code, strict=True))


def _red_share(code: Code, bits: int, transfer: Transfer) -> float:
    """R / (R + G + B) of the light; a third for black, as for every grey."""
    linear = [code_luminance(value, bits, transfer) for value in code]
    whole = sum(linear)
    # Red that is too dark to be seen is no flash.
    return linear[0] / whole if whole >= 1.0 else 1.0 / 3.0
