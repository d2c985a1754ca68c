"""The conditions of a run as its log keeps them: every statement of each, the one that counts first.

The display's own answers count before what was entered for this run, that before the plan, and the bench after it: the
display is asked now, a bench profile was written once. What was entered at an earlier run is last: it only fills what
nothing states now. Statements that disagree are all kept, and results show them.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

from benchd.clock import Deadline
from benchd.errors import BenchdError, ControlRefused, InputError
from benchd.measuring_conditions import (
    CONDITIONS_VERSION,
    KINDS_OF_CONDITION,
    Source,
    Value,
    condition_of_control,
    contradictions,
    does_agree,
    is_same,
    value_words,
)
from benchd.run.log.records import Body

if TYPE_CHECKING:
    from benchd.instruments.meter import MeterIdentity
    from benchd.instruments.open_controls import OpenControls
    from benchd.patch.screen import ScreenIdentity
    from benchd.plan.plan import Plan
    from benchd.profile.bench import Bench

ANSWERS_WITHIN_S = 3.0
"""Of a control that is read only for the record."""


class Entered(NamedTuple):
    """A condition from the operator; ``when``: the day of an earlier run at which it was entered, "" for now."""

    value: Value
    when: str = ""


class Statement(NamedTuple):
    """One statement of a condition."""

    key: str
    value: Value
    source: Source
    when: str = ""

    def body(self) -> Body:
        """As a log keeps it."""
        return {"value": self.value, "source": self.source} | ({"when": self.when} if self.when else {})


def swept_conditions(plan: Plan) -> dict[str, Value]:
    """The conditions that the plan's sweep sets, with all their values."""
    found = {condition_of_control(one.control): ", ".join(map(str, one.values)) for one in plan.sweep}
    return {key: values for key, values in found.items() if key}


def refuse_swept(plan: Plan, given: Collection[str], where: str = "--condition") -> None:
    """Raises `InputError` where a condition is given that the plan's sweep sets: each value in turn is recorded."""
    for key, values in swept_conditions(plan).items():
        if key in given:
            words = KINDS_OF_CONDITION[key].words
            raise InputError(f"{where} {key}: the plan sweeps {words} ({values}), each is recorded; leave it away")


def answered_by_display(plan: Plan, bench: Bench) -> dict[str, str]:
    """Conditions that the display answers for itself on this bench, with the control that is read."""
    swept = swept_conditions(plan)
    found = {}
    for name, control in bench.controls.items():
        key = condition_of_control(name)
        if key and key not in swept and (control.ddc is not None or control.read is not None):
            found[key] = name
    return found


def stated_before(plan: Plan, bench: Bench) -> set[str]:
    """Conditions that are known without the operator, as far as the files show."""
    found = {*swept_conditions(plan), *answered_by_display(plan, bench), *plan.stated_conditions}
    found |= {*bench.conditions.stated(), "hdr"}
    if bench.ddc is not None:
        found.add("firmware")
    if bench.flicker is not None and bench.flicker.refresh_hz:
        found.add("refresh_hz")
    if bench.uncertainty is not None and bench.uncertainty.calibrated:
        found.add("meter_calibrated")
    return found


def conditions_body(statements: Iterable[Statement], bench: Bench) -> Body:
    """All of them as the first record keeps them, and after how many months the bench states a calibration is due."""
    values: dict[str, list[Body]] = {key: [] for key in KINDS_OF_CONDITION}
    for one in statements:
        if one.body() not in values[one.key]:
            values[one.key].append(one.body())
    months = bench.conditions.calibration_interval_months
    return {
        "version": CONDITIONS_VERSION,
        "values": {key: several for key, several in values.items() if several},
        **({"calibration_interval_months": months} if months else {}),
    }


def statements_of(
    plan: Plan,
    bench: Bench,
    entered: Mapping[str, Entered],
    controls: OpenControls | None = None,
    meter: MeterIdentity | None = None,
    screen: ScreenIdentity | None = None,
) -> Iterator[Statement]:
    """Every statement, in the order in which they count."""
    yield from (Statement(key, value, "swept") for key, value in swept_conditions(plan).items())
    if controls is not None:
        yield from _answers(answered_by_display(plan, bench), controls)
    if meter is not None and meter.calibrated:
        yield Statement("meter_calibrated", meter.calibrated, "meter")
    now = {key: one.value for key, one in entered.items() if not one.when}
    yield from (Statement(key, value, "operator") for key, value in now.items())
    stated = (*plan.stated_conditions.items(),)
    yield from (Statement(key, value, "plan") for key, value in stated)
    if bench.flicker is not None and bench.flicker.refresh_hz:
        yield Statement("refresh_hz", bench.flicker.refresh_hz, "bench")
    if bench.uncertainty is not None and bench.uncertainty.calibrated:
        yield Statement("meter_calibrated", bench.uncertainty.calibrated, "bench")
    yield from (Statement(key, value, "bench") for key, value in bench.conditions.stated().items())
    if screen is not None:
        modes = [one["hdr"] for one in (now, dict(stated), bench.conditions.stated()) if "hdr" in one]
        yield from _of_screen(screen, modes)
    yield from (Statement(key, one.value, "operator", one.when) for key, one in entered.items() if one.when)


def _answers(asked: Mapping[str, str], controls: OpenControls) -> Iterator[Statement]:
    """What the display answers now. One that does not answer is no reason not to measure."""
    questions: list[tuple[str, Callable[[Deadline], Value | None]]] = [
        (key, controls[name].read) for key, name in asked.items()
    ]
    if "firmware" not in asked:
        questions.append(("firmware", controls.firmware))
    for key, question in questions:
        try:
            value = question(Deadline.after(ANSWERS_WITHIN_S))
        except ControlRefused:
            continue  # the display has none of these
        except BenchdError:
            return  # nor would the next question be answered
        if value not in (None, ""):
            yield Statement(key, value, "display")


def _of_screen(screen: ScreenIdentity, modes: Sequence[Value]) -> Iterator[Statement]:
    """The mode's refresh rate, and the signal where it is not that of every stated HDR mode of the display."""
    if screen.refresh_hz:
        yield Statement("refresh_hz", round(screen.refresh_hz, 3), "screen")
    signal = f"{screen.signal.upper()} signal"
    if not modes or not all(does_agree("hdr", mode, signal) for mode in modes):
        yield Statement("hdr", signal, "screen")


def entered_before(before: Mapping[str, list[Body]]) -> dict[str, Entered]:
    """What a log has of the operator's, which a resume does not ask for again."""
    return {
        key: Entered(one["value"], str(one.get("when", "")))
        for key, several in before.items()
        for one in several
        if one["source"] == "operator"
    }


def changed_conditions(before: Mapping[str, list[Body]], now: Body) -> tuple[Body, list[str]]:
    """What a resume finds otherwise than the log has it: the new statements, and a sentence for each.

    What was not known before is kept and not a change; what is not answered any more stands as it was.
    """
    values: Body = {}
    said = []
    for key, several in now["values"].items():
        first, known = several[0], before.get(key)
        if not known:
            values[key] = several
            continue
        earlier = known[0]
        if not is_same(first["value"], earlier["value"]) and first["source"] not in ("plan", "bench"):
            values[key] = several
            kind = KINDS_OF_CONDITION[key]
            was, is_now = value_words(kind, earlier["value"]), value_words(kind, first["value"])
            said.append(f"{kind.words} was {was} ({earlier['source']}) and is {is_now} ({first['source']}) now")
        elif several != known and contradictions({key: several}):
            values[key] = several  # the value stands; that it is contradicted now is kept
    return {"version": CONDITIONS_VERSION, "values": values}, said
