"""Lists of colours in CSV files: charts in ``profiles/charts/`` and an operator's own file beside a plan.

The first line that is not empty and does not begin with ``#`` names the columns: ``name``, and one of

- ``L,a,b``           CIELAB; the file states its white: ``# white: 0.3457 0.3585`` (CIE 1931 x y)
- ``x,y,Y``           CIE 1931 and luminance, white having Y = 1; with a ``# white:`` they are adapted from it,
                      without one they are taken as they are
- ``red,green,blue``  codes

A chart states in a line ``# source: ...`` where its figures are from; that line is kept in logs and results.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from benchd.errors import ProfileError
from benchd.profile.reading.csv_table import CsvCell, CsvReader, csv_lines
from benchd.profile.reading.explain import show
from benchd.profile.reading.values import NAME_PATTERN, NAME_RULE, code_fault

FORMS: dict[tuple[str, str, str], str] = {
    ("L", "a", "b"): "lab",
    ("x", "y", "Y"): "xyY",
    ("red", "green", "blue"): "code",
}
MAX_COLOURS = 10_000

_NAME = re.compile(f"{NAME_PATTERN[:-1]}\\Z")
_NUMBER = re.compile(r"[-+]?(\d{1,9}(\.\d{0,30})?|\.\d{1,30})\Z")
_SAID = re.compile(r"#\s*(source|white)\s*:\s*(.*)", re.IGNORECASE)


class ChartColour(NamedTuple):
    """One line: a name and three figures in the chart's ``form``."""

    name: str
    figures: tuple[float, float, float]


class Chart(NamedTuple):
    """A list of colours. ``form`` is "lab", "xyY" or "code"; ``white`` is what the figures refer to, x and y."""

    form: str
    white: tuple[float, float] | None
    source: str
    colours: tuple[ChartColour, ...]


def read_chart(text: str, file_name: str, bits: int, *, taken: frozenset[str] = frozenset()) -> Chart:
    """The chart in ``text``; ``taken`` are names that mean something else already.

    Raises `ProfileError` with all errors in the file.
    """
    return _Reader(file_name, bits, taken).read(text)


class _Reader(CsvReader):
    def __init__(self, file_name: str, bits: int, taken: frozenset[str]) -> None:
        super().__init__(file_name)
        self._bits = bits
        self._names = dict.fromkeys(taken, 0)
        self._source = ""
        self._white: tuple[float, float] | None = None

    def read(self, text: str) -> Chart:
        for number, line in enumerate(text.removeprefix("\ufeff").splitlines(), start=1):
            if found := _SAID.match(line.strip()):
                self._said(number, found[1].lower(), found[2].strip())
        lines = csv_lines(text)
        number, heading = next(lines, (1, []))
        order = [cell.text for cell in heading]
        form = next((form for columns, form in FORMS.items() if sorted(order) == sorted(("name", *columns))), None)
        if form is None:
            self._wrong_columns(number, heading)
            raise ProfileError(tuple(self._faults))
        if form == "lab" and self._white is None and not self._faults:
            self._fault(number, 1, "L,a,b mean nothing without their white; add a line such as # white: 0.3457 0.3585")
        columns = next(columns for columns, one in FORMS.items() if one == form)
        colours = [colour for line, cells in lines if (colour := self._row(line, cells, order, columns, form))]
        if not colours and not self._faults:
            self._fault(number, 1, "no colours; below the first line belong lines such as sky,49.3,-3.8,-22.5")
        if len(colours) > MAX_COLOURS:
            self._fault(number, 1, f"{len(colours)} colours; at most {MAX_COLOURS} are taken")
        self._stop_at_faults()
        return Chart(form, self._white, self._source, tuple(colours))

    def _wrong_columns(self, line: int, heading: list[CsvCell]) -> None:
        """Where the heading is nearly one of the sets, the very column; else the sets."""
        seen = [cell.text for cell in heading]
        near = max(FORMS, key=lambda columns: len({*columns} & {*seen}))
        known = ("name", *near)
        strange = [cell for index, cell in enumerate(heading) if cell.text not in known or cell.text in seen[:index]]
        if len({*near} & {*seen}) < 2 or not strange:
            sets = " or ".join(",".join(("name", *columns)) for columns in FORMS)
            self._fault(line, 1, f"the first line must name the columns {sets}")
        for cell in strange if len({*near} & {*seen}) >= 2 else ():
            self._fault(line, cell.column, f"column {show(cell.text)} has no place here; use {','.join(known)}")

    def _said(self, line: int, key: str, text: str) -> None:
        if key == "source":
            self._source = " ".join((self._source, text)).strip()
            return
        parts = text.replace(",", " ").split()
        if len(parts) == 2 and all(_NUMBER.match(part) for part in parts):
            x, y = (float(part) for part in parts)
            if 0.0 < x < 1.0 and 0.0 < y < 1.0 and x + y <= 1.0:
                if self._white not in (None, (x, y)):
                    self._fault(line, 1, "another white is given above; one file has one white")
                self._white = (x, y)
                return
        self._fault(line, 1, f"white {show(text)}: write CIE 1931 x and y, such as # white: 0.3457 0.3585")

    def _row(
        self, line: int, cells: list[CsvCell], order: list[str], columns: tuple[str, ...], form: str
    ) -> ChartColour | None:
        before = len(self._faults)
        by_name = self._by_name(line, cells, order)
        if by_name is None:
            return None
        name = by_name["name"]
        if not _NAME.match(name.text):
            self._fault(line, name.column, f"name {show(name.text)}: use {NAME_RULE}")
        elif name.text in self._names:
            first = self._names[name.text]
            where = f"stands in line {first} already" if first else "is kept for a patch that is always measured"
            self._fault(line, name.column, f"name {show(name.text)} {where}; use another one")
        self._names.setdefault(name.text, line)
        figures = [self._figure(line, by_name[column], column, form) for column in columns]
        if len(self._faults) > before:
            return None
        if form == "xyY" and figures[0] + figures[1] > 1.0:
            self._fault(
                line, by_name["x"].column, f"x {figures[0]:g} and y {figures[1]:g}: together they are at most 1"
            )
            return None
        return ChartColour(name.text, (figures[0], figures[1], figures[2]))

    def _figure(self, line: int, cell: CsvCell, column: str, form: str) -> float:
        if not _NUMBER.match(cell.text):
            self._fault(line, cell.column, f"{column} {show(cell.text)}: use a plain number")
            return 0.0
        value = float(cell.text)
        if form == "code":
            whole = int(value) if value == int(value) else cell.text
            if text := code_fault(whole, self._bits):
                self._fault(line, cell.column, text)
            return value
        low, high = {"lab": (0.0, 100.0) if column == "L" else (-200.0, 200.0)}.get(form, (0.0, 1.0))
        if not low <= value <= high or (column == "y" and value == 0.0):
            least = "above 0" if column == "y" else f"{low:g}"
            self._fault(line, cell.column, f"{column} {cell.text}: use {least} to {high:g}")
        return value
