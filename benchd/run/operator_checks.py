"""The operator's part of a session: to stop it, to do what the bench can't do by itself, and to confirm it.

Confirmed is what an operator was to do and the light does not show: a setting after which a patch reads as before, a
meter that was moved and reads the same everywhere. Made of the log's records alone, so that a resume has what the
session before it saw. The operator is prompted, and the log keeps the answer, or that there was none: then the results
are marked as doubtful.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import pairwise
from statistics import fmean, stdev
from typing import NamedTuple

from benchd.clock import StopRequest
from benchd.instruments.control import Ask as AskToSet
from benchd.patch.model import Patch, grey, max_code
from benchd.plan.safety import is_bright
from benchd.plan.step import ATTENDED, CENTRE, Step
from benchd.plan.sweep import Point
from benchd.profile.reading.values import Setting
from benchd.run.bench.attended import Ask, no_operator_to_ask
from benchd.run.bench.log_head import steps_of_light
from benchd.run.log.records import Body, CheckedPatch, Record

WITHIN_STANDARD_DEVIATIONS = 3.0
CLEARLY_STANDARD_DEVIATIONS, CLEARLY_SHARE = 20.0, 0.01
"""What shows that it was set after all. Many patches are compared, and a doubt must not fall by chance: with three
readings each, one of 100 000 pairs of equal lights is 20 of their standard deviations apart (normal errors)."""
ANSWER_WITHIN_S = 60.0
CONFIRMATION = "confirmation"
"""Kind of the record that keeps the answer."""
Triple = tuple[float, float, float]
Write = Callable[[str, str, int, Body], None]
"""Puts a record into the log: kind, step, attempt, body."""


class Answer(StrEnum):
    """The operator's answer. ``CHANGED``: a later patch shows that it was set after all, without an answer."""

    YES = "yes"
    AGAIN = "again"
    NONE = "none"
    CHANGED = "changed"


Confirm = Callable[["Doubt"], Answer]
"""Prompts the operator and waits `ANSWER_WITHIN_S`; `Answer.NONE` without an answer."""


class Doubt(NamedTuple):
    """One prompt: what the light shows, the question, what `AGAIN` would do, and which steps are read again then."""

    about: str  # "setting" or "move"
    note: str
    question: str
    again: str
    step: str  # the one that raised it
    steps: tuple[str, ...]
    control: str = ""
    value: Setting | None = None  # of the control

    @property
    def body(self) -> Body:
        """For the log, without the answer."""
        return {"about": self.about, "note": self.note, "control": self.control, "steps": list(self.steps)}


def no_operator_to_confirm(doubt: Doubt) -> Answer:
    """The `Confirm` of a run without an operator."""
    return Answer.NONE


class Light(NamedTuple):
    """What a step read, X, Y, Z in cd/m2: mean, standard deviation, and the smallest difference of two readings."""

    step: str
    settings: Point
    mean: Triple
    s: Triple
    finest: Triple

    @property
    def luminance(self) -> str:
        """As a sentence has it."""
        return f"{self.mean[1]:.4g}"


def is_same(first: Light, second: Light, resolution: Body) -> bool:
    """True when X, Y and Z stayed within three standard deviations of a reading, and the meter's resolution.

    ``resolution``: as the log's head has it. Without a stated one the smallest difference between the readings stands
    for it.
    """
    steps = _steps(first, second, resolution)
    return all(
        abs(a - b) <= WITHIN_STANDARD_DEVIATIONS * max(s, t) + step * (1.0 + 1e-6)
        for a, b, s, t, step in zip(first.mean, second.mean, first.s, second.s, steps, strict=True)
    )


def is_clearly_other(first: Light, second: Light, resolution: Body) -> bool:
    """True when the luminance differs by far more than noise and resolution make of one light."""
    a, b = first.mean[1], second.mean[1]
    noise = max(CLEARLY_STANDARD_DEVIATIONS * max(first.s[1], second.s[1]), CLEARLY_SHARE * max(a, b))
    return abs(a - b) > noise + _steps(first, second, resolution)[1]


def _steps(first: Light, second: Light, resolution: Body) -> Triple:
    if (steps := steps_of_light(resolution, first.mean)) is not None:
        return steps
    x, y, z = (max(pair) for pair in zip(first.finest, second.finest, strict=True))
    return (x, y, z)


@dataclass(slots=True)
class _Visit:
    """The point of a sweep after the operator was requested to set ``control``."""

    control: str
    old: Setting
    new: Setting
    steps: list[str]
    changed: bool = False
    raised: str = ""  # the step that raised the question
    unanswered: bool = False


