"""A sweep as a table: one row for each point of the settings, and ranges of its leading figure over each control."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from benchd.analysis.catalogue import at_point, of_points
from benchd.analysis.colour.target import Target
from benchd.analysis.log.log_data import LogData, SetRecord
from benchd.analysis.log.places import listed
from benchd.analysis.measurement import Result
from benchd.analysis.results_log import Setting, Sweep, SweepRange, SweepRow
from benchd.analysis.uncertainty.quantity import Bound, Quantity, absent, maximum, minimum

METHOD = (
    "one row a point: every figure of its blocks, by the methods of these; white, black, their contrast and the colour "
    "of white are of the block that is made for them, else of the first that shows white or black on the full screen"
)
CONTROL_ERROR = "Control"
"""What the names of all errors of display controls begin with."""


@dataclass(slots=True)
class _Point:
    """One point: its name, its settings, and the results of its blocks in the order of the log."""

    name: str
    settings: dict[str, Setting]
    blocks: list[Result] = field(default_factory=list)


def sweep(
    log_data: LogData, blocks: Iterable[Mapping[str, Any]], found: Mapping[str, Result], target: Target | None
) -> Sweep | None:
    """The table of a sweep from the log's ``blocks`` and the results ``found`` under their names; None without one."""
    points = _points(blocks, found)
    if not points:
        return None
    controls = tuple(points[0].settings)
    history = _History(log_data)
    rows = [_row(point, target, history) for point in points]
    kept = tuple(dict.fromkeys(log_data.not_restored))
    return Sweep(METHOD, controls, tuple(rows), tuple(_ranges(controls, rows)), kept)


def _points(blocks: Iterable[Mapping[str, Any]], found: Mapping[str, Result]) -> list[_Point]:
    """Sorted by the value of the first control, then of the second; names as the log has them first."""
    points: dict[str, _Point] = {}
    for block in blocks:
        if "settings" not in block:
            continue
        settings, name = dict(block["settings"]), str(block["name"])
        point = points.setdefault(name.partition("/")[0], _Point(name.partition("/")[0], settings))
        if name in found:
            point.blocks.append(found[name])
    ranks: dict[str, dict[Setting, float]] = {}
    for point in points.values():
        for control, value in point.settings.items():
            ranks.setdefault(control, {}).setdefault(value, len(ranks.get(control, ())))
    for values in ranks.values():
        if all(_is_number(value) for value in values):
            values.update({value: float(value) for value in values})
    return sorted(points.values(), key=lambda point: [ranks[name][value] for name, value in point.settings.items()])


def _is_number(value: Setting) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _row(point: _Point, target: Target | None, history: _History) -> SweepRow:
    set_manually, not_read_back = history.ways(point)
    errors = history.faults.get(point.name, ())
    return SweepRow(
        point=point.name,
        settings=point.settings,
        figures=at_point(point.blocks, target),
        faults=len(errors),
        control_faults=sum(name.startswith(CONTROL_ERROR) for name in errors),
        set_manually=set_manually,
        not_read_back=not_read_back,
    )


class _History:
    """What happened at each point, and how its settings were made."""

    def __init__(self, log_data: LogData) -> None:
        self.faults: dict[str, list[str]] = {}
        for step, errors in log_data.faults_at.items():
            self.faults.setdefault(step.partition("/")[0], []).extend(errors)
        self._sets: dict[str, list[SetRecord]] = {}
        for one in log_data.settings:
            self._sets.setdefault(one.control, []).append(one)
        self._begun: dict[str, int] = {}
        for step, measured in log_data.measured.items():
            if measured.records:
                name, seq = step.partition("/")[0], measured.records[0][0]
                self._begun[name] = min(seq, self._begun.get(name, seq))

    def ways(self, point: _Point) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """Controls set by hand, and other ones that could not be read back, in the plan's order."""
        set_manually, not_read_back = [], []
        for control in point.settings:
            made = self._made(point, control)
            if any(one.by == "operator" for one in made):
                set_manually.append(control)
            elif any(one.read_back is None for one in made):
                not_read_back.append(control)
        return tuple(set_manually), tuple(not_read_back)

    def _made(self, point: _Point, control: str) -> list[SetRecord]:
        """Every time that ``control`` was set for this point, or was left from an earlier one."""
        sets = self._sets.get(control, [])
        own = [one for one in sets if one.step.partition("/")[0] == point.name]
        begun = self._begun.get(point.name)
        if begun is not None and not any(one.seq < begun for one in own):
            value = point.settings[control]
            own += [one for one in sets if one.seq < begun and one.asked == value][-1:]
        return own


def _ranges(controls: Sequence[str], every: Sequence[SweepRow]) -> Iterable[SweepRange]:
    """Of the first figure of rank 0 in the order of a summary: each control of numbers, over each combination of the

    others that has two values of it at least.
    """
    figure = next((name for name, one in of_points(every).items() if one.rank == 0), "")
    rows = [row for row in every if figure in row.figures]
    for control in controls:
        if not all(_is_number(row.settings[control]) for row in rows):
            continue
        groups: dict[tuple[tuple[str, Setting], ...], list[SweepRow]] = {}
        for row in rows:
            others = tuple((name, value) for name, value in row.settings.items() if name != control)
            groups.setdefault(others, []).append(row)
        for others, own in groups.items():
            if len(own) > 1:
                yield _range(figure, control, dict(others), own)


def _range(figure: str, control: str, others: dict[str, Setting], rows: Sequence[SweepRow]) -> SweepRange:
    found = [(row.settings[control], row.figures[figure].quantity) for row in rows]
    lacking = [str(setting) for setting, quantity in found if not quantity.present]
    missing = f"no {figure} at {control} {listed(lacking)}" if lacking else ""
    low, low_at = _end(found, missing, largest=False)
    high, high_at = _end(found, missing, largest=True)
    return SweepRange(figure, control, others, len(rows), low, low_at, high, high_at, missing)


def _end(found: Sequence[tuple[Setting, Quantity]], missing: str, *, largest: bool) -> tuple[Quantity, Setting | None]:
    """One end of the range, and where it is. What is missing could lie beyond it, so that it is a bound then."""
    unit = found[0][1].unit
    present = [one for one in found if one[1].present]
    if not present:
        return absent(unit, missing), None
    values = [quantity for _, quantity in present]
    end = maximum(values, unit) if largest else minimum(values, unit)
    inward: Bound = "above" if largest else "below"
    if missing:
        if end.bound not in (None, inward):
            return absent(unit, f"{missing}; {end.why}", end.records), None
        return end._replace(bound=inward, s=None, why="; ".join(filter(None, (end.why, missing)))), None
    sign = 1.0 if largest else -1.0
    ends = [_interval(one, sign) for one in values]
    top = max(range(len(ends)), key=ends.__getitem__)
    certain = all(high <= ends[top][0] for index, (_, high) in enumerate(ends) if index != top)
    return end, present[top][0] if certain else None


def _interval(quantity: Quantity, sign: float) -> tuple[float, float]:
    """Both ends of what ``sign`` times the value may be."""
    assert quantity.value is not None
    value = sign * quantity.value
    if quantity.bound is None:
        return value, value
    return (value, math.inf) if (quantity.bound == "above") == (sign > 0.0) else (-math.inf, value)
