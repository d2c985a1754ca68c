"""Readings that were taken elsewhere, from a CSV file: which step each belongs to, and its light.

The first line names the columns, in any order: ``step``, or ``red,green,blue`` and where needed ``place``; the light
as ``X,Y,Z``, ``Y,x,y``, or ``Y`` alone for what needs only luminance; and where wanted ``status`` and ``time_s``. A
line is one reading; lines of one step are its repeated readings, in their order. Readings over time (peak, sustained)
need ``after_s``: seconds from the window's appearance to the reading's beginning. Empty lines, lines that begin with
``#``, and lines whose light was never filled in are left out. Where semicolons or tabs stand between the columns,
numbers may have a decimal comma. `template` is an empty file for such readings, with what is to be on the screen.

A text file of the open format for colour data (after ISO 28178) is read as well: a set is one reading of a step.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from benchd.errors import Fault, ProfileError
from benchd.instruments.meter import FOOT_LAMBERT_CD_M2, Status
from benchd.plan.step import Series, Step
from benchd.profile.reading import colour_data_text as colour_text
from benchd.profile.reading.csv_table import CsvCell, CsvReader, csv_lines, separator_of
from benchd.profile.reading.explain import nearest, show
from benchd.run.log.records import is_added

UNITS = {"cd/m2": 1.0, "fL": FOOT_LAMBERT_CD_M2}
"""What X, Y and Z may be given in, as cd/m2."""

STEP, CODE, PLACE = "step", ("red", "green", "blue"), "place"
TRISTIMULUS, CHROMATICITY, LUMINANCE = ("X", "Y", "Z"), ("Y", "x", "y"), ("Y",)
STATUS, TIME, AFTER = "status", "time_s", "after_s"
COLUMNS = (STEP, *CODE, PLACE, "X", "Y", "Z", "x", "y", STATUS, TIME, AFTER)
MAX_CD_M2, LONGEST_S = 1e6, 1e7
MIN_CD_M2 = -0.5
"""Below what the noise and the offset of any meter in use read of no light (common practice)."""

_NUMBER = re.compile(r"[-+]?(\d+(\.\d*)?|\.\d+)([eE][-+]?\d{1,3})?\Z")
_WHOLE = re.compile(r"\d{1,6}\Z")


Light = tuple[float | None, float, float | None]
"""X, Y, Z in cd/m2; X and Z are None where only luminance was given."""


class GivenReading(NamedTuple):
    """One reading: its step, its light (None where the meter gave no figure), and where it stands."""

    step: str
    xyz: Light | None
    status: Status
    time_s: float | None
    raw: str  # the line as it was read
    line: int
    after_s: float | None = None  # of a series: seconds from the patch's appearance to the reading's beginning


def read_given(text: str, file: str, steps: Sequence[Step], unit: str = "cd/m2") -> list[GivenReading]:
    """The readings in ``text`` for the steps of a plan; ``unit`` is a key of `UNITS`.

    Raises `ProfileError` with all errors in the file, as file:line:column.
    """
    return _Reader(file, steps, UNITS[unit]).read(text)


class _Reader(CsvReader):
    def __init__(self, file: str, steps: Sequence[Step], cd_m2: float) -> None:
        super().__init__(file)
        self._steps = {step.id: step for step in steps}
        self._cd_m2 = cd_m2
        self._last_s, self._last_after = -math.inf, ("", 0.0)
        self._decimal_comma = self._mixed = False
        self._marks: set[str] = set()  # decimal marks of the numbers so far

    def read(self, text: str) -> list[GivenReading]:
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

    def _check_heading(self, line: int, heading: list[CsvCell]) -> None:
        seen = [cell.text for cell in heading]
        known = f"known are {', '.join(COLUMNS)}; other columns must be taken away"
        self._check_columns(line, heading, COLUMNS, known)
        if self._faults:
            return
        if STEP not in seen and not set(CODE) <= set(seen):
            self._fault(line, 1, "which patch a line belongs to is missing: a column step, or red, green and blue")
        if STEP in seen and set(seen) & {*CODE, PLACE}:
            self._faults.append(self._both(line, heading))
        light = tuple(name for name in seen if name in ("X", "Y", "Z", "x", "y"))
        if set(light) not in (set(TRISTIMULUS), set(CHROMATICITY), set(LUMINANCE)):
            self._fault(line, 1, "the light must be given as X,Y,Z, as Y,x,y or, where luminance is enough, as Y")

    def _both(self, line: int, heading: list[CsvCell]) -> Fault:
        extra = next(cell for cell in heading if cell.text in (*CODE, PLACE))
        return Fault(self._file, line, extra.column, f"give step, or codes; with step, remove {extra.text!r}")

    def _row(self, line: int, cells: list[CsvCell], order: list[str], raw: str) -> GivenReading | None:
        before = len(self._faults)
        if (by_name := self._by_name(line, cells, order)) is None:
            return None
        step = self._step(line, by_name)
        status = self._status(line, by_name.get(STATUS))
        xyz = self._light(line, by_name, status)
        time_s = self._time(line, by_name.get(TIME))
        after_s = self._after(line, by_name.get(AFTER), step)
        return GivenReading(step, xyz, status, time_s, raw, line, after_s) if len(self._faults) == before else None

    def _step(self, line: int, cells: Mapping[str, CsvCell]) -> str:
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
            fault = f"the plan has no patch {red},{green},{blue}{where}"
        else:
            names = ", ".join(fitting[:3]) + (" ..." if len(fitting) > 3 else "")
            fault = f"the patch {red},{green},{blue}{where} fits {len(fitting)} steps ({names}); use a column step"
        self._fault(line, cells["red"].column, fault)
        return ""

    def _status(self, line: int, cell: CsvCell | None) -> Status:
        if cell is None or not cell.text:
            return Status.OK
        try:
            return Status(cell.text)
        except ValueError:
            self._fault(line, cell.column, f"status {show(cell.text)}: use {', '.join(Status)} or nothing")
            return Status.OK

    def _light(self, line: int, cells: Mapping[str, CsvCell], status: Status) -> Light | None:
        names = TRISTIMULUS if "X" in cells else CHROMATICITY if "x" in cells else LUMINANCE
        own = [cells[name] for name in names]
        if status in (Status.UNDER, Status.OVER) and not any(cell.text for cell in own):
            return None
        if not any(cells[name].text for name in names if name != "Y"):
            names, own = LUMINANCE, [cells["Y"]]
        numbers: list[float] = []
        for name, cell in zip(names, own, strict=True):
            text = self._with_point(cell)
            if _NUMBER.match(text):
                numbers.append(float(text))
                if len(self._marks) > 1 and not self._mixed:
                    self._mixed = True
                    fault = f"{name} {show(cell.text)}: a comma and a point both stand for decimals here; write one way"
                    self._fault(line, cell.column, fault)
                continue
            hint = " (with a point, not a comma)" if "," in cell.text or ";" in cell.text else ""
            self._fault(line, cell.column, f"{name} {show(cell.text)} is not a number{hint}")
        if len(numbers) < len(names):
            return None
        xyz: Light
        first, second, third = numbers if len(numbers) == 3 else (numbers[0], 0.0, 0.0)
        if names == LUMINANCE:
            xyz = (None, first * self._cd_m2, None)
        elif names == TRISTIMULUS:
            xyz = (first * self._cd_m2, second * self._cd_m2, third * self._cd_m2)
        elif 0.0 < third <= 1.0 and 0.0 <= second <= 1.0 and second + third <= 1.0:
            luminance = first * self._cd_m2
            xyz = (luminance * second / third, luminance, luminance * (1.0 - second - third) / third)
        else:
            self._fault(line, own[1].column, f"x {second:g}, y {third:g} is no chromaticity: each 0 to 1, y above 0")
            return None
        parts = [part for part in xyz if part is not None]
        if not all(abs(part) <= MAX_CD_M2 for part in parts):
            self._fault(line, own[0].column, f"more than {MAX_CD_M2:g} cd/m2; look at the unit")
        elif (least := min(parts)) < MIN_CD_M2:
            fault = (
                f"{least:g} cd/m2: light is never negative; only a dark reading may be a little below zero, by noise"
            )
            self._fault(line, own[0].column, fault)
        return xyz

    def _with_point(self, cell: CsvCell) -> str:
        """The number with a decimal point; which mark it had is kept: 1.190 beside 0,03 may be a thousand or one."""
        if not self._decimal_comma:
            return cell.text
        self._marks |= {mark for mark in ",." if mark in cell.text}
        return cell.text.replace(",", ".", 1)

    def _time(self, line: int, cell: CsvCell | None) -> float | None:
        time_s = self._seconds(line, cell, f"{TIME} {{}}: seconds since the first reading, 0 or more")
        if cell is not None and time_s is not None:
            if time_s < self._last_s:
                self._fault(line, cell.column, f"{TIME} {time_s:g} is before that of the reading above it")
            self._last_s = max(self._last_s, time_s)
        return time_s

    def _after(self, line: int, cell: CsvCell | None, name: str) -> float | None:
        """Of a series, where the reading stands in it."""
        step = self._steps.get(name)
        after_s = self._seconds(line, cell, f"{AFTER} {{}}: seconds from the window's appearance, 0 or more")
        if step is None or step.series is None:
            if cell is not None and after_s is not None:
                self._fault(line, cell.column, f"{AFTER} is for readings over time, and {name} is none; leave it empty")
            return None
        if after_s is None:
            if cell is None or not cell.text:
                fault = f"{name} is read over time: a column {AFTER} must give the seconds from the window's appearance"
                self._fault(line, cell.column if cell else 1, fault)
            return None
        last_name, last_s = self._last_after
        if cell is not None and last_name == name and after_s < last_s:
            self._fault(line, cell.column, f"{AFTER} {after_s:g} is before that of the reading above it")
        self._last_after = name, after_s
        return after_s

    def _seconds(self, line: int, cell: CsvCell | None, fault: str) -> float | None:
        """The number in the cell; None, with a fault, where it is none; None too where nothing was filled in."""
        if cell is None or not cell.text:
            return None
        text = self._with_point(cell)
        seconds = float(text) if _NUMBER.match(text) else -1.0
        if not 0.0 <= seconds <= LONGEST_S:
            self._fault(line, cell.column, fault.format(show(cell.text)))
            return None
        return seconds


def _unfilled(cells: Sequence[CsvCell], order: Sequence[str]) -> bool:
    """True for a line of the template that is not filled in: it names a step, and when to read, and nothing else."""
    return len(cells) == len(order) and not any(
        cell.text for cell, name in zip(cells, order, strict=True) if name not in (STEP, *CODE, PLACE, AFTER)
    )


def quantities_in(text: str) -> tuple[str, ...]:
    """What the light of a file of readings is given as, for the digits of its numbers."""
    _, heading = next(csv_lines(text, separator_of(text)), (1, []))
    return TRISTIMULUS if "X" in [cell.text for cell in heading] else CHROMATICITY


FIRST_SECONDS = 10
MOMENTS_S = (30.0, 60.0, 300.0, 600.0, 1800.0)
"""When a window's light is reported, besides the end."""


