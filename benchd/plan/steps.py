"""Plan -> steps. Deterministic: the same plan text gives the same steps, ids and digest, always.

Order. Blocks stand as the plan lists them. Within a block:

- a place is gone to once: all patches of a place follow each other, and the places go row by row, there and
  back (serpentine), because a hand moves the meter; the place where the meter stands already comes first (the
  centre at the start of a plan), so that moves are fewest;
- at one place, ``order: shuffled`` (seeded) makes drift scatter instead of a shape; ``order: listed`` keeps
  the plan's order, and where places follow each other turns it round at every other place, so that the
  screen changes less;
- a block of only black and white shows black first: an emissive panel may keep white for a while.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal, NamedTuple, TypeVar

from benchd.patch.model import Code, Patch, field, grey, half_up, max_code
from benchd.plan.csv_patches import read_patches
from benchd.plan.model import Block, Care, Contrast, Grayscale, Plan, Uniformity, treatment
from benchd.plan.sweep import Point, included, label, points
from benchd.plan.values import grid_sides

CENTRE = (0.5, 0.5)
CHECKER_SIDE = 4  # 16 zones, after ANSI/INFOCOMM 3M-2011
WARM_UP_PERCENT = 50.0
DEFAULT_STEPS = 21
REFERENCE = "reference"
READING_S, DARK_READING_S = 0.6, 2.0  # planned time of a reading when the meter decides

At = tuple[float, float]
Role = dict[str, str | int | float]
Item = TypeVar("Item")


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a run: a patch, a place for the meter, and how many readings."""

    id: str  # such as "uniformity/r2c3/white"; unique in the plan
    block: str  # name of the block it belongs to; "" for the warm-up
    kind: Literal["measure", "warm_up"]
    patch: Patch
    role: dict[str, str | int | float]  # what analysis needs to know; see describe()
    place: str = "centre"  # "centre" or "r2c3"
    at: tuple[float, float] = CENTRE  # the meter's place, fractions of width and height
    readings: int = 3
    settle_s: float = 0.6
    integration_s: float | None = None
    dark: bool = False  # treated as a dark patch
    settings: Point = ()  # display controls and their values while this is measured

    @property
    def base(self) -> str:
        """The block's name in the plan, without the point of a sweep."""
        return self.block.rpartition("/")[2]


class _Cell(NamedTuple):
    """A place of the meter, rows and columns from 1."""

    row: int
    column: int
    at: tuple[float, float]

    @property
    def place(self) -> str:
        return f"r{self.row}c{self.column}"


def expand(plan: Plan, files: Mapping[str, str]) -> tuple[Step, ...]:
    """The steps of ``plan``. ``files``: the text of every CSV file that it names (`Plan.files`), by that name.

    Raises `ProfileError` for a fault in a CSV file and KeyError for a file that is not there.
    """
    steps: list[Step] = []
    if plan.warm_up.limits is not None:
        patch = field(grey(level_code(WARM_UP_PERCENT, plan.bits)), plan.bits)
        steps.append(Step("warm-up", "", "warm_up", patch, {}, readings=1, settle_s=0.0))
    here = CENTRE
    for point in sweep_points(plan):
        own: list[Step] = []
        for block in _blocks_at(plan, point):
            own.extend(_block_steps(plan, block, files, here))
            here = own[-1].at
        steps.extend(_at_point(step, point) for step in _with_references(plan, own))
    return tuple(steps)


def sweep_points(plan: Plan) -> tuple[Point, ...]:
    """The points of the plan's sweep in the order in which they are measured; one empty one without a sweep."""
    return points(plan.sweep, plan.skip, plan.only)


def _blocks_at(plan: Plan, point: Point) -> list[Block]:
    return [block for block in plan.blocks if included(point, block.body.skip, block.body.only)]


def _at_point(step: Step, point: Point) -> Step:
    if not point:
        return step
    prefix = label(point)
    return replace(step, id=f"{prefix}/{step.id}", block=f"{prefix}/{step.block}", settings=point)


