"""Readings that somebody else took, from a CSV file: which step each belongs to, and its light.

The first line names the columns, in any order: ``step``, or ``red,green,blue`` and where needed ``place``; the light
as ``X,Y,Z`` or ``Y,x,y``; and where wanted ``status`` and ``time_s``. A line is one reading; lines of one step are its
repeated readings, in their order. Empty lines, lines that begin with ``#``, and lines whose light was never filled in
are left out. Where semicolons or tabs stand between the columns, numbers may have a decimal comma.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from benchd.errors import Fault
from benchd.instruments.meter import FOOT_LAMBERT_CD_M2, XYZ, Status
from benchd.plan.csv_table import Cell, CsvReader, csv_lines, separator_of
from benchd.plan.explain import nearest, show
from benchd.plan.step import Step

UNITS = {"cd/m2": 1.0, "fL": FOOT_LAMBERT_CD_M2}
"""What X, Y and Z may be given in, as cd/m2."""

STEP, CODE, PLACE = "step", ("red", "green", "blue"), "place"
TRISTIMULUS, CHROMATICITY = ("X", "Y", "Z"), ("Y", "x", "y")
STATUS, TIME = "status", "time_s"
COLUMNS = (STEP, *CODE, PLACE, "X", "Y", "Z", "x", "y", STATUS, TIME)
MOST_CD_M2 = 1e6
LEAST_CD_M2 = -0.5
"""Below what the noise and the offset of any meter in use read of no light (common practice)."""

_NUMBER = re.compile(r"[-+]?(\d+(\.\d*)?|\.\d+)([eE][-+]?\d{1,3})?\Z")
_WHOLE = re.compile(r"\d{1,6}\Z")


class Given(NamedTuple):
    """One reading: its step, X, Y, Z in cd/m2 (None where the meter gave no figure), and where it stands."""

    step: str
    xyz: XYZ | None
    status: Status
    time_s: float | None
    raw: str  # the line as it was read
    line: int


def read_given(text: str, file: str, steps: Sequence[Step], unit: str = "cd/m2") -> list[Given]:
    """The readings in ``text`` for the steps of a plan; ``unit`` is a key of `UNITS`.

    Raises `ProfileError` with every fault of the file, as file:line:column.
    """
    return _Reader(file, steps, UNITS[unit]).read(text)


class _Reader(CsvReader):
    def __init__(self, file: str, steps: Sequence[Step], cd_m2: float) -> None:
        super().__init__(file)
        self._steps = {step.id: step for step in steps}
        self._cd_m2 = cd_m2
        self._last_s = -math.inf
        self._decimal_comma = False

    def read(self, text: str) -> list[Given]:
        separator = separator_of(text)
        self._decimal_comma = separator != ","
        lines = csv_lines(text, separator)
        number, heading = next(lines, (1, []))
        self._check_heading(number, heading)
        self._stop_at_faults()
        order = [cell.text for cell in heading]
        raw = text.removeprefix("\ufeff").split("\n")
        given = [
            row
            for number, cells in lines
            if not _unfilled(cells, order) and (row := self._row(number, cells, order, raw[number - 1].strip()))
        ]
        if not given and not self._faults:
            self._fault(number, 1, "no readings; below the first line belongs a line for each")
        self._stop_at_faults()
        return given

    def _check_heading(self, line: int, heading: list[Cell]) -> None:
        seen = [cell.text for cell in heading]
        for index, cell in enumerate(heading):
            if cell.text in seen[:index]:
                self._fault(line, cell.column, f"column {cell.text!r} stands here twice; keep one")
            elif cell.text not in COLUMNS:
                close = nearest(cell.text, COLUMNS)
                known = f"known are {', '.join(COLUMNS)}; other columns must be taken away"
                self._fault(
                    line,
                    cell.column,
                    f"unknown column {show(cell.text)}; {f'did you mean {close!r}?' if close else known}",
                )
        if self._faults:
            return
        if STEP not in seen and not set(CODE) <= set(seen):
            self._fault(line, 1, "which patch a line belongs to is missing: a column step, or red, green and blue")
        if STEP in seen and set(seen) & {*CODE, PLACE}:
            self._faults.append(self._both(line, heading))
        light = tuple(name for name in seen if name in ("X", "Y", "Z", "x", "y"))
        if set(light) not in (set(TRISTIMULUS), set(CHROMATICITY)):
            self._fault(line, 1, "the light must be given as X,Y,Z or as Y,x,y; luminance alone is not enough")

    def _both(self, line: int, heading: list[Cell]) -> Fault:
        extra = next(cell for cell in heading if cell.text in (*CODE, PLACE))
        return Fault(self._file, line, extra.column, f"give step, or codes; with step, take {extra.text!r} away")

    def _row(self, line: int, cells: list[Cell], order: list[str], raw: str) -> Given | None:
        before = len(self._faults)
        by_name = self._by_name(line, cells, order)
        if by_name is None:
            return None
        step = self._step(line, by_name)
        status = self._status(line, by_name.get(STATUS))
        xyz = self._light(line, by_name, status)
        time_s = self._time(line, by_name.get(TIME))
        return Given(step, xyz, status, time_s, raw, line) if len(self._faults) == before else None

    def _step(self, line: int, cells: Mapping[str, Cell]) -> str:
        if STEP in cells:
            cell = cells[STEP]
            if cell.text not in self._steps:
                close = nearest(cell.text, self._steps)
                advice = f"did you mean {close!r}?" if close else "`benchd plan PLAN --steps` lists them"
                self._fault(line, cell.column, f"the plan has no step {show(cell.text)}; {advice}")
            return cell.text
        if wrong := next((cells[name] for name in CODE if not _WHOLE.match(cells[name].text)), None):
            self._fault(line, wrong.column, f"{show(wrong.text)} is no code; use a whole number")
            return ""
        red, green, blue = (int(cells[name].text) for name in CODE)
        place = cells[PLACE].text if PLACE in cells else ""
        fitting = [
            step.id
            for step in self._steps.values()
            if step.kind == "measure" and step.patch.code == (red, green, blue) and place in ("", step.place)
        ]
        if len(fitting) == 1:
            return fitting[0]
        where = f" at {place}" if place else ""
        if not fitting:
            told = f"the plan has no patch {red},{green},{blue}{where}"
        else:
            names = ", ".join(fitting[:3]) + (" ..." if len(fitting) > 3 else "")
            told = f"the patch {red},{green},{blue}{where} fits {len(fitting)} steps ({names}); use a column step"
        self._fault(line, cells["red"].column, told)
        return ""

    def _status(self, line: int, cell: Cell | None) -> Status:
        if cell is None or not cell.text:
            return Status.OK
        try:
            return Status(cell.text)
        except ValueError:
            self._fault(line, cell.column, f"status {show(cell.text)}: use {', '.join(Status)} or nothing")
            return Status.OK

    def _light(self, line: int, cells: Mapping[str, Cell], status: Status) -> XYZ | None:
        names = TRISTIMULUS if "X" in cells else CHROMATICITY
        own = [cells[name] for name in names]
        if status in (Status.UNDER, Status.OVER) and not any(cell.text for cell in own):
            return None
        numbers: list[float] = []
        for name, cell in zip(names, own, strict=True):
            text = cell.text.replace(",", ".", 1) if self._decimal_comma else cell.text
            if _NUMBER.match(text):
                numbers.append(float(text))
                continue
            hint = " (with a point, not a comma)" if "," in cell.text or ";" in cell.text else ""
            self._fault(line, cell.column, f"{name} {show(cell.text)} is not a number{hint}")
        if len(numbers) < 3:
            return None
        first, second, third = numbers
        if names == TRISTIMULUS:
            xyz = (first * self._cd_m2, second * self._cd_m2, third * self._cd_m2)
        elif 0.0 < third <= 1.0 and 0.0 <= second <= 1.0 and second + third <= 1.0:
            luminance = first * self._cd_m2
            xyz = (luminance * second / third, luminance, luminance * (1.0 - second - third) / third)
        else:
            self._fault(line, own[1].column, f"x {second:g}, y {third:g} is no chromaticity: each 0 to 1, y above 0")
            return None
        if not all(abs(part) <= MOST_CD_M2 for part in xyz):
            self._fault(line, own[0].column, f"more than {MOST_CD_M2:g} cd/m2; look at the unit")
        elif (least := min(xyz)) < LEAST_CD_M2:
            told = f"{least:g} cd/m2: light is never negative; only a dark reading may be a little below zero, by noise"
            self._fault(line, own[0].column, told)
        return xyz

    def _time(self, line: int, cell: Cell | None) -> float | None:
        if cell is None or not cell.text:
            return None
        text = cell.text.replace(",", ".", 1) if self._decimal_comma else cell.text
        time_s = float(text) if _NUMBER.match(text) else -1.0
        if not 0.0 <= time_s <= 1e7:
            self._fault(line, cell.column, f"time_s {show(cell.text)}: seconds since the first reading, 0 or more")
        elif time_s < self._last_s:
            self._fault(line, cell.column, f"time_s {time_s:g} is before that of the reading above it")
        self._last_s = max(self._last_s, time_s)
        return time_s


def _unfilled(cells: Sequence[Cell], order: Sequence[str]) -> bool:
    """True for a line of the template that nobody filled in: it names a step and nothing else."""
    return len(cells) == len(order) and not any(
        cell.text for cell, name in zip(cells, order, strict=True) if name not in (STEP, *CODE, PLACE)
    )


def template(steps: Sequence[Step]) -> str:
    """A file with a line for every reading that the plan asks for, its light still empty."""
    lines = ["# One line a reading: X, Y, Z in cd/m2 (or name the columns Y,x,y). Lines may be left empty, or doubled."]
    lines.append(",".join((STEP, *TRISTIMULUS, STATUS)))
    for step in steps:
        if step.kind == "measure":
            lines.append(f"# {step.id}: {_words(step)}")
            lines += [f"{step.id},,,,"] * step.readings
    return "\n".join(lines) + "\n"


def _words(step: Step) -> str:
    """What is to be on the screen, and where the meter is."""
    patch = step.patch
    code = ",".join(str(part) for part in patch.code)
    ground = ",".join(str(part) for part in patch.surround)
    shape = {
        "field": f"code {code} over the whole screen",
        "window": f"code {code} in {patch.area_percent:g} % of the screen on {ground}",
        "checkerboard": f"{patch.columns} x {patch.rows} checkerboard of {code} and {ground}"
        + (", inverse" if patch.inverse else ""),
    }.get(patch.kind, f"code {code}")
    settings = "".join(f", {name}={value}" for name, value in step.settings)
    return f"{shape}, meter at {step.place} ({step.at[0]:g}, {step.at[1]:g} of width and height){settings}"
