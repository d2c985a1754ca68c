"""Whose figures a plot shows and how they were measured, in a few lines below it: its file may be shown alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from benchd.analysis.log.conditions_log import RecordedCondition
from benchd.analysis.results import Results
from benchd.measuring_conditions import KINDS_OF_CONDITION, condition_of_control, value_words
from benchd.report.sections.conditions import meter_name
from benchd.report.words import printable, shortened

MAX_NOTE = 60
"""Signs of a note below a plot."""
MAX_DIFFERING = 120
"""Signs of a condition that is given log by log; of a longer one only the name stands there."""
CHIEF = ("preset", "brightness", "room_illuminance_lx")
"""Conditions without which figures of a display can't be compared."""
NOT_RECORDED = "not recorded"

Labelled = Sequence[tuple[str, Results]]
"""Logs, each with its name in the plot; a single one needs none."""
Held = Mapping[str, tuple[str, str]]
"""Condition -> its value, and what is said where all logs have the same."""


def plot_conditions(several: Labelled, point: str = "") -> str:
    """``plover-27/1; plan sdr-standard; 2026-11-30; ...``: what all logs share, then what differs, log by log.

    ``point``: the one of a sweep that is shown; "": all of them.
    """
    labels = [label for label, _ in several]
    run, differing = _parted(labels, [_run(results) for _, results in several])
    recorded, others = _parted(labels, [_recorded(results, point) for _, results in several])
    lacking = [name for name in recorded if name == recorded[name]]
    stated = ", ".join(said for name, said in recorded.items() if name != said)
    unknown = f"{', '.join(lacking)} {NOT_RECORDED}" if lacking else ""
    unlike = {name: f"{name}: {text}" for name, text in (differing | others).items()}
    long = [name for name, text in unlike.items() if len(text) > MAX_DIFFERING]
    by_log = [text for name, text in unlike.items() if name not in long]
    rest = f"conditions differ: {', '.join(long)}" if long else ""
    return printable("; ".join(filter(None, (_samples(several), *run.values(), stated, unknown, *by_log, rest))))


def whose(several: Labelled) -> str:
    """``plover-27/1; 2026-11-30``: the samples and the days of a plot, without how they were measured."""
    days = dict.fromkeys(results.started[:10] for _, results in several)
    return printable("; ".join((_samples(several), ", ".join(days))))


def _samples(several: Labelled) -> str:
    return ", ".join(dict.fromkeys(results.sample or "sample not named" for _, results in several))


def _parted(labels: Sequence[str], each: Sequence[Held]) -> tuple[dict[str, str], dict[str, str]]:
    """What is said of the conditions that all share; of the others ``a off, b none``."""
    same, differing = dict[str, str](), dict[str, str]()
    for name in dict.fromkeys(name for held in each for name in held):
        values, said = zip(*(held.get(name, (NOT_RECORDED, "")) for held in each), strict=True)
        if len({value.casefold() for value in values}) > 1:
            differing[name] = ", ".join(f"{label} {value}" for label, value in zip(labels, values, strict=True))
        elif said[0]:
            same[name] = said[0]
    return same, differing


def _run(results: Results) -> Held:
    plan = results.plan + (", not ended" if results.interrupted else "")
    day, meter, note = results.started[:10], meter_name(results.meter), shortened(results.note, MAX_NOTE)
    target = results.target.name if results.target else ""
    return {
        "plan": (plan, f"plan {plan}"),
        "begun": (day, day),
        "target": (target or "none", f"target {target}" if target else ""),
        "meter": (meter, f"meter {meter}"),
        "note": (note or "none", note),
    }


def _recorded(results: Results, point: str) -> Held:
    """The recorded conditions; of what a sweep sets the value of its ``point``."""
    swept = {condition_of_control(name): "" for name in results.sweep.controls} if results.sweep else dict[str, str]()
    for row in results.sweep.rows if results.sweep else ():
        if row.point == point:
            swept |= {
                key: value_words(KINDS_OF_CONDITION[key], value)
                for name, value in row.settings.items()
                if (key := condition_of_control(name))
            }
    return {one.words: _condition(one, swept.get(one.key)) for one in results.conditions}


def _condition(one: RecordedCondition, swept: str | None) -> tuple[str, str]:
    """``swept``: what a sweep set it to; "": its values in turn; None: it is none of the sweep's.

    Of one that is not recorded and chief the name alone is said.
    """
    if swept:
        return swept, f"{one.words} {swept}"
    if one.value is not None:
        return one.text, one.said
    return ("swept", "") if swept == "" else (NOT_RECORDED, one.words if one.key in CHIEF else "")
