"""Displays side by side: every figure they share, the difference with its uncertainty, and what it means.

The first sample is what the others are compared with. What two logs of one meter share (its scale; its spectral
errors where `meter_model.spectral` allows it) is one source in both, so it cancels in the difference by itself;
everything else is taken as independent.
Several logs of one model: the mean of its units, and their spread in place of the noise of the readings.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from benchd.analysis.catalogue import POINT, headlines
from benchd.analysis.catalogue_figure import Figure
from benchd.analysis.figure_conditions import Conditions, conditions_text, differing
from benchd.analysis.log.conditions_log import recorded_texts
from benchd.analysis.meter_model.spectral import moved_by_spectrum, spectral_words
from benchd.analysis.meter_model.stated_sources import is_known
from benchd.analysis.results import Results, units
from benchd.analysis.sweep_points import in_order, settings_in, split_name
from benchd.analysis.uncertainty.difference_interval import DifferenceSources, asymmetric_difference
from benchd.analysis.uncertainty.quantity import Quantity, mean, ratio, relabelled, scaled
from benchd.analysis.uncertainty.sources import Fixed, Source, coverage_factor, effective_dof, standard
from benchd.analysis.verdicts.equivalence import Margin, Measurand, Verdict, decide, holm
from benchd.measuring_conditions import condition_of_control

Answer = Literal["different", "equivalent", "different and equivalent", "inconclusive", "not compared"]

BY_NAME = {"black luminance": Margin(5.0, percent=True)}
BY_KIND = {
    "cd/m2": Margin(2.0, percent=True),
    "1": Margin(5.0, percent=True),
    "%": Margin(1.0),
    "K": Margin(100.0),
    "xy": Margin(0.004),
    "u'v'": Margin(0.004),
    "Duv": Margin(0.002),
    "dE00": Margin(0.5),
    "gamma": Margin(0.05),
}
"""The largest difference that does not matter, where the operator states none: common practice, no standard."""

NOT_TESTED = frozenset({"white x", "white y", "white Duv"})
"""The same colour as u', v' and CCT once more: shown nowhere as a second proof, at no point of a sweep either."""

UNSTATED = (
    "not read by one meter for certain, and nothing is stated of one of the meters, whose errors may be all of the "
    "difference; state its uncertainty in the bench profile"
)
SPECTRAL_UNSTATED = (
    "nothing is stated of the meter, whose spectral errors on another display technology may be all of the difference; "
    "state the technology and the meter's uncertainty in the bench profile"
)


@dataclass(frozen=True, slots=True)
class Sample:
    """What is compared: one log, or several logs of one model.

    ``digests`` identify the logs, one each.
    """

    label: str
    logs: tuple[Results, ...]
    digests: tuple[str, ...]

    @property
    def replicate(self) -> str:
        """What several logs are: units of a model where they are of several samples, else runs."""
        return "unit" if units(self.logs) > 1 else "run"


@dataclass(frozen=True, slots=True)
class SampleFigure:
    """One figure of one sample. ``n`` logs have it; ``spread`` is the standard deviation between them.

    ``conditions``  what it holds for. Logs of one sample under several conditions have no mean: ``quantity`` is None
    """

    quantity: Quantity | None
    n: int = 0
    spread: float | None = None
    conditions: Conditions = ()


@dataclass(frozen=True, slots=True)
class Difference:
    """One sample against the first.

    ``difference``  this one minus the first; ``relative`` in % of the first where a ratio makes sense
    ``answer``      in words, and ``why`` where there is none or where it rests on a bound; "not compared" where the two
                    hold for different conditions
    ``verdict``     the tests behind it; None where a figure is only a bound or its uncertainty is not known
    """

    difference: Quantity | None
    relative: Quantity | None
    answer: Answer
    why: str = ""
    verdict: Verdict | None = None


@dataclass(frozen=True, slots=True)
class ComparisonRow:
    """One figure of all samples; ``differences`` has None for the first sample and where one lacks the figure."""

    headline: Figure
    sides: tuple[SampleFigure, ...]
    differences: tuple[Difference | None, ...]
    margin: Margin
    margin_stated: bool


@dataclass(frozen=True, slots=True)
class Comparison:
    """All of it. ``tested``: how many differences were judged together after Holm, so that false alarms stay rare.

    ``conditions``: name -> what each sample has, for those conditions that are not the same in all.
    ``spectral``: why the meter's spectral errors do not cancel in the differences; "" where they do.
    """

    labels: tuple[str, ...]
    simulated: bool
    rows: tuple[ComparisonRow, ...]
    tested: int
    same_meter: bool
    conditions: Mapping[str, tuple[str, ...]]
    spectral: str = ""


_Row = tuple[Figure, tuple[SampleFigure, ...]]
InOrder = Callable[[Callable[[_Row], ComparisonRow], Sequence[_Row]], Iterable[ComparisonRow]]


def compare(
    samples: Sequence[Sample], margins: Mapping[str, Margin] | None = None, *, over: InOrder = map
) -> Comparison:
    """Every figure that at least two of ``samples`` have; ``margins`` by the figure's name or "*" for all.

    The first sample is the reference. Needs two samples. ``over``: how the work on figures is done.
    """
    stated = margins or {}
    found = [_figures(sample) for sample in samples]
    names = list(dict.fromkeys(name for one in found for name in one))

    def judged(row: _Row) -> ComparisonRow:
        headline, sides = row
        margin, is_stated = margin_for(headline, stated)
        first = sides[0]
        differences = [
            _against(first, side, margin, samples[0].replicate, _unstated(samples[0], samples[index], headline))
            if index and side.n and first.n
            else None
            for index, side in enumerate(sides)
        ]
        return ComparisonRow(headline, sides, tuple(differences), margin, is_stated)

    shared = [
        (
            next(one[name][0] for one in found if name in one),
            tuple(one[name][1] if name in one else SampleFigure(None) for one in found),
        )
        for name in names
        if base_name(name) not in NOT_TESTED and sum(name in one for one in found) >= 2
    ]
    rows, tested = _together(list(over(judged, shared)))
    logs = [log for sample in samples for log in sample.logs]
    return Comparison(
        labels=tuple(sample.label for sample in samples),
        simulated=any(log.simulated for log in logs),
        rows=tuple(rows),
        tested=tested,
        same_meter=one_meter(logs),
        conditions=_conditions(samples),
        spectral=spectral_words(log.spectral for log in logs),
    )


def margin_for(headline: Figure, stated: Mapping[str, Margin]) -> tuple[Margin, bool]:
    """The margin of a figure and whether the operator stated it: by its name, then its name without the point."""
    base = base_name(headline.name)
    for name in (headline.name, base, "*"):
        if name in stated:
            return stated[name], True
    return BY_NAME.get(base) or BY_KIND.get(headline.unit, Margin(5.0, percent=True)), False


def base_name(name: str) -> str:
    """The name of a figure without the point of a sweep, and without the block where another gives it too."""
    return split_name(name)[0].partition(" (")[0]


def _figures(sample: Sample) -> dict[str, tuple[Figure, SampleFigure]]:
    """Name -> its headline and the figure of the sample: of its log, or the mean over its logs."""
    found: dict[str, list[Figure]] = {}
    for log, digest in zip(sample.logs, sample.digests, strict=True):
        for one in headlines(log):
            # Logs of one sample are of one technology, stated or not: its spectral errors do not average out.
            quantity = relabelled(one.quantity, f"{digest}:", f"{sample.label}:")
            found.setdefault(in_order(one.name), []).append(replace(one, quantity=quantity))
    return {name: (several[0], _side(sample.label, several)) for name, several in found.items()}


def _side(label: str, several: Sequence[Figure]) -> SampleFigure:
    quantities = [one.quantity for one in several]
    under = list(dict.fromkeys(one.conditions for one in several))
    if len(under) > 1:
        return SampleFigure(None, len(quantities), conditions=(("several", " / ".join(map(conditions_text, under))),))
    if len(quantities) == 1:
        return SampleFigure(quantities[0], 1, None, under[0])
    middle = mean(quantities, quantities[0].unit)
    values = [one.value for one in quantities if one.plain and one.value is not None]
    if len(values) < len(quantities) or not middle.plain or middle.value is None:
        return SampleFigure(middle, len(quantities), None, under[0])
    centre = math.fsum(values) / len(values)
    spread = math.sqrt(math.fsum((value - centre) ** 2 for value in values) / (len(values) - 1))
    return SampleFigure(_with_spread(middle, label, spread, len(values)), len(values), spread, under[0])


def _with_spread(middle: Quantity, label: str, spread: float, n: int) -> Quantity:
    """The mean with the spread between its logs in place of the noise within them, which is part of it.

    Where the noise alone makes more than the spread (few logs that happen to agree), the noise stays.
    """
    found = middle.sources.contributions() if middle.sources else None
    if found is None:
        return middle
    shared = {source: amount for source, amount in found.items() if source.shared or source.display}
    own = standard({source: amount for source, amount in found.items() if source not in shared})
    between = spread / math.sqrt(n)
    if own >= between:
        return middle
    return middle._replace(sources=Fixed((*shared.items(), (Source(f"between logs of {label}", n - 1.0), between))))


def _against(first: SampleFigure, other: SampleFigure, margin: Margin, replicate: str, silent: str) -> Difference:
    """``other`` minus ``first``; ``silent``: why it is not known what the meters themselves do to it."""
    a, b = other.quantity, first.quantity
    if a is None or b is None:
        mixed = (first if b is None else other).conditions[0][1]
        why = f"logs of one sample were measured under different conditions, so they have no mean: {mixed}"
        return Difference(None, None, "not compared", why)
    if first.conditions != other.conditions:
        unlike = differing(first.conditions, other.conditions)
        return Difference(None, None, "not compared", f"measured under different conditions, so not compared: {unlike}")
    change = asymmetric_difference(a, b)
    percent = scaled(ratio(a, b), 100.0, "%", -100.0) if a.unit in ("cd/m2", "1") and margin.percent else None
    if not (a.plain and b.plain):
        answer, why = _by_bounds(a, b)
        return Difference(
            change if change.present else None, percent if percent and percent.present else None, answer, why
        )
    stated, reach = change.stated, None
    if isinstance(change.sources, DifferenceSources):
        reach = change.sources.reach
        percent = percent and percent._replace(sources=None)  # a ratio of such figures is not linear either
    missing = silent
    if stated is None or a.u is None or b.u is None:
        missing = "the uncertainty is not known, so the difference is inconclusive"
    elif not silent and change.value and not stated.expanded:
        missing = "all readings are equal, so the meter's resolution hides their standard deviation"
    if missing or stated is None:
        return Difference(change, percent, "inconclusive", missing)
    verdict = decide(
        _measurand(a, other, replicate),
        _measurand(b, first, replicate),
        margin,
        u_difference=change.u if reach is None else stated.expanded / coverage_factor(stated.dof),
        dof_difference=stated.dof,
        reach=reach,
    )
    return Difference(change, percent, verdict.answer, verdict.why, verdict)


def _measurand(quantity: Quantity, side: SampleFigure, replicate: str) -> Measurand:
    """With the uncertainty of its own influences alone; what the two share is in that of the difference."""
    assert quantity.value is not None
    found = quantity.sources.contributions() if quantity.sources else None
    own = {source: amount for source, amount in (found or {}).items() if not source.shared}
    u, dof = standard(own), effective_dof(own)
    if side.n > 1:
        return Measurand(quantity.value, u, dof, quantity.unit, side.n, side.spread, replicate)
    return Measurand(quantity.value, u, dof, quantity.unit, quantity.n, quantity.s)


def _by_bounds(a: Quantity, b: Quantity) -> tuple[Answer, str]:
    """Two figures of which one or both are bounds: different when they exclude each other, else nothing follows."""
    (low_a, high_a), (low_b, high_b) = _ends(a), _ends(b)
    if low_a > high_b or low_b > high_a:
        return "different", "one is only a bound, and the bound excludes the other figure"
    return "inconclusive", "one is only a bound, and the bound leaves the other figure open"


def _ends(quantity: Quantity) -> tuple[float, float]:
    low, high = quantity.interval or (-math.inf, math.inf)
    if quantity.value is None or quantity.bound is None:
        return low, high
    return (quantity.value, high) if quantity.bound == "above" else (low, quantity.value)


def _together(rows: Sequence[ComparisonRow]) -> tuple[list[ComparisonRow], int]:
    """All verdicts judged together after Holm."""
    verdicts = [one.verdict for row in rows for one in row.differences if one and one.verdict]
    judged = iter(holm(verdicts))

    def after(one: Difference | None) -> Difference | None:
        if one is None or one.verdict is None:
            return one
        verdict = next(judged)
        return replace(one, answer=verdict.answer, why=verdict.why, verdict=verdict)

    return [replace(row, differences=tuple(map(after, row.differences))) for row in rows], len(verdicts)


def one_meter(logs: Sequence[Results]) -> bool:
    """True when it is known that one meter read all of them: by its serial number, or as the operator named it."""
    found = {_meter(log) for log in logs}
    return len(found) == 1 and is_known(*(logs[0].meter.get(key) for key in ("model", "serial_number", "driver")))


def _unstated(first: Sample, other: Sample, headline: Figure) -> str:
    """Why the meters' errors in a difference are not known: they do not cancel, and nothing is stated of one meter."""
    logs = (*first.logs, *other.logs)
    if set(first.digests) == set(other.digests) or all(log.meter_is_stated for log in logs):
        return ""
    if not one_meter(logs):
        return UNSTATED
    spectral = moved_by_spectrum(headline.name, headline.unit) and spectral_words(log.spectral for log in logs)
    return SPECTRAL_UNSTATED if spectral else ""