def _with_references(plan: Plan, steps: Sequence[Step]) -> Iterator[Step]:
    """Reference readings put in where the planned time since the last one is over and the meter is at the centre."""
    if plan.reference is None:
        yield from steps
        return
    due_s, since_s, number = plan.reference.every_min * 60.0, math.inf, 0
    code = grey(level_code(plan.reference.percent, plan.bits))
    for step in steps:
        if since_s >= due_s and step.at == CENTRE:
            number, since_s = number + 1, 0.0
            care = treatment(plan, Care(), code, max_code(plan.bits))
            patch, role = field(code, plan.bits), Role(number=number)
            yield Step(
                f"{REFERENCE}/{number}",
                REFERENCE,
                "measure",
                patch,
                role,
                readings=care.readings,
                settle_s=care.settle_s,
                integration_s=care.integration_s,
                dark=care.dark,
            )
        yield step
        reading_s = step.integration_s or (DARK_READING_S if step.dark else READING_S)
        since_s += step.settle_s + step.readings * reading_s


def hands_last(steps: Sequence[Step]) -> tuple[Step, ...]:
    """The same steps, those away from the centre after all others: where a hand moves the meter, everything
    that needs none is done before anybody must be there."""
    return (*(step for step in steps if step.at == CENTRE), *(step for step in steps if step.at != CENTRE))


def describe(plan: Plan, files: Mapping[str, str]) -> list[dict[str, Any]]:
    """The blocks as a log keeps them, for analysis: name, kind, and what must be there to be complete."""
    described: list[dict[str, Any]] = []
    for point in sweep_points(plan):
        at_point = [_described(plan, block, files) for block in _blocks_at(plan, point)]
        if plan.reference is not None and at_point:
            at_point.append({"name": REFERENCE, "kind": "reference", "percent": plan.reference.percent})
        for entry in at_point:
            if point:
                entry |= {"base": entry["name"], "settings": dict(point)}
                entry["name"] = f"{label(point)}/{entry['name']}"
        described.extend(at_point)
    return described


def _described(plan: Plan, block: Block, files: Mapping[str, str]) -> dict[str, Any]:
    entry: dict[str, Any] = {"name": block.name, "kind": block.kind}
    if block.contrast is not None:
        entry |= {"kinds": list(block.contrast.kinds), "columns": CHECKER_SIDE, "rows": CHECKER_SIDE}
    elif block.grayscale is not None:
        gray = block.grayscale
        codes = list(grayscale_codes(gray, plan.bits))
        entry |= {"codes": codes, "bits": plan.bits, "white": gray.white, "area_percent": gray.area_percent}
    elif block.uniformity is not None:
        columns, rows = grid_sides(block.uniformity.grid)
        levels = [
            {"level": level_name(percent), "percent": percent, "code": level_code(percent, plan.bits)}
            for percent in block.uniformity.levels_percent
        ]
        margin = block.uniformity.margin_percent
        entry |= {"columns": columns, "rows": rows, "levels": levels, "margin_percent": margin}
    elif block.patches is not None:
        entry |= {"names": [name for name, _ in _named_patches(plan, block, files)]}
    return entry