def template(steps: Sequence[Step]) -> str:
    """A file with a line for every reading of the plan, its light still empty."""
    over_time = any(step.series is not None for step in steps)
    columns = (STEP, *TRISTIMULUS, STATUS, *((AFTER,) if over_time else ()))
    lines = [
        "# One line a reading: X, Y, Z in cd/m2 (or name the columns Y,x,y; or Y alone, where luminance is enough).",
        "# Lines may be left empty, or doubled.",
        ",".join(columns),
    ]
    for step in steps:
        if step.kind == "measure":
            lines.append(f"# {step.id}: {_words(step)}")
            blank = "," * (len(columns) - 1)
            name = f'"{step.id}"' if "," in step.id else step.id
            if step.series is None:
                lines += [f"{name}{blank}"] * step.readings
            else:
                lines.append(f"# {_series_words(step.series)}")
                lines += [f"{name}{blank}{after_s:g}" for after_s in _times(step.series)]
    return "\n".join(lines) + "\n"


def _times(series: Series) -> Iterator[float]:
    """Every second of the first ten, and the moments that results report, to the end."""
    first = [float(second) for second in range(FIRST_SECONDS + 1)]
    yield from sorted({moment for moment in (*first, *MOMENTS_S, series.for_s) if moment <= series.for_s})


