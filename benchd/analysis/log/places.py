"""Cells of a grid and patches: their names, how they were shown, the words for those that were not measured."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from itertools import groupby, product
from typing import Any

NOT_MEASURED = "it was not measured"


def place_name(row: int, column: int) -> str:
    """ "r2c3" for row 2, column 3; both count from 1, from the top left."""
    return f"r{row}c{column}"


def few(names: Sequence[str]) -> list[str]:
    """The names themselves, or of many the first seven and how many more there are."""
    return [*names] if len(names) <= 8 else [*names[:7], f"{len(names) - 7} more"]


def not_measured(lacking: Sequence[str], one: str, many: str) -> str:
    """ "codes 13 and 26 were not measured"; "" when nothing lacks."""
    if len(lacking) == 1:
        return f"{one} {lacking[0]} was not measured"
    return f"{many} {listed(lacking)} were not measured" if lacking else ""


def cells_not_measured(measured: Collection[tuple[int, int]], rows: int, columns: int) -> str:
    """ "cells r1c2 and r4c1 to r5c5 were not measured", in reading order; "" when all were."""
    cells = product(range(1, rows + 1), range(1, columns + 1))
    groups = groupby(cells, key=lambda cell: cell in measured)
    runs = [[place_name(*cell) for cell in run] for are_measured, run in groups if not are_measured]
    if not runs:
        return ""
    words = [run[0] if len(run) == 1 else f"{run[0]} to {run[-1]}" for run in runs]
    several = sum(map(len, runs)) > 1
    return f"{'cells' if several else 'cell'} {listed(words)} {'were' if several else 'was'} not measured"


def listed(words: Sequence[str]) -> str:
    """ "a, b and c"."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"


def patch_words(block: Mapping[str, Any]) -> str:
    """How the patches were shown."""
    area = float(block.get("area_percent", 100.0))
    if area >= 100.0:
        return "full screen"
    surround = block.get("surround_percent")
    return f"{area:g} % window, surround {'not recorded' if surround is None else f'{float(surround):g} %'}"