def digest(steps: Sequence[Step]) -> str:
    """SHA-256 (hex) of the steps as canonical JSON: the same for the same steps, on every machine."""
    plain = [
        [
            *(step.id, step.block, step.kind, step.role, step.place, step.at),
            *(step.readings, step.settle_s, step.integration_s, step.dark),
            *(step.patch.kind, step.patch.code, step.patch.bits, step.patch.surround, step.patch.area_percent),
            *(step.patch.columns, step.patch.rows, step.patch.inverse, step.patch.at),
            *step.settings,
        ]
        for step in steps
    ]
    text = json.dumps(plain, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def settings(plan: Plan) -> dict[str, Any]:
    """The plan-wide settings as a log keeps them."""
    keys = ("settle_s", "dark_settle_s", "readings", "dark_readings", "order", "seed", "bits")
    return {key: getattr(plan, key) for key in keys}


def level_code(percent: float, bits: int) -> int:
    """The code nearest to ``percent`` of the largest code, half up.

    The product comes before the division: 42.5 codes are 42.5 then, not 42.49999.
    """
    return half_up(percent * max_code(bits) / 100.0)


def level_name(percent: float) -> str:
    """``white``, ``black`` or such as ``grey50``."""
    return "white" if percent == 100 else "black" if percent == 0 else f"grey{percent:g}"


def grayscale_codes(block: Grayscale, bits: int) -> tuple[int, ...]:
    """The codes of a grayscale, as listed, or equal steps rounded half up (whole numbers only, so exactly)."""
    if block.codes is not None:
        return block.codes
    count, top = block.steps or DEFAULT_STEPS, max_code(bits)
    return tuple((2 * index * top + (count - 1)) // (2 * (count - 1)) for index in range(count))


def positions(count: int, margin_percent: float) -> tuple[float, ...]:
    """``count`` fractions, equally spaced from the margin to its opposite; a single one is the middle.

    With 10 % and 3 or 5 places: the positions of FPDM 306-1 and IDMS chapter 8 (from memory).
    """
    if count == 1:
        return (0.5,)
    margin = margin_percent / 100.0
    return tuple(round(margin + index * (1.0 - 2.0 * margin) / (count - 1), 9) for index in range(count))


def _block_steps(plan: Plan, block: Block, files: Mapping[str, str], here: At) -> Iterator[Step]:
    """The steps of a block; the meter stands ``here`` before it."""
    if block.luminance is not None:
        yield from _black_white(plan, block, {})
    elif block.contrast is not None:
        yield from _contrast(plan, block, block.contrast, here)
    elif block.grayscale is not None:
        yield from _grayscale(plan, block, block.grayscale)
    elif block.uniformity is not None:
        yield from _uniformity(plan, block, block.uniformity, here)
    else:
        patches = _named_patches(plan, block, files)
        for name, patch in _ordered(plan, block, patches, key=lambda item: item[0]):
            yield _step(plan, block, name, patch, {"name": name}, patch.code)


def _black_white(plan: Plan, block: Block, role: Role) -> Iterator[Step]:
    for level, code in (("black", 0), ("white", max_code(plan.bits))):
        patch = field(grey(code), plan.bits)
        yield _step(plan, block, level, patch, {**role, "level": level}, patch.code)


def _contrast(plan: Plan, block: Block, contrast: Contrast, here: At) -> Iterator[Step]:
    # In the order of the least moves, whatever the list says: first the one that is measured here.
    boards = list(_checkerboards(plan, block, here)) if "checkerboard" in contrast.kinds else []
    screens = list(_black_white(plan, block, {"kind": "sequential"})) if "sequential" in contrast.kinds else []
    yield from [*boards, *screens] if boards and boards[0].at == here else [*screens, *boards]


def _checkerboards(plan: Plan, block: Block, here: At) -> Iterator[Step]:
    middles = tuple((index + 0.5) / CHECKER_SIDE for index in range(CHECKER_SIDE))
    white, black = grey(max_code(plan.bits)), grey(0)
    for number, cell in enumerate(_serpentine(middles, middles, here)):
        for polarity in _at_place(plan, block, cell, number, ("normal", "inverse")):
            inverse = polarity == "inverse"
            patch = Patch(
                "checkerboard", white, plan.bits, black, columns=CHECKER_SIDE, rows=CHECKER_SIDE, inverse=inverse
            )
            lit = ((cell.row + cell.column) % 2 == 0) != inverse
            role: Role = {"kind": "checkerboard", "polarity": polarity, "row": cell.row, "column": cell.column}
            role["level"] = "white" if lit else "black"
            board = "checker-inverse" if inverse else "checker"
            yield _step(plan, block, f"{board}/{cell.place}", patch, role, white if lit else black, cell)


def _grayscale(plan: Plan, block: Block, gray: Grayscale) -> Iterator[Step]:
    surround = grey(level_code(gray.surround_percent, plan.bits))
    for code in _ordered(plan, block, grayscale_codes(gray, plan.bits), key=str):
        patch = _window(grey(code), plan.bits, gray.area_percent, surround)
        yield _step(plan, block, f"code-{code}", patch, {"code": code}, patch.code)


def _uniformity(plan: Plan, block: Block, uniformity: Uniformity, here: At) -> Iterator[Step]:
    columns, rows = grid_sides(uniformity.grid)
    xs, ys = (positions(count, uniformity.margin_percent) for count in (columns, rows))
    for number, cell in enumerate(_serpentine(xs, ys, here)):
        for percent in _at_place(plan, block, cell, number, uniformity.levels_percent):
            patch = field(grey(level_code(percent, plan.bits)), plan.bits)
            level = level_name(percent)
            role: Role = {"row": cell.row, "column": cell.column, "level": level, "level_percent": percent}
            yield _step(plan, block, f"{cell.place}/{level}", patch, role, patch.code, cell)


def _named_patches(plan: Plan, block: Block, files: Mapping[str, str]) -> list[tuple[str, Patch]]:
    patches = block.patches
    assert patches is not None  # asked only for such a block
    named: list[tuple[str, Patch]] = []
    for item in patches.list:
        area = patches.area_percent if item.area_percent is None else item.area_percent
        surround = patches.surround if item.surround is None else item.surround
        named.append((item.name, _window(item.code, plan.bits, area, surround)))
    if patches.file is not None:
        listed = frozenset(item.name for item in patches.list)
        for row in read_patches(files[patches.file], patches.file, plan.bits, listed):
            area = patches.area_percent if row.area_percent is None else row.area_percent
            named.append((row.name, _window(row.code, plan.bits, area, patches.surround)))
    return named


def _step(plan: Plan, block: Block, rest: str, patch: Patch, role: Role, seen: Code, cell: _Cell | None = None) -> Step:
    """A measuring step; ``seen`` is the code in front of the meter."""
    care = treatment(plan, block.body, seen, max_code(plan.bits))
    return Step(
        id=f"{block.name}/{rest}",
        block=block.name,
        kind="measure",
        patch=patch,
        role=role,
        place=cell.place if cell else "centre",
        at=cell.at if cell else CENTRE,
        readings=care.readings,
        settle_s=care.settle_s,
        integration_s=care.integration_s,
        dark=care.dark,
    )


def _window(code: Code, bits: int, area_percent: float, surround: Code) -> Patch:
    if area_percent >= 100:
        return field(code, bits)
    return Patch("window", code, bits, surround, area_percent)


def _serpentine(xs: Sequence[float], ys: Sequence[float], here: At) -> list[_Cell]:
    """Row by row, there and back; a cell where the meter stands already first."""
    cells: list[_Cell] = []
    for row, y in enumerate(ys, start=1):
        line = [_Cell(row, column, (x, y)) for column, x in enumerate(xs, start=1)]
        cells.extend(line if row % 2 else reversed(line))
    return sorted(cells, key=lambda cell: cell.at != here)


def _at_place(plan: Plan, block: Block, cell: _Cell, number: int, items: Sequence[Item]) -> Iterable[Item]:
    """The patches of the ``number``-th place in their order."""
    if _order(plan, block) == "shuffled":
        return _shuffled(plan, block, items, key=lambda item: f"{cell.place}/{item}")
    return items if number % 2 == 0 else tuple(reversed(items))


def _ordered(plan: Plan, block: Block, items: Sequence[Item], key: Any) -> Iterable[Item]:
    return _shuffled(plan, block, items, key) if _order(plan, block) == "shuffled" else items


def _order(plan: Plan, block: Block) -> str:
    return block.body.order or plan.order


def _shuffled(plan: Plan, block: Block, items: Sequence[Item], key: Any) -> list[Item]:
    """By the hash of seed, block and item: an order that no version of any library can change."""

    def rank(item: Item) -> bytes:
        return hashlib.sha256(f"{plan.seed}/{block.name}/{key(item)}".encode()).digest()

    return sorted(items, key=rank)