def _series_words(series: Series) -> str:
    code = ",".join([str(series.black_code)] * 3)
    return (
        f"first {series.black_s:g} s of code {code} over the whole screen; {AFTER}: seconds from the window's "
        "appearance to the beginning of the reading. Write the true ones; in the first ten seconds read as often as "
        "the meter can"
    )


def _words(step: Step) -> str:
    """What is to be on the screen, where it is, and where the meter is."""
    patch = step.patch
    code = ",".join(str(part) for part in patch.code)
    ground = ",".join(str(part) for part in patch.surround)
    shape = {
        "field": f"code {code} over the whole screen",
        "window": f"code {code} in a window of {patch.area_percent:g} % of the screen in its middle, on {ground}",
        "spot": f"code {code} in a window of {patch.area_percent:g} % of the screen, on {ground}, with its middle at "
        f"{_at(patch.at)}",
        "checkerboard": f"{patch.columns} x {patch.rows} checkerboard of {code} and {ground}"
        + (", inverse" if patch.inverse else ""),
    }.get(patch.kind, f"code {code}")
    settings = "".join(f", {name}={value}" for name, value in step.settings)
    return f"{shape}, meter at {step.place} ({_at(step.at)}){settings}"


def _at(at: tuple[float, float]) -> str:
    return f"{at[0]:g}, {at[1]:g} of width and height"


