"""What the first record of a log, and that of each later session, states of the whole; settings of the display."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

DARK_OFFSET, AMBIENT = OFFSETS = ("dark_offset", "ambient")
"""Names of the blocks of what was read beside the patches."""


class SetRecord(NamedTuple):
    """A control of the display was set for a step; ``by`` says how, ``read_back`` is None where nothing could."""

    seq: int
    step: str
    control: str
    asked: int | float | str
    read_back: int | float | str | None
    by: str


def points_of(head: Mapping[str, Any]) -> dict[str, str]:
    """The settings of the display that each block is measured at, as text; blocks without any are left out."""
    blocks = head.get("blocks")
    several = [block for block in blocks if isinstance(block, dict)] if isinstance(blocks, list) else []
    return {str(block.get("name")): str(block["settings"]) for block in several if "settings" in block}


def simulated_in(body: Mapping[str, Any]) -> bool:
    """True when a simulator took part."""
    parts = (body, *(body.get(part) or {} for part in ("meter", "screen", "correction", "repeatability")))
    return any(bool(part.get("simulated")) for part in parts)
