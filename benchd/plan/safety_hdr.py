"""Flashing and bright light of HDR codes, in absolute luminance: what a plan may do to eyes and to panels.

Method after ITU-R BT.1702: a flash is a change of 20 cd/m2 or more whose darker image is below 160 cd/m2; above, a
change of more than 1/17 in Michelson contrast (from memory). Codes are taken at their nominal luminance: a screen that
does not reach it flashes less, not more.
"""

from __future__ import annotations

from collections.abc import Sequence

from benchd.patch.model import Code, Transfer
from benchd.plan.signal import code_luminance
from benchd.plan.step import Step

FLASH_CHANGE_CD_M2 = 20.0
FLASH_DARKER_BELOW_CD_M2 = 160.0
FLASH_MICHELSON = 1.0 / 17.0
STATIC_BRIGHT_CD_M2 = 200.0
"""Above this an emissive panel should not show one patch for long (common practice: half of its full-screen light)."""
DO_NOT_STARE_CD_M2 = 1000.0
LUMA = (0.2627, 0.6780, 0.0593)  # ITU-R BT.2020

RED_SHARE = 0.8
RED_CHANGE = 0.25  # of the share of red; stands for a change of 0.2 in the 1976 diagram


def luminance(code: Code, bits: int, transfer: Transfer) -> float:
    """About the nominal luminance of a code, cd/m2."""
    return sum(weight * value for weight, value in zip(LUMA, _linear(code, bits, transfer), strict=True))


def flashes(old: Code, old_bits: int, new: Code, new_bits: int, transfer: Transfer) -> bool:
    """True when the change between two codes counts as half a flash, in general or of saturated red."""
    darker, lighter = sorted((luminance(old, old_bits, transfer), luminance(new, new_bits, transfer)))
    if darker < FLASH_DARKER_BELOW_CD_M2:
        if lighter - darker >= FLASH_CHANGE_CD_M2:
            return True
    elif (lighter - darker) / (lighter + darker) > FLASH_MICHELSON:
        return True
    first, second = _red_share(old, old_bits, transfer), _red_share(new, new_bits, transfer)
    return max(first, second) >= RED_SHARE and abs(first - second) > RED_CHANGE


def is_bright(code: Code, bits: int, transfer: Transfer) -> bool:
    """True when an emissive panel should not show this code for long."""
    return luminance(code, bits, transfer) > STATIC_BRIGHT_CD_M2


def cautions_hdr(steps: Sequence[Step], panel: str) -> list[str]:
    """Cautions for the operator before a run of HDR patches, or of readings over minutes."""
    found: list[str] = []
    hdr = [step.patch for step in steps if step.patch.transfer != "sdr"]
    if any(luminance(patch.code, patch.bits, patch.transfer) >= DO_NOT_STARE_CD_M2 for patch in hdr):
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


def _linear(code: Code, bits: int, transfer: Transfer) -> tuple[float, float, float]:
    red, green, blue = (code_luminance(value, bits, transfer) for value in code)
    return (red, green, blue)


def _red_share(code: Code, bits: int, transfer: Transfer) -> float:
    """R / (R + G + B) of the light; a third for black, as for every grey."""
    linear = _linear(code, bits, transfer)
    whole = sum(linear)
    # Red that is too dark to be seen is no flash.
    return linear[0] / whole if whole >= 1.0 else 1.0 / 3.0
