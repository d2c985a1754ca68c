"""The note on the room at a black, a contrast: how it is put there, and read from there."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any, TypeVar

from benchd.analysis.uncertainty.quantity import Quantity, with_note

ROOM = "the room's light"
"""What every note on the room begins with."""

Pair = TypeVar("Pair", bound=Any)


def noted(quantity: Quantity, words: str) -> Quantity:
    """The figure with the note, where there are both."""
    return with_note(quantity, words) if words and quantity.present else quantity


def noted_contrast(one: Pair, words: str) -> Pair:
    """A contrast with its black: a class with ``black`` and ``ratio``."""
    changed: Pair = replace(one, black=noted(one.black, words), ratio=noted(one.ratio, words))
    return changed


def noted_black(one: Pair, note: Callable[[Quantity], str]) -> Pair:
    """A result with the note on its ``black``."""
    changed: Pair = replace(one, black=noted(one.black, note(one.black)))
    return changed


def room_words(why: str) -> str:
    """The part of a figure's note that is on the room; "" where there is none."""
    return "; ".join(dict.fromkeys(piece for piece in why.split("; ") if piece.startswith(ROOM)))