NOTICE, SIMULATED = "BENCHD_NOTICE", "SIMULATED"
NEEDED = ("SAMPLE_NAME", "XYZ_X", "XYZ_Y", "XYZ_Z")
XYZ_UNIT = "BENCHD_XYZ_UNIT"


def is_colour_text(text: str) -> bool:
    """True when the first word is that of the format."""
    return text.removeprefix("\ufeff").lstrip().startswith(colour_text.IDENTIFIER)


def read_colour_text(text: str, file: str, steps: Sequence[Step]) -> tuple[list[GivenReading], bool]:
    """The readings in ``text``: SAMPLE_NAME is the step, X, Y, Z are in cd/m2 and the file must state it.

    The warm-up is left out, and so are readings over time, whose times this format does not hold. Also returns whether
    the file states that a simulator took part. Raises `ProfileError`.
    """
    table = colour_text.read_colour_text(text, file)

    def wrong(fault: str) -> ProfileError:
        return ProfileError((Fault(file, 1, 1, fault),))

    if missing := [name for name in NEEDED if name not in table.fields]:
        raise wrong(f"the field {missing[0]} is missing; needed are {', '.join(NEEDED)}")
    if table.keyword(XYZ_UNIT) != "cd/m2":
        raise wrong(f'the file must state {XYZ_UNIT} "cd/m2": X, Y, Z of this format may be relative as well')
    place = [table.fields.index(name) for name in NEEDED]
    wanted = {step.id: step.kind == "measure" and step.series is None for step in steps}
    given: list[GivenReading] = []
    for row in table.rows:
        name, x, y, z = (row[index] for index in place)
        if name not in wanted and not is_added(str(name)):
            raise wrong(f"the plan has no step {str(name)!r}; `benchd plan PLAN --steps` lists them")
        if wanted.get(str(name)):
            raw = " ".join(str(cell) for cell in row)
            given.append(GivenReading(str(name), (float(x), float(y), float(z)), Status.OK, None, raw, 0))
    return given, table.keyword(NOTICE) == SIMULATED
