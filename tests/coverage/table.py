"""The study's table: worlds as columns, families of figures as rows, in each cell the worst kind of the family."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from tests.coverage.study import MANY, Tally, short
from tests.coverage.worlds import World

ROWS = (
    ("white luminance", r"(luminance|contrast/.*)/white$"),
    ("black luminance", r"(luminance|contrast/.*)/black$"),
    ("colour of white: x, y, u', v', CCT, Duv", r"luminance/white_chromaticity/"),
    ("contrast, full screen", r"contrast/sequential/ratio$"),
    ("contrast, checkerboard", r"contrast/checkerboard/(\*/)?ratio$"),
    ("greys: luminance", r"grayscale/\*/luminance$"),
    ("greys: x, y, u', v', CCT, Duv", r"grayscale/\*/chromaticity/"),
    ("greys: luminance error, target, balance", r"grayscale/\*/(luminance_error|target_luminance|rgb_balance)"),
    ("greys: gamma of a step", r"grayscale/\*/(local|point)_gamma$"),
    ("gamma fitted", r"grayscale/gamma_fits/"),
    ("greys: colour differences", r"grayscale/\*/(delta_uv|delta_e)"),
    ("greys: mean, median, largest difference", r"grayscale/delta_e/"),
    ("uniformity: places", r"uniformity/\w+/\*/"),
    ("uniformity: of the screen", r"uniformity/\w+/[a-z_]+$"),
    ("gamut: colours, additivity", r"gamut/(colours|additivity)"),
    ("gamut: coverage, area", r"gamut/coverage/"),
    ("gamut: volume, hue", r"gamut/(volumes|hue_shifts)/"),
    ("sweep", r"sweep/|\*/grayscale/"),
    ("difference of two displays", r"difference/"),
)


def row_of(kind: str) -> str:
    """The family that a kind of figure belongs to; "others" for one that no row names."""
    return next((name for name, pattern in ROWS if re.match(pattern, kind)), "others")


def cell(kinds: Mapping[str, Tally]) -> str:
    """The lowest share held and the largest width of the kinds of one family, with what is not intervals."""
    most = max(tally.displays for tally in kinds.values())
    common = [tally for tally in kinds.values() if tally.displays >= min(MANY, most)]
    text = f"{100.0 * min(tally.share for tally in common):.1f}"
    widths = [width for tally in common if (width := tally.width) is not None and len(tally.off) >= min(MANY, most)]
    if widths:
        text += f" / {max(widths):.2f}"
    figures = sum(tally.figures for tally in common)
    for name in ("bounds", "without"):
        count = sum(getattr(tally, name) for tally in common)
        if count > 0.005 * figures:
            text += f"; {100.0 * count / figures:.0f} % {name}"
    return text


def table(found: Sequence[tuple[World, Mapping[str, Tally]]]) -> list[list[str]]:
    """Rows of text, the first the head; a cell with a shortfall is marked with an asterisk."""
    rows = [["held % / width", *(world.title for world, _ in found)]]
    displays = [max((tally.displays for tally in kinds.values()), default=0) for _, kinds in found]
    rows.append(["displays", *(str(count) for count in displays)])
    for name in (*(name for name, _ in ROWS), "others"):
        row = [name]
        for world, kinds in found:
            own = {kind: tally for kind, tally in kinds.items() if row_of(kind) == name}
            wrong = any(short(kind, tally, world) for kind, tally in own.items())
            row.append(cell(own) + (" \\*" if wrong else "") if own else "-")
        if any(text != "-" for text in row[1:]):
            rows.append(row)
    return rows


def shortfalls(found: Sequence[tuple[World, Mapping[str, Tally]]]) -> list[str]:
    """A line for each kind of figure that falls short, with its world."""
    return [
        f"{world.title}: {kind}: {words}"
        for world, kinds in found
        for kind, tally in kinds.items()
        if (words := short(kind, tally, world))
    ]


def details(kinds: Mapping[str, Tally]) -> list[list[str]]:
    """Rows of text on every kind of one world."""
    rows = [["figure", "displays", "figures", "held", "width", "bounds", "without"]]
    for kind, tally in kinds.items():
        width = "-" if tally.width is None else f"{tally.width:.2f}"
        counts = (str(tally.bounds or ""), str(tally.without or ""))
        share = f"{100.0 * tally.share:.1f} %"
        rows.append([kind, str(tally.displays), str(tally.figures), share, width, *counts])
    return rows
