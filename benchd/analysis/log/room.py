"""The room beside contrast and black: a light of more than a twentieth of the screen's black belongs to the figure.

IEC 62977-2-1:2021, 5.1 asks that the light of the room which the screen reflects is less than a twentieth of its black.
Where a plan reads the room (``ambient:``), every black and every contrast of the log says so where it is not, or where
that is not known: black reads high then, and contrast low. Pure; the figures themselves stay as they were read.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any, TypeVar

from benchd.analysis.kinds import AMBIENT
from benchd.analysis.log.results_offset import Offset
from benchd.analysis.meter_model.metrology import OFFSET
from benchd.analysis.results import CheckerboardContrast, Contrast, Grayscale, Luminance, Polarity, SequentialContrast
from benchd.analysis.results_hdr import Halo, ToneCurve
from benchd.analysis.uncertainty.quantity import Quantity, difference, scaled, with_note
from benchd.analysis.uncertainty.rounding import plain_text, rounded_outward

SHARE_OF_BLACK = 20.0
"""The room's light should be below a twentieth of the screen's black (IEC 62977-2-1:2021)."""
ROOM = "the room's light"
"""What every note on the room begins with."""

ALL_OF_BLACK = "is all of what was read of black: the display may not have been off, or gives no light"
"""Where that is so nothing is known of the screen's black: a display left on by mistake reads the same."""


def with_room(blocks: Mapping[str, Any], offsets: Sequence[Offset], meter_floor: float | None) -> dict[str, Any]:
    """The results of blocks with the note on the room at their blacks and contrasts, where it is called for."""
    ambient = next((one for one in offsets if one.block == AMBIENT and not one.missing), None)
    if ambient is None:
        return dict(blocks)
    return {name: _noted(one, ambient, meter_floor) for name, one in blocks.items()}


def room_words(why: str) -> str:
    """What the note of a figure says of the room; "" where it says nothing."""
    return "; ".join(dict.fromkeys(piece for piece in why.split("; ") if piece.startswith(ROOM)))


def room_note(ambient: Offset, black: Quantity, meter_floor: float | None = None) -> str:
    """What must be said of the room beside ``black`` (cd/m2, as read or net of the room); "" where it is dark enough.

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


def _noted(block: Any, ambient: Offset, floor: float | None) -> Any:
    def note(black: Quantity) -> str:
        return room_note(ambient, black, floor)

    if isinstance(block, Luminance):
        return replace(block, black=_with(block.black, note(block.black)))
    if isinstance(block, Contrast):
        sequential = block.sequential and _pair(block.sequential, note(block.sequential.black))
        return replace(
            block, sequential=sequential, checkerboard=block.checkerboard and _board(block.checkerboard, note)
        )
    if isinstance(block, Grayscale) and (dark := [one for one in block.steps if one.code == 0]):
        words = note(dark[0].luminance)
        first = replace(dark[0], luminance=_with(dark[0].luminance, words))
        steps = tuple(first if one is dark[0] else one for one in block.steps)
        return replace(block, steps=steps, remarks=(*block.remarks, *([words] if words else [])))
    if isinstance(block, ToneCurve):
        return replace(block, black=_with(block.black, note(block.black)))
    if isinstance(block, Halo):
        words = note(block.black)
        beside = tuple(replace(one, contrast=_with(one.contrast, note(one.black))) for one in block.beside)
        boards = tuple(replace(one, contrast=_with(one.contrast, note(one.black))) for one in block.boards)
        lowest, alone = _with(block.black, words), _with(block.sequential, words)
        return replace(block, black=lowest, sequential=alone, beside=beside, boards=boards)
    return block


def _with(quantity: Quantity, words: str) -> Quantity:
    return with_note(quantity, words) if words and quantity.present else quantity


Pair = TypeVar("Pair", SequentialContrast, Polarity)


def _pair(one: Pair, words: str) -> Pair:
    """A contrast with its black."""
    return replace(one, black=_with(one.black, words), ratio=_with(one.ratio, words))


def _board(board: CheckerboardContrast, note: Callable[[Quantity], str]) -> CheckerboardContrast:
    normal, inverse = (_pair(one, note(one.black)) for one in (board.normal, board.inverse))
    said = next(filter(None, (room_words(one.ratio.why) for one in (normal, inverse))), "")
    return replace(board, normal=normal, inverse=inverse, ratio=_with(board.ratio, said))
