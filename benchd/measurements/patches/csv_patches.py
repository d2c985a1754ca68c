"""A list of patches from a CSV file: columns name, red, green, blue, and where wanted area_percent.

The first line names the columns, in any order. Empty lines and lines that begin with ``#`` are left out.
Faults have line and column as those of a plan have.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from benchd.patch.model import Code
from benchd.profile.reading.csv_table import CsvCell, CsvReader, csv_lines
from benchd.profile.reading.explain import show
from benchd.profile.reading.values import MIN_AREA_PERCENT, NAME_PATTERN, NAME_RULE, code_fault

NEEDED = ("name", "red", "green", "blue")
COLUMNS = (*NEEDED, "area_percent")

_NAME = re.compile(f"{NAME_PATTERN[:-1]}\\Z")
_WHOLE = re.compile(r"-?(0|[1-9][0-9]{0,14})\Z")
_DECIMAL = re.compile(r"(0|[1-9][0-9]{0,14})(\.[0-9]{1,30})?\Z")


class PatchRow(NamedTuple):
    """One line of the file."""

    name: str
    code: Code
    area_percent: float | None


def read_patches(text: str, file_name: str, bits: int, taken: frozenset[str] = frozenset()) -> list[PatchRow]:
    """The patches in ``text``; ``taken`` are names that the plan has used already.

    Raises `ProfileError` with all errors in the file.
    """
    return _Reader(file_name, bits, taken).read(text)


class _Reader(CsvReader):
    def __init__(self, file_name: str, bits: int, taken: frozenset[str]) -> None:
        super().__init__(file_name)
        self._bits = bits
        self._names = dict.fromkeys(taken, 0)  # -> line; 0: in the plan itself

    def read(self, text: str) -> list[PatchRow]:
        lines = csv_lines(text)
        number, heading = next(lines, (1, []))
        self._check_heading(number, heading)
        self._stop_at_faults()
        order = [cell.text for cell in heading]
        rows = [row for number, cells in lines if (row := self._row(number, cells, order))]
        if not rows and not self._faults:
            self._fault(number, 1, "no patches; below the first line belong lines such as red,255,0,0")
        self._stop_at_faults()
        return rows

    def _check_heading(self, line: int, heading: list[CsvCell]) -> None:
        seen = [cell.text for cell in heading]
        if not seen or (len(seen) == 1 and seen[0] not in COLUMNS):
            separated = " with commas between" if seen else ""
            self._fault(line, 1, f"the first line must name the columns{separated}: {','.join(NEEDED)}[,area_percent]")
            return
        self._check_columns(line, heading, COLUMNS, f"allowed are {', '.join(COLUMNS)}")
        for missing in (name for name in NEEDED if name not in seen):
            self._fault(line, 1, f"column '{missing}' is missing; needed are {', '.join(NEEDED)}")

    def _row(self, line: int, cells: list[CsvCell], order: list[str]) -> PatchRow | None:
        before = len(self._faults)
        by_name = self._by_name(line, cells, order)
        if by_name is None:
            return None
        name = self._name(line, by_name["name"])
        red, green, blue = (self._code(line, by_name[channel]) for channel in NEEDED[1:])
        area = self._area(line, by_name.get("area_percent"))
        return PatchRow(name, (red, green, blue), area) if len(self._faults) == before else None

    def _name(self, line: int, cell: CsvCell) -> str:
        if not _NAME.match(cell.text):
            self._fault(line, cell.column, f"name {show(cell.text)}: use {NAME_RULE}")
        elif cell.text in self._names:
            first = self._names[cell.text]
            where = f"line {first}" if first else "the plan"
            self._fault(line, cell.column, f"name {show(cell.text)} stands in {where} already; use another one")
        else:
            self._names[cell.text] = line
        return cell.text

    def _code(self, line: int, cell: CsvCell) -> int:
        value = int(cell.text) if _WHOLE.match(cell.text) else cell.text
        if text := code_fault(value, self._bits):
            self._fault(line, cell.column, text)
        return value if isinstance(value, int) else 0

    def _area(self, line: int, cell: CsvCell | None) -> float | None:
        if cell is None or not cell.text:
            return None
        area = float(cell.text) if _DECIMAL.match(cell.text) else -1.0
        if not MIN_AREA_PERCENT <= area <= 100:
            text = f"area_percent {show(cell.text)}: use a plain decimal, {MIN_AREA_PERCENT} to 100, or nothing"
            self._fault(line, cell.column, text)
        return area
