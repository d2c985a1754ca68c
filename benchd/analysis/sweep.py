"""A sweep as a table: one row for each point of the display's settings, and the range of white over each control."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from benchd.analysis.log.log_data import LogData
from benchd.analysis.log.log_head import SetRecord
from benchd.analysis.log.places import listed
from benchd.analysis.log.step_data import StepData
from benchd.analysis.log.step_light import NOT_MEASURED, chromaticities
from benchd.analysis.results import Chromaticity, Contrast, Grayscale, Luminance, Patches, Uniformity
from benchd.analysis.results_colour import Colours, Gamut, SpaceCoverage
from benchd.analysis.results_hdr import ColourLevels, Halo, Peak, Sustained, ToneCurve
from benchd.analysis.results_swept import Setting, Sweep, SweepColours, SweepRange, SweepRow
from benchd.analysis.uncertainty.quantity import Bound, Quantity, absent, greatest, least, ratio

METHOD = (
    "one row a point: white, black and colour of white of the point's luminance block, else of its sequential "
    "contrast, else of its full-screen grayscale; contrast is full-screen white over black, one after the other; "
    "dE00 and gamma (white fixed) of its first grayscale. The blocks of a point hold their own methods"
)
NO_WHITE = "no block measures full-screen white and black at this point"
NO_GRAYSCALE = "no grayscale is measured at this point"
CONTROL_ERROR = "Control"
"""What the names of all errors of display controls begin with."""

Block = (
    Luminance | Contrast | Grayscale | Uniformity | Patches | Gamut | Colours
    | Peak | Sustained | ToneCurve | Halo | ColourLevels
)  # fmt: skip
"""The results of one block."""


@dataclass(slots=True)
class _Point:
    """One point: its name, settings, and its blocks as the log describes them, with their results."""

    name: str
    settings: dict[str, Setting]
    blocks: list[tuple[Mapping[str, Any], Block]] = field(default_factory=list)


class _Screen(NamedTuple):
    """Full-screen white and black of one block; ``colour`` is None where ``lit``, the step of white, must tell."""

    white: Quantity
    black: Quantity
    contrast: Quantity
    colour: Chromaticity | None
    lit: StepData | None = None


def sweep(survey: LogData, blocks: Iterable[Mapping[str, Any]], found: Mapping[str, Any]) -> Sweep | None:
    """The table of a sweep from the log's ``blocks`` and the results ``found`` under their names; None without one."""
    points = _points(blocks, found)
    if not points:
        return None
    controls = tuple(points[0].settings)
    screens = [[_screen(survey, *block) for block in point.blocks] for point in points]
    known = [[screen for screen in several if screen is not None] for several in screens]
    colours = _colours(known)
    history = _History(survey)
    rows = [_row(*parts, history) for parts in zip(points, known, colours, strict=True)]
    with_white = [row for row, several in zip(rows, known, strict=True) if several]
    kept = tuple(dict.fromkeys(survey.not_restored))
    return Sweep(METHOD, controls, tuple(rows), tuple(_ranges(controls, with_white)), kept)


def _points(blocks: Iterable[Mapping[str, Any]], found: Mapping[str, Any]) -> list[_Point]:
    """Sorted by the value of the first control, then of the second; names as the log has them first."""
    points: dict[str, _Point] = {}
    for block in blocks:
        if "settings" not in block:
            continue
        settings, name = dict(block["settings"]), str(block["name"])
        point = points.setdefault(name.partition("/")[0], _Point(name.partition("/")[0], settings))
        if name in found:
            point.blocks.append((block, found[name]))
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