class OperatorChecks:
    """The prompts of one run. ``confirm`` prompts; ``resolution``: as the log's head has it; ``records``: so far."""

    def __init__(
        self,
        steps: Sequence[Step],
        confirm: Confirm = no_operator_to_confirm,
        resolution: Body | None = None,
        records: Iterable[Record] = (),
    ) -> None:
        self.confirm = confirm
        self.taken_back = 0
        """How often steps were taken back in this session."""
        self.doubt: Doubt | None = None
        """What must be confirmed before anything else is read."""
        self.changed: Doubt | None = None
        """A doubt that stood and that the light has settled since."""
        self._steps = {step.id: step for step in steps}
        self._grids = _grids(steps)
        self._resolution = resolution or {}
        self._values: dict[str, Setting] = {}
        self._visit: _Visit | None = None
        self._pending: dict[tuple[str, int], list[Triple]] = {}
        self._seen: dict[tuple[Patch, tuple[float, float]], list[Light]] = {}
        self._read: dict[str, Light] = {}
        self._moved_manually = False
        self._moved: set[str] = set()  # steps of which the operator moved the meter to their place
        self._asked: set[tuple[str, Point]] = set()  # grids
        for record in records:
            self.take(record)
        self.doubt = _before_the_pause(self.doubt)

    def ask(self, checks: Mapping[str, CheckedPatch], stop: StopRequest, write: Write) -> tuple[Doubt, Answer] | None:
        """Prompt what is due and keep the answer; after `Answer.AGAIN` its steps are taken back, to be read again."""
        if self.changed is not None:
            write(CONFIRMATION, self.changed.step, 0, {**self.changed.body, "answer": Answer.CHANGED.value})
        if (doubt := self.doubt) is None:
            return None
        answer = self.confirm(doubt)
        if stop.asked:  # the resume prompts again
            return None
        again = answer is Answer.AGAIN
        if again:  # first, so that after a kill in between, too, nothing stands that was taken back
            dropped = [name for name, checked in checks.items() if checked.step in doubt.steps]
            body = {
                "steps": list(doubt.steps),
                "reference_checks_dropped": dropped,
                "why": f"the operator: {doubt.again}",
            }
            write("invalidated", doubt.step, 0, body | {"about": doubt.about})
            self.taken_back += 1
        write(CONFIRMATION, doubt.step, 0, {**doubt.body, "answer": answer.value})
        return doubt, answer

    def take(self, record: Record) -> None:
        """One more record of the log."""
        kind, key = record.kind, (record.step, record.attempt)
        if kind == "reading":
            if (xyz := record.body["xyz"]) is not None:
                self._pending.setdefault(key, []).append((xyz[0], xyz[1], xyz[2]))
        elif kind == "settled":
            self._pending.pop(key, None)
        elif kind == "done":
            self._done(self._steps.get(record.step), self._pending.pop(key, []), record.body)
        elif kind == "set" and not record.body["restoring"]:
            self._set(record.body["control"], record.body["asked"], manually=record.body["by"] == "operator")
        elif kind == "moved":
            self._moved_manually = record.body.get("by") == "operator" and record.body.get("place") not in ATTENDED
        elif kind == "invalidated":
            self._take_back(record.body["steps"])
        elif kind == CONFIRMATION:
            self._answered(record.body["about"], record.body["answer"])

    def _set(self, control: str, value: Setting, *, manually: bool) -> None:
        old = self._values.get(control)
        self._values[control] = value
        if old == value:
            return
        visit = self._visit
        if manually and old is not None:
            self._visit = _Visit(control, old, value, [])
        elif visit is not None and (visit.steps or visit.control == control):
            self._visit = None

    def _done(self, step: Step | None, readings: list[Triple], body: Body) -> None:
        if step is None or step.kind != "measure" or step.series is not None or not readings:
            return
        light = _light(step, readings, body)
        before = self._seen.setdefault((step.patch, step.at), [])
        if self._visit is not None:
            self._after_setting(self._visit, step, light, before)
        before.append(light)
        self._read[step.id] = light
        if step.at != CENTRE and self._moved_manually:
            self._moved.add(step.id)
            self._after_move(step)

    def _after_setting(self, visit: _Visit, step: Step, light: Light, before: Sequence[Light]) -> None:
        here = dict(step.settings)
        if here.get(visit.control) != visit.new:
            return
        visit.steps.append(step.id)
        then = {**here, visit.control: visit.old}
        last = next((one for one in reversed(before) if one.settings != step.settings), None)
        if visit.changed or last is None or dict(last.settings) != then:
            return
        bright = is_bright(step.patch) and not visit.raised
        if bright and is_same(last, light, self._resolution):
            visit.raised = step.id
            self.doubt = self._of_setting(visit, step, last, light)
        elif bright or is_clearly_other(last, light, self._resolution):
            visit.changed = True
            if visit.unanswered:
                self.changed = self._of_setting(visit, step, last, light)._replace(step=visit.raised)

    def _of_setting(self, visit: _Visit, step: Step, last: Light, light: Light) -> Doubt:
        white = step.patch.kind == "field" and step.patch.code == grey(max_code(step.patch.bits))
        what = "white" if white else f"the patch of {step.id}"
        note = (
            f"{what} did not change ({last.luminance} -> {light.luminance} cd/m2) though {visit.control} went from "
            f"{visit.old} to {visit.new}"
        )
        again = "I set it now, read again"
        return Doubt("setting", note, "Was it set?", again, step.id, tuple(visit.steps), visit.control, visit.new)

    def _after_move(self, step: Step) -> None:
        name = (step.block, step.settings)
        cells = self._grids.get(name, ())
        if name in self._asked or any(cell.id not in self._read for cell in cells):
            return
        if not any(cell.id in self._moved for cell in cells):
            return
        pairs = [pair for pair in (self._against_centre(cell) for cell in cells) if pair is not None]
        if not pairs or any(not is_same(*pair, self._resolution) for pair in pairs):
            return
        self._asked.add(name)
        note = f"no place of {step.block} differs from the centre ({pairs[0][0].luminance} cd/m2)"
        steps = tuple(cell.id for cell in cells)
        self.doubt = Doubt("move", note, "Was the meter moved?", "I move it now, read again", step.id, steps)

    def _against_centre(self, cell: Step) -> tuple[Light, Light] | None:
        """What the same patch reads at the centre under the same settings, and at ``cell``; None: it was not read."""
        at_centre = self._seen.get((cell.patch, CENTRE), ())
        centre = next((one for one in reversed(at_centre) if one.settings == cell.settings), None)
        return None if centre is None else (centre, self._read[cell.id])

    def _take_back(self, steps: Iterable[str]) -> None:
        for name in steps:
            if self._read.pop(name, None) is None:
                continue
            self._moved.discard(name)
            step = self._steps[name]
            seen = self._seen[step.patch, step.at]
            seen[:] = [one for one in seen if one.step != name]
            visit = self._visit
            if visit is not None and name in visit.steps:
                visit.steps.remove(name)
                visit.raised = "" if visit.raised == name and not visit.unanswered else visit.raised
            self._asked.discard((step.block, step.settings))
        if self.doubt is not None and self.doubt.step not in self._read:
            self.doubt = None

    def _answered(self, about: str, answer: str) -> None:
        self.doubt = None
        if answer == Answer.CHANGED:
            self.changed = None
        if self._visit is not None and about == "setting":
            self._visit.unanswered = answer == Answer.NONE
            if answer == Answer.AGAIN:
                self._visit.raised = ""