def _meter(log: Results) -> tuple[str, str]:
    return str(log.meter.get("model", "")), str(log.meter.get("serial_number", ""))


def _conditions(samples: Sequence[Sample]) -> dict[str, tuple[str, ...]]:
    """What was not the same in all: whoever reads a difference must know it."""

    def of(log: Results) -> dict[str, str]:
        keys = ("settle_s", "dark_settle_s", "readings", "dark_readings", "bits")
        point = settings_in(str(log.settings.get(POINT, "")))
        unrecorded = {name: value for name, value in point.items() if not condition_of_control(name)}
        return {
            "meter": " ".join(_meter(log)).strip(),
            "display technology": log.technology,
            "correction": log.spectral.correction or "none",
            "plan": log.plan,
            "target": log.target.name if log.target else "none",
            "screen": f"{log.screen.get('width')} x {log.screen.get('height')}, {log.screen.get('bits')} bits",
            "note": log.note,
            POINT: " ".join(f"{name}={value}" for name, value in unrecorded.items()),
            **{key: str(log.settings[key]) for key in keys if key in log.settings},
            **(known := recorded_texts(log.conditions)),
            "not recorded": ", ".join(name for name in recorded if name not in known),
        }

    recorded = dict.fromkeys(
        name for sample in samples for log in sample.logs for name in recorded_texts(log.conditions)
    )
    each = [[of(log) for log in sample.logs] for sample in samples]
    names = dict.fromkeys(name for logs in each for one in logs for name in one)
    shown = {
        name: tuple(", ".join(dict.fromkeys(one.get(name) or "-" for one in logs)) for logs in each) for name in names
    }
    return {
        name: texts
        for name, texts in shown.items()
        if len(set(texts)) > 1 and not (name in recorded and "-" in texts)  # these are under "not recorded"
    }
