"""A CSV file as an operator writes it: lines, cells and where they stand, and all errors in the file together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from benchd.errors import Fault, ProfileError
from benchd.profile.reading.explain import nearest, show


class CsvCell(NamedTuple):
    """One value and where it stands."""

    text: str
    column: int  # where it begins, from 1


class CsvReader:
    """What all readers of such a file do: collect its faults, and pair a line's cells with the columns."""

    def __init__(self, file: str) -> None:
        self._file = file
        self._faults: list[Fault] = []

    def _fault(self, line: int, column: int, text: str) -> None:
        self._faults.append(Fault(self._file, line, column, text))

    def _stop_at_faults(self) -> None:
        if self._faults:
            raise ProfileError(tuple(self._faults))

    def _check_columns(self, line: int, heading: Sequence[CsvCell], known: Sequence[str], advice: str) -> None:
        """A column that is not ``known`` (``advice``: what to do then), or that stands there twice."""
        seen = [cell.text for cell in heading]
        for index, cell in enumerate(heading):
            if cell.text not in known:
                close = nearest(cell.text, known)
                remedy = f"did you mean '{close}'?" if close else advice
                self._fault(line, cell.column, f"unknown column {show(cell.text)}; {remedy}")
            elif cell.text in seen[:index]:
                self._fault(line, cell.column, f"column '{cell.text}' stands here twice; keep one")

    def _by_name(self, line: int, cells: Sequence[CsvCell], order: Sequence[str]) -> dict[str, CsvCell] | None:
        """The cells by their columns; None, and a fault, where there are more or fewer of them."""
        if len(cells) == len(order):
            return dict(zip(order, cells, strict=True))
        self._fault(line, 1, f"{len(cells)} values where the first line names {len(order)} columns")
        return None


def csv_lines(text: str, separator: str = ",") -> Iterator[tuple[int, list[CsvCell]]]:
    """Line number and cells of every line that counts. A byte order mark (spreadsheets write one) is no text."""
    for number, line in enumerate(text.removeprefix("\ufeff").split("\n"), start=1):
        line = line.rstrip("\r")
        if line.strip() and not line.lstrip().startswith("#"):
            yield number, _cells(line, separator)


def separator_of(text: str) -> str:
    """What stands between the names of the first line: a comma, or where there is none, a semicolon or a tab.

    Spreadsheets write the latter where numbers have a decimal comma.
    """
    _, heading = next(csv_lines(text, "\0"), (1, [CsvCell("", 1)]))
    return next((one for one in ",;\t" if one in heading[0].text), ",")


def _cells(line: str, separator: str) -> list[CsvCell]:
    """A separator between quotation marks that enclose a whole cell is part of it."""
    cells: list[CsvCell] = []
    start, end = 0, len(line)
    while start <= end:
        begun = start + len(line[start:]) - len(line[start:].lstrip(" "))
        closed = line.find('"', begun + 1) if line[begun : begun + 1] == '"' else -1
        quoted = closed > 0 and line[closed + 1 :].lstrip(" ")[:1] in ("", separator)
        stop = line.find(separator, closed + 1 if quoted else start)
        stop = end if stop < 0 else stop
        raw = line[start:stop]
        text = raw.strip()
        if len(text) > 1 and text[0] == text[-1] == '"':
            text = text[1:-1].strip()
        cells.append(CsvCell(text, start + len(raw) - len(raw.lstrip()) + 1))
        start = stop + 1
    return cells
