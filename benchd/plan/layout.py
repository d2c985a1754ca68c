"""What blocks lay their steps with: levels, windows, places and their order; spaces; the codes of an HDR signal."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from typing import Any, NamedTuple, TypeVar

from benchd.patch.model import Code, Patch, Transfer, field, grey, half_up, max_code
from benchd.plan.blocks import Block
from benchd.plan.plan import Plan, treatment
from benchd.plan.step import CENTRE, At, Labels, Step
from benchd.profile.profile_store import load_space

Item = TypeVar("Item")


class GridCell(NamedTuple):
    """A place of the meter, rows and columns from 1."""

    row: int
    column: int
    at: tuple[float, float]

    @property
    def place(self) -> str:
        return f"r{self.row}c{self.column}"


def level_code(percent: float, bits: int) -> int:
    """The code nearest to ``percent`` of the largest code, half up.

    The product comes before the division: 42.5 codes are 42.5 then, not 42.49999.
    """
    return half_up(percent * max_code(bits) / 100.0)


def level_name(percent: float) -> str:
    """``white``, ``black`` or such as ``grey50``."""
    return "white" if percent == 100 else "black" if percent == 0 else f"grey{percent:g}"


def step(
    plan: Plan, block: Block, rest: str, patch: Patch, labels: Labels, seen: Code, cell: GridCell | None = None
) -> Step:
    """A measuring step; ``seen`` is the code in front of the meter."""
    treated = treatment(plan, block.body, seen, max_code(plan.bits))
    place, at = (cell.place, cell.at) if cell else ("centre", CENTRE)
    return treated.step(f"{block.name}/{rest}", block.name, patch, labels, place, at)


def window(code: Code, bits: int, area_percent: float, surround: Code, transfer: Transfer = "sdr") -> Patch:
    """A full screen, or a centred window on a surround."""
    if area_percent >= 100:
        return Patch("field", code, bits, transfer=transfer)
    return Patch("window", code, bits, surround, area_percent, transfer=transfer)


def serpentine(xs: Sequence[float], ys: Sequence[float], here: At) -> list[GridCell]:
    """Row by row, there and back; a cell where the meter stands already first."""
    cells: list[GridCell] = []
    for row, y in enumerate(ys, start=1):
        line = [GridCell(row, column, (x, y)) for column, x in enumerate(xs, start=1)]
        cells.extend(line if row % 2 else reversed(line))
    return sorted(cells, key=lambda cell: cell.at != here)


def at_place(plan: Plan, block: Block, cell: GridCell, number: int, items: Sequence[Item]) -> Iterable[Item]:
    """The patches of the ``number``-th place in their order."""
    if _order(plan, block) == "shuffled":
        return _shuffled(plan, block, items, key=lambda item: f"{cell.place}/{item}")
    return items if number % 2 == 0 else tuple(reversed(items))


def ordered(plan: Plan, block: Block, items: Sequence[Item], key: Any) -> Iterable[Item]:
    """The items of one place in the order that the block requests.

    An item is a code of grey, a colour, or a pair of a name and a patch, a colour or a level.
    """
    if _order(plan, block) == "there_and_back":
        return _there_and_back(plan, block, items, key)
    return _shuffled(plan, block, items, key) if _order(plan, block) == "shuffled" else items


def _order(plan: Plan, block: Block) -> str:
    return block.body.order or plan.order


def _shuffled(plan: Plan, block: Block, items: Sequence[Item], key: Any) -> list[Item]:
    """By the hash of seed, block and item: an order that no version of any library can change."""

    def rank(item: Item) -> bytes:
        return hashlib.sha256(f"{plan.seed}/{block.name}/{key(item)}".encode()).digest()

    return sorted(items, key=rank)


def _there_and_back(plan: Plan, block: Block, items: Sequence[Item], key: Any) -> list[Item]:
    """From dark to bright and back, one of two neighbours on the way there and the other on the way back.

    Every step is to one of the two next levels, so it is small. A level is met as early on one way as late on the
    other, so the time of a patch does not go with its brightness, and drift does not look like a curve. Which of two
    neighbours comes first is drawn by the seed.
    """
    levels = sorted(items, key=lambda item: (_level(item), str(key(item))))
    there: list[Item] = []
    back: list[Item] = []
    for first in range(0, len(levels), 2):
        pair = _shuffled(plan, block, levels[first : first + 2], key)
        there.append(pair[0])
        back.extend(pair[1:])
    return [*there, *reversed(back)]


def _level(item: Any) -> float:
    """What an item's luminance goes with, for a gamma of 2.2; of a pair, its colour or else its number counts."""
    if isinstance(item, Patch):
        item = item.code
    if isinstance(item, (int, float)):
        item = (item, item, item)
    if isinstance(item, tuple) and len(item) == 3 and all(isinstance(part, (int, float)) for part in item):
        red, green, blue = (math.pow(float(code), 2.2) for code in item)
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue
    parts = [part for part in item if not isinstance(part, str)] if isinstance(item, tuple) else []
    return _level(parts[-1]) if parts else 0.0


def black_white(plan: Plan, block: Block, labels: Labels) -> Iterator[Step]:
    """Full-screen black, then white: an emissive panel may keep white for a while."""
    for level, code in (("black", 0), ("white", max_code(plan.bits))):
        patch = field(grey(code), plan.bits)
        yield step(plan, block, level, patch, {**labels, "level": level}, patch.code)


HUES: dict[str, tuple[int, int, int]] = {
    "red": (1, 0, 0),
    "green": (0, 1, 0),
    "blue": (0, 0, 1),
    "cyan": (0, 1, 1),
    "magenta": (1, 0, 1),
    "yellow": (1, 1, 0),
}


def space_of(files: Mapping[str, str], name: str) -> dict[str, Any]:
    """The figures of a space whose text is among the plan's files."""
    key = f"spaces/{name}"
    return {**_parsed_space(key, files[key])}


@lru_cache(maxsize=64)
def _parsed_space(key: str, text: str) -> dict[str, Any]:
    """The figures in the text of a space; every point of a sweep needs the same few."""
    return load_space(text, f"{key}.yaml").normalised()


def signal_entry(plan: Plan) -> dict[str, Any]:
    """What a log keeps of the signal with each of these blocks."""
    return {"bits": plan.bits, "signal": plan.signal.described() if plan.signal else None}


def level_grey(plan: Plan, level_cd_m2: float) -> Code:
    """The code of a grey of ``level_cd_m2``; only in a plan with a signal."""
    assert plan.signal is not None  # the plan was refused without
    return grey(plan.signal.level(level_cd_m2))


def transfer_of(plan: Plan) -> Transfer:
    """The transfer function of the plan's codes."""
    return plan.signal.transfer if plan.signal else "sdr"


def black_code(plan: Plan) -> Code:
    """The smallest code of the signal's range. SDR codes have no narrow range and no levels here."""
    return plan.signal.black if plan.signal else grey(0)


def bright_code(plan: Plan, level_cd_m2: float | None) -> Code:
    """The code of a level, or the largest one."""
    if plan.signal is None:
        return grey(max_code(plan.bits))
    return plan.signal.brightest if level_cd_m2 is None else grey(plan.signal.level(level_cd_m2))


def signal_window(plan: Plan, code: Code, area_percent: float) -> Patch:
    """A centred window on the signal's black, or a full screen."""
    return window(code, plan.bits, area_percent, black_code(plan), transfer_of(plan))