def _before_the_pause(doubt: Doubt | None) -> Doubt | None:
    """The same, raised by an earlier session: the display may have been set otherwise since."""
    if doubt is None:
        return None
    still = f"was it set to {doubt.value}, and is it still?" if doubt.about == "setting" else "was the meter moved?"
    return doubt._replace(question=f"That was before the pause: {still}")


def _grids(steps: Iterable[Step]) -> Mapping[tuple[str, Point], list[Step]]:
    """Steps away from the centre, by block and settings."""
    found: dict[tuple[str, Point], list[Step]] = {}
    for step in steps:
        if step.kind == "measure" and step.at != CENTRE and step.place not in ATTENDED:
            found.setdefault((step.block, step.settings), []).append(step)
    return found


def _light(step: Step, readings: Sequence[Triple], body: Body) -> Light:
    """Of one reading the standard deviation is what its step was read to, where it was."""
    x, y, z = zip(*readings, strict=True)
    mean = (fmean(x), fmean(y), fmean(z))
    if len(readings) > 1:
        s = (stdev(x), stdev(y), stdev(z))
    else:
        reached = float((body.get("precision") or {}).get("reached") or 0.0)
        s = (reached * mean[0], reached * mean[1], reached * mean[2])
    return Light(step.id, step.settings, mean, s, (_finest(x), _finest(y), _finest(z)))


def _finest(values: Iterable[float]) -> float:
    return min((b - a for a, b in pairwise(sorted(set(values)))), default=0.0)


@dataclass(frozen=True, slots=True)
class Operator:
    """Who attends a session; as it is made without values, nobody."""

    stop: StopRequest = field(default_factory=StopRequest)
    ask: Ask = no_operator_to_ask  # to move the meter
    ask_to_set: AskToSet | None = None  # a control of the display; None: nobody can
    ask_to_show: AskToSet | None = None  # a patch on a source without a window; None: nobody can
    confirm: Confirm = no_operator_to_confirm  # that it was done, where the light did not change
