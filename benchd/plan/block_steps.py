"""Each kind of block -> its steps, and what a log keeps of it for analysis. A new kind adds a function to each.

What only few plans have is imported where a plan has it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from benchd.patch.model import Patch, field, grey, max_code
from benchd.plan.blocks import Block, Contrast, Grayscale, Uniformity
from benchd.plan.plan import Plan
from benchd.plan.step import At, Labels, Step
from benchd.plan.step_layout import at_place, level_code, level_name, ordered, serpentine, step, window
from benchd.profile.reading.values import grid_sides

CHECKER_SIDE = 4  # 16 zones, after ANSI/INFOCOMM 3M-2011
DEFAULT_STEPS = 21


def described(plan: Plan, block: Block, files: Mapping[str, str]) -> dict[str, Any]:
    """What a log keeps of a block, for analysis."""
    entry: dict[str, Any] = {"name": block.name, "kind": block.kind}
    if block.contrast is not None:
        entry |= {"kinds": list(block.contrast.kinds), "columns": CHECKER_SIDE, "rows": CHECKER_SIDE}
    elif block.grayscale is not None:
        gray = block.grayscale
        codes = list(grayscale_codes(gray, plan.bits))
        entry |= {"codes": codes, "bits": plan.bits, "white": gray.white}
        entry |= {"area_percent": gray.area_percent, "surround_percent": gray.surround_percent}
    elif block.uniformity is not None:
        columns, rows = grid_sides(block.uniformity.grid)
        levels = [
            {"level": level_name(percent), "percent": percent, "code": level_code(percent, plan.bits)}
            for percent in block.uniformity.levels_percent
        ]
        margin = block.uniformity.margin_percent
        entry |= {"columns": columns, "rows": rows, "levels": levels, "margin_percent": margin}
    elif block.patches is not None:
        entry |= {"names": [name for name, _ in named_patches(plan, block, files)]}
    elif block.gamut is not None:
        from benchd.plan.steps_colour import gamut_described

        entry |= gamut_described(plan, block.gamut, files)
    elif block.colours is not None:
        from benchd.plan.steps_colour import colours_described

        entry |= colours_described(plan, block, block.colours, files)
    elif block.luminance is None:
        from benchd.plan.steps_hdr import described_hdr

        entry |= described_hdr(plan, block)
    return entry


def block_steps(plan: Plan, block: Block, files: Mapping[str, str], here: At) -> Iterator[Step]:
    """The steps of a block; the meter stands ``here`` before it."""
    if block.luminance is not None:
        yield from _black_white(plan, block, {})
    elif block.contrast is not None:
        yield from _contrast(plan, block, block.contrast, here)
    elif block.grayscale is not None:
        yield from _grayscale(plan, block, block.grayscale)
    elif block.uniformity is not None:
        yield from _uniformity(plan, block, block.uniformity, here)
    elif block.patches is not None:
        patches = named_patches(plan, block, files)
        for name, patch in ordered(plan, block, patches, key=lambda item: item[0]):
            yield step(plan, block, name, patch, {"name": name}, patch.code)
    elif block.gamut is not None:
        from benchd.plan.steps_colour import gamut_steps

        yield from gamut_steps(plan, block, block.gamut)
    elif block.colours is not None:
        from benchd.plan.steps_colour import colours_steps

        yield from colours_steps(plan, block, block.colours, files)
    else:
        from benchd.plan.steps_hdr import hdr_steps

        yield from hdr_steps(plan, block)


def _black_white(plan: Plan, block: Block, labels: Labels) -> Iterator[Step]:
    for level, code in (("black", 0), ("white", max_code(plan.bits))):
        patch = field(grey(code), plan.bits)
        yield step(plan, block, level, patch, {**labels, "level": level}, patch.code)


def _contrast(plan: Plan, block: Block, contrast: Contrast, here: At) -> Iterator[Step]:
    # In the order of the least moves, whatever the list says: first the one that is measured here.
    boards = list(_checkerboards(plan, block, here)) if "checkerboard" in contrast.kinds else []
    screens = list(_black_white(plan, block, {"kind": "sequential"})) if "sequential" in contrast.kinds else []
    yield from [*boards, *screens] if boards and boards[0].at == here else [*screens, *boards]


def _checkerboards(plan: Plan, block: Block, here: At) -> Iterator[Step]:
    middles = tuple((index + 0.5) / CHECKER_SIDE for index in range(CHECKER_SIDE))
    white, black = grey(max_code(plan.bits)), grey(0)
    for number, cell in enumerate(serpentine(middles, middles, here)):
        for polarity in at_place(plan, block, cell, number, ("normal", "inverse")):
            inverse = polarity == "inverse"
            patch = Patch(
                "checkerboard", white, plan.bits, black, columns=CHECKER_SIDE, rows=CHECKER_SIDE, inverse=inverse
            )
            lit = ((cell.row + cell.column) % 2 == 0) != inverse
            labels: Labels = {"kind": "checkerboard", "polarity": polarity, "row": cell.row, "column": cell.column}
            labels["level"] = "white" if lit else "black"
            board = "checker-inverse" if inverse else "checker"
            yield step(plan, block, f"{board}/{cell.place}", patch, labels, white if lit else black, cell)


def _grayscale(plan: Plan, block: Block, gray: Grayscale) -> Iterator[Step]:
    surround = grey(level_code(gray.surround_percent, plan.bits))
    for code in ordered(plan, block, grayscale_codes(gray, plan.bits), key=str):
        patch = window(grey(code), plan.bits, gray.area_percent, surround)
        yield step(plan, block, f"code-{code}", patch, {"code": code}, patch.code)


def _uniformity(plan: Plan, block: Block, uniformity: Uniformity, here: At) -> Iterator[Step]:
    columns, rows = grid_sides(uniformity.grid)
    xs, ys = (positions(count, uniformity.margin_percent) for count in (columns, rows))
    for number, cell in enumerate(serpentine(xs, ys, here)):
        for percent in at_place(plan, block, cell, number, uniformity.levels_percent):
            patch = field(grey(level_code(percent, plan.bits)), plan.bits)
            level = level_name(percent)
            labels: Labels = {"row": cell.row, "column": cell.column, "level": level, "level_percent": percent}
            yield step(plan, block, f"{cell.place}/{level}", patch, labels, patch.code, cell)


def named_patches(plan: Plan, block: Block, files: Mapping[str, str]) -> list[tuple[str, Patch]]:
    """The patches of a free list with their names: the plan\'s first, then those of its CSV file."""
    patches = block.patches
    assert patches is not None  # asked only for such a block
    named: list[tuple[str, Patch]] = []
    for item in patches.list:
        area = patches.area_percent if item.area_percent is None else item.area_percent
        surround = patches.surround if item.surround is None else item.surround
        code = item.code
        if item.level_cd_m2 is not None:
            from benchd.plan.steps_hdr import level_grey

            code = level_grey(plan, item.level_cd_m2)
        assert code is not None  # the plan was refused without
        named.append((item.name, window(code, plan.bits, area, surround)))
    if patches.file is not None:
        from benchd.measurements.patches.csv_patches import read_patches

        listed = frozenset(item.name for item in patches.list)
        for row in read_patches(files[patches.file], patches.file, plan.bits, listed):
            area = patches.area_percent if row.area_percent is None else row.area_percent
            named.append((row.name, window(row.code, plan.bits, area, patches.surround)))
    return named


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