def _screen(survey: LogData, described: Mapping[str, Any], block: Block) -> _Screen | None:
    """White, black and contrast of a block that shows both on the full screen; None for any other."""
    if isinstance(block, Luminance):
        return _Screen(block.white, block.black, ratio(block.white, block.black), block.white_chromaticity)
    if isinstance(block, Contrast) and block.sequential:
        one = block.sequential
        labels = {"kind": "sequential", "level": "white"}
        lit = next((step for step in survey.of_block(block.block) if step.labels == labels), None)
        return _Screen(one.white, one.black, one.ratio, None, lit)
    if isinstance(block, Grayscale) and float(described.get("area_percent", 100)) >= 100:
        steps = {step.code: step for step in block.steps}
        white = steps.get((1 << int(described.get("bits", 8))) - 1)
        black = steps.get(0)
        light, dark = (step.luminance if step else absent("cd/m2", NOT_MEASURED) for step in (white, black))
        return _Screen(light, dark, ratio(light, dark), white.chromaticity if white else None)
    return None


def _colours(screens: Sequence[Sequence[_Screen]]) -> list[Chromaticity]:
    """The colour of white of each point, all that are still to be computed together."""
    chosen = [_choice(several, lambda screen: screen.white) for several in screens]
    steps = [one.lit if one and one.colour is None else None for one in chosen]
    whites = [one.white if one else absent("cd/m2", NO_WHITE) for one in chosen]
    computed = chromaticities(steps, whites)
    return [one.colour if one and one.colour else own for one, own in zip(chosen, computed, strict=True)]


def _choice(several: Sequence[_Screen], part: Callable[[_Screen], Quantity]) -> _Screen | None:
    """The first in whose ``part`` there is a figure; where none has one, the first."""
    return next((one for one in several if part(one).present), several[0] if several else None)


def _row(point: _Point, screens: Sequence[_Screen], colour: Chromaticity, history: _History) -> SweepRow:
    def of_screen(unit: str, part: Callable[[_Screen], Quantity]) -> Quantity:
        chosen = _choice(screens, part)
        return part(chosen) if chosen else absent(unit, NO_WHITE)

    gray = next((block for _, block in point.blocks if isinstance(block, Grayscale)), None)
    judged = next((one for one in gray.delta_e if one.convention == gray.primary), None) if gray else None
    gamma = next((fit.gamma for fit in gray.gamma_fits if fit.white_fixed), None) if gray else None
    no_gray = absent("1", NO_GRAYSCALE)
    space = _space(point)
    by_hand, not_read_back = history.ways(point)
    errors = history.faults.get(point.name, ())
    return SweepRow(
        point=point.name,
        settings=point.settings,
        white=of_screen("cd/m2", lambda screen: screen.white),
        black=of_screen("cd/m2", lambda screen: screen.black),
        contrast=of_screen("1", lambda screen: screen.contrast),
        x=colour.x,
        y=colour.y,
        cct=colour.cct,
        duv=colour.duv,
        delta_e_mean=judged.mean if judged else no_gray,
        delta_e_max=judged.maximum if judged else no_gray,
        delta_e_convention=judged.convention if judged else "",
        gamma=gamma or no_gray,
        faults=len(errors),
        control_faults=sum(name.startswith(CONTROL_ERROR) for name in errors),
        by_hand=by_hand,
        not_read_back=not_read_back,
        coverage_uv=space.coverage_uv if space else None,
        coverage_space=space.label if space else "",
        colours=tuple(_colour_lists(point)),
    )


def _space(point: _Point) -> SpaceCoverage | None:
    """How the point's gamut covers the space of the target, or the first one that it is held against."""
    gamut = next((block for _, block in point.blocks if isinstance(block, Gamut)), None)
    if gamut is None or not gamut.coverage:
        return None
    return next((one for one in gamut.coverage if one.space == gamut.target), gamut.coverage[0])


def _colour_lists(point: _Point) -> Iterable[SweepColours]:
    for _, block in point.blocks:
        if isinstance(block, Colours):
            chosen = next(one for one in block.accuracy if one.name == block.primary)
            name = block.block.partition("/")[2]
            yield SweepColours(name, chosen.convention, chosen.mean, chosen.maximum, block.list)


