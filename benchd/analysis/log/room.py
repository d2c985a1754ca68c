"""The room beside contrast and black: a light of more than a twentieth of the screen's black belongs to the figure.

IEC 62977-2-1:2021, 5.1 requires that the light of the room which the screen reflects is less than a twentieth of its
black. Where a plan reads the room (``ambient:``), every black and every contrast of the log carries a note where it is
not, or where that is not known: black reads high then, and contrast low. Pure; the figures themselves stay as they were
read.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from benchd.analysis.log.log_data import AMBIENT
from benchd.analysis.log.results_run import Offset
from benchd.analysis.log.room_note import ROOM
from benchd.analysis.measurement import result_part
from benchd.analysis.meter_model.metrology import OFFSET
from benchd.analysis.uncertainty.quantity import Quantity, difference, scaled
from benchd.analysis.uncertainty.rounding import plain_text, rounded_outward

SHARE_OF_BLACK = 20.0
"""The room's light should be below a twentieth of the screen's black (IEC 62977-2-1:2021)."""
ALL_OF_BLACK = "is all of what was read of black: the display may not have been off, or gives no light"
"""Where that is so nothing is known of the screen's black: a display left on by mistake reads the same."""


def with_room(block: Any, offsets: Sequence[Offset], meter_floor: float | None) -> Any:
    """The result of a block with the note on the room at its black and contrast, where it is called for."""
    ambient = next((one for one in offsets if one.block == AMBIENT and not one.missing), None)
    with_note = result_part(block.kind).with_room
    if ambient is None or with_note is None:
        return block
    return with_note(block, lambda black: room_note(ambient, black, meter_floor))


def room_note(ambient: Offset, black: Quantity, meter_floor: float | None = None) -> str:
    """The note on the room beside ``black`` (cd/m2, as read or net of the room); "" where it is dark enough.

    ``meter_floor``: the lower limit of the meter's specified range, cd/m2; None where it is not known.
    """
    if black.value is None:
        return ""
    limit = "a twentieth of the screen's black"
    if ambient.screen == "black":
        return f"{ROOM} was read on the black screen, so whether it is below {limit} is inconclusive (screen: off)"
    room = ambient.luminance
    if room.value is None:
        if meter_floor is not None and SHARE_OF_BLACK * meter_floor <= black.value and black.bound is None:
            return ""
        return f"{ROOM} could not be read, so whether it is below {limit} is inconclusive"
    taken = _net_of_room(black)
    net = black.value if taken or black.bound else black.value - room.value
    shown = f"{ROOM}, {plain_text(room.value)} cd/m2{' (subtracted)' if taken else ''},"
    if SHARE_OF_BLACK * room.value > net:
        if net <= 0.0 or (black.bound and room.value >= net):
            return f"{shown} {ALL_OF_BLACK}"
        percent = 100.0 * room.value / net
        share = f"at least {plain_text(rounded_outward(percent, up=False))}" if black.bound else plain_text(percent)
        effect = "" if taken else ": black reads high and contrast low"
        return f"{shown} is {share} % of the screen's black, more than a twentieth{effect}"
    if black.bound:
        return f"{shown} is not known to be below {limit}, of which there is only a bound"
    excess = difference(scaled(room, SHARE_OF_BLACK + (0.0 if taken else 1.0), room.unit), black)
    interval = excess.interval
    if interval is not None and interval[1] > 0.0:
        return (
            f"{shown} is {plain_text(100.0 * room.value / net)} % of the screen's black, not surely below a twentieth"
        )
    return ""


def _net_of_room(black: Quantity) -> bool:
    """Was the room's light subtracted from this black? Its mean is a source of the black's uncertainty then."""
    found: Mapping[Any, float] = (black.sources.contributions() if black.sources else None) or {}
    return any(source.name == f"{OFFSET}{AMBIENT}" for source in found)