class _History:
    """What happened at each point, and how its settings were made."""

    def __init__(self, survey: LogData) -> None:
        self.faults: dict[str, list[str]] = {}
        for step, errors in survey.faults_at.items():
            self.faults.setdefault(step.partition("/")[0], []).extend(errors)
        self._sets: dict[str, list[SetRecord]] = {}
        for one in survey.settings:
            self._sets.setdefault(one.control, []).append(one)
        self._begun: dict[str, int] = {}
        for step, measured in survey.measured.items():
            if measured.records:
                name, seq = step.partition("/")[0], measured.records[0][0]
                self._begun[name] = min(seq, self._begun.get(name, seq))

    def ways(self, point: _Point) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """Controls set by hand, and other ones that could not be read back, in the plan's order."""
        by_hand, not_read_back = [], []
        for control in point.settings:
            made = self._made(point, control)
            if any(one.by == "hand" for one in made):
                by_hand.append(control)
            elif any(one.read_back is None for one in made):
                not_read_back.append(control)
        return tuple(by_hand), tuple(not_read_back)

    def _made(self, point: _Point, control: str) -> list[SetRecord]:
        """Every time that ``control`` was set for this point, or was left from an earlier one."""
        sets = self._sets.get(control, [])
        own = [one for one in sets if one.step.partition("/")[0] == point.name]
        begun = self._begun.get(point.name)
        if begun is not None and not any(one.seq < begun for one in own):
            value = point.settings[control]
            own += [one for one in sets if one.seq < begun and one.asked == value][-1:]
        return own


def _ranges(controls: Sequence[str], rows: Sequence[SweepRow]) -> Iterable[SweepRange]:
    """Each control of numbers, over each combination of the others that has two values of it at least."""
    for control in controls:
        if not all(_is_number(row.settings[control]) for row in rows):
            continue
        groups: dict[tuple[tuple[str, Setting], ...], list[SweepRow]] = {}
        for row in rows:
            others = tuple((name, value) for name, value in row.settings.items() if name != control)
            groups.setdefault(others, []).append(row)
        for others, own in groups.items():
            if len(own) > 1:
                yield _range(control, dict(others), own)


def _range(control: str, others: dict[str, Setting], rows: Sequence[SweepRow]) -> SweepRange:
    lacking = [str(row.settings[control]) for row in rows if not row.white.present]
    missing = f"no white luminance at {control} {listed(lacking)}" if lacking else ""
    low, low_at = _end(control, rows, missing, largest=False)
    high, high_at = _end(control, rows, missing, largest=True)
    return SweepRange(control, others, len(rows), low, low_at, high, high_at, missing)


def _end(control: str, rows: Sequence[SweepRow], missing: str, *, largest: bool) -> tuple[Quantity, Setting | None]:
    """One end of the range, and where it is. What is missing could lie beyond it, so that it is a bound then."""
    unit = "cd/m2"
    present = [row for row in rows if row.white.present]
    if not present:
        return absent(unit, missing), None
    whites = [row.white for row in present]
    end = greatest(whites, unit) if largest else least(whites, unit)
    inward: Bound = "above" if largest else "below"
    if missing:
        if end.bound not in (None, inward):
            return absent(unit, f"{missing}; {end.why}", end.records), None
        return end._replace(bound=inward, s=None, why="; ".join(filter(None, (end.why, missing)))), None
    sign = 1.0 if largest else -1.0
    ends = [_interval(white, sign) for white in whites]
    top = max(range(len(ends)), key=ends.__getitem__)
    certain = all(high <= ends[top][0] for index, (_, high) in enumerate(ends) if index != top)
    return end, present[top].settings[control] if certain else None


def _interval(quantity: Quantity, sign: float) -> tuple[float, float]:
    """Both ends of what ``sign`` times the value may be."""
    assert quantity.value is not None
    value = sign * quantity.value
    if quantity.bound is None:
        return value, value
    return (value, math.inf) if (quantity.bound == "above") == (sign > 0.0) else (-math.inf, value)
