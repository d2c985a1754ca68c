"""The operator forgets to set or to move: asked, answered, read again, and the doubt where nobody answers."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pytest

from benchd.analysis.doubts import operator_doubts
from benchd.analysis.log.log_data import collect
from benchd.clock import StopRequest
from benchd.plan.step import Step
from benchd.run.bench.log_head import steps_of_light
from benchd.run.log import journal
from benchd.run.log.records import Record, fold
from benchd.run.operator_checks import Answer, Doubt, Light, OperatorChecks, is_same
from tests.run.rig import ScriptedControl, ScriptedRig, run, step

WHITE_CD_M2 = 350.0
VALUES = (100, 50)


def at_point(value: int) -> list[Step]:
    made = [step(f"brightness={value}/{name}", code) for name, code in (("black", 0), ("white", 255), ("grey", 128))]
    return [replace(one, settings=(("brightness", value),)) for one in made]


POINTS = [one for value in VALUES for one in at_point(value)]
GRID = [
    step("grid/centre"),
    *(step(f"grid/{name}", at=at) for name, at in (("r1c1", (0.1, 0.1)), ("r1c3", (0.9, 0.1)), ("r3c1", (0.1, 0.9)))),
]
Lights = Callable[[ScriptedRig, str], float]


@dataclass
class Operator:
    """Answers in this order; then nobody does."""

    answers: list[Answer] = field(default_factory=list)
    asked: list[Doubt] = field(default_factory=list)

    def confirm(self, doubt: Doubt) -> Answer:
        self.asked.append(doubt)
        return self.answers.pop(0) if self.answers else Answer.NONE


def rig_of(light: Lights, *, by: str = "operator") -> ScriptedRig:
    rig = ScriptedRig(
        controls={"brightness": ScriptedControl("brightness", 100, "operator" if by == "operator" else "ddc")}
    )
    rig.meter.luminance = lambda request: light(rig, request.step) + 0.001 * (request.number % 3)
    return rig


def forgotten(rig: ScriptedRig, name: str) -> float:
    """As if nothing was ever set, until it was asked for a third time."""
    share = 1.0 if len(rig.controls["brightness"].sets) < 3 else 0.5
    return share * {"black": 0.3, "white": WHITE_CD_M2, "grey": 70.0}[name.rpartition("/")[2]]


def session(
    path: Path, steps: Sequence[Step], rig: ScriptedRig, operator: Operator, stop: StopRequest | None = None
) -> tuple[bool, list[Record]]:
    records = list(journal.LogFile(path).records()) if path.exists() else []
    checks = OperatorChecks(steps, operator.confirm, None, records)
    outcome, records = run(path, steps, rig, stop=stop, operator=checks)
    return outcome.complete, records


def cut_before_the_answer(log: Path) -> None:
    """As if the run was killed then."""
    lines = log.read_bytes().splitlines(keepends=True)
    cut = next(number for number, line in enumerate(lines) if b'"kind":"confirmation"' in line)
    log.write_bytes(b"".join(lines[:cut]))


def doubts(records: Sequence[Record]) -> list[str]:
    log_data = collect(one for one in records if one.kind != "started")
    return [step for doubt in operator_doubts(log_data) for step in doubt.steps]


def test_a_setting_that_the_light_does_not_show_is_asked_for_and_yes_goes_on_with_a_doubt(tmp_path: Path) -> None:
    operator = Operator([Answer.YES])
    complete, records = session(tmp_path / "a.log", POINTS, rig_of(forgotten), operator)
    assert complete
    (asked,) = operator.asked
    assert asked.note == "white did not change (350 -> 350 cd/m2) though brightness went from 100 to 50"
    assert asked.question == "Was it set?"
    kept = [one.body["answer"] for one in records if one.kind == "confirmation"]
    assert kept == ["yes"]
    assert doubts(records) == [one.id for one in at_point(50)]
    (doubt,) = operator_doubts(collect(one for one in records if one.kind != "started"))
    assert doubt.text == f"{asked.note}, and the operator confirmed that it was set"


def test_without_an_answer_all_that_was_read_at_the_point_is_in_doubt(tmp_path: Path) -> None:
    complete, records = session(tmp_path / "a.log", POINTS, rig_of(forgotten), Operator())
    assert complete
    assert doubts(records) == [one.id for one in at_point(50)]


def test_who_sets_it_only_now_is_asked_to_and_all_of_the_point_is_read_again(tmp_path: Path) -> None:
    rig = rig_of(forgotten)
    complete, records = session(tmp_path / "a.log", POINTS, rig, Operator([Answer.AGAIN]))
    assert complete
    assert rig.controls["brightness"].sets == [100, 50, 50]
    taken_back = next(one.body for one in records if one.kind == "invalidated")
    assert taken_back["steps"] == ["brightness=50/black", "brightness=50/white"]
    assert taken_back["why"] == "the operator: I set it now, read again"
    state, log_data = fold(records), collect(one for one in records if one.kind != "started")
    assert (state.readings, log_data.readings) == (18, 18)
    lights = {name: measured.mean[1] for name, measured in log_data.measured.items() if measured.mean}
    assert lights["brightness=50/black"] == pytest.approx(0.15, abs=0.01)
    assert lights["brightness=50/white"] == pytest.approx(175.0, abs=0.01)
    assert doubts(records) == []


def test_light_that_follows_raises_no_question(tmp_path: Path) -> None:
    operator = Operator()

    def follows(rig: ScriptedRig, name: str) -> float:
        return WHITE_CD_M2 * float(rig.controls["brightness"].sets[-1]) / 100.0 if "white" in name else 0.3

    complete, records = session(tmp_path / "a.log", POINTS, rig_of(follows), operator)
    assert complete
    assert operator.asked == []
    assert [one.kind for one in records if one.kind == "confirmation"] == []


def test_a_doubt_falls_when_a_later_patch_shows_that_it_was_set(tmp_path: Path) -> None:
    def a_curve(rig: ScriptedRig, name: str) -> float:
        grey = 70.0 if len(rig.controls["brightness"].sets) < 2 else 60.0
        return {"black": 0.3, "white": WHITE_CD_M2, "grey": grey}[name.rpartition("/")[2]]

    complete, records = session(tmp_path / "a.log", POINTS, rig_of(a_curve), Operator())
    assert complete
    assert [one.body["answer"] for one in records if one.kind == "confirmation"] == ["none", "changed"]
    assert doubts(records) == []


def test_scatter_of_many_greys_does_not_settle_a_doubt(tmp_path: Path) -> None:
    """One of these greys lies outside of three standard deviations of its three readings by chance."""
    dice = random.Random(4)
    steps = [
        replace(step(f"brightness={value}/{code}", code), settings=(("brightness", value),))
        for value in VALUES
        for code in (255, *range(8, 248, 4))
    ]
    rig = rig_of(lambda rig, name: float(name.rpartition("/")[2]) * (1.0 + 0.002 * dice.gauss(0.0, 1.0)))
    complete, records = session(tmp_path / "a.log", steps, rig, Operator())
    assert complete
    assert [one.body["answer"] for one in records if one.kind == "confirmation"] == ["none"]
    assert len(doubts(records)) == len(steps) // 2


def test_what_a_cable_sets_is_read_back_and_not_asked_for(tmp_path: Path) -> None:
    operator = Operator()
    assert session(tmp_path / "a.log", POINTS, rig_of(forgotten, by="cable"), operator)[0]
    assert operator.asked == []


@pytest.mark.parametrize(("answer", "sets"), [(Answer.YES, []), (Answer.AGAIN, [50]), (Answer.NONE, [50])])
@pytest.mark.parametrize("ends", ["killed", "stopped"])
def test_a_question_without_its_answer_in_the_log_is_put_by_the_resume(
    tmp_path: Path, ends: str, answer: Answer, sets: list[int]
) -> None:
    """And nothing is prompted for twice: whoever says that it is set still need not confirm it once more."""
    log, stop, first = tmp_path / "a.log", StopRequest(), Operator()
    if ends == "killed":
        session(log, POINTS, rig_of(forgotten), Operator([Answer.YES]))
        cut_before_the_answer(log)
    else:

        def ctrl_c(doubt: Doubt) -> Answer:
            stop.set("a test")
            return Answer.NONE

        first.confirm = ctrl_c  # type: ignore[method-assign]
        assert not session(log, POINTS, rig_of(forgotten), first, stop)[0]
    second, rig = Operator([answer, Answer.YES]), rig_of(forgotten)
    complete, records = session(log, POINTS, rig, second)
    assert complete
    assert [doubt.step for doubt in second.asked[:1]] == ["brightness=50/white"]
    assert second.asked[0].note == "white did not change (350 -> 350 cd/m2) though brightness went from 100 to 50"
    assert second.asked[0].question == "That was before the pause: was it set to 50, and is it still?"
    assert [one.body["answer"] for one in records if one.kind == "confirmation"][:1] == [answer.value]
    assert rig.controls["brightness"].sets == sets
    anew = [one.body for one in records if one.kind == "set" and one.session == "next"]
    assert [(body["control"], body["asked"], body["by"]) for body in anew] == [("brightness", 50, "operator")]


def test_killed_between_what_is_taken_back_and_the_answer_it_is_read_again(tmp_path: Path) -> None:
    log = tmp_path / "a.log"
    session(log, POINTS, rig_of(forgotten), Operator([Answer.AGAIN]))
    cut_before_the_answer(log)
    rig = rig_of(lambda rig, name: 0.5 * forgotten(rig, name))
    complete, records = session(log, POINTS, rig, Operator())
    assert complete
    assert rig.controls["brightness"].sets == [50], "it is asked for again"
    log_data = collect(one for one in records if one.kind != "started")
    assert log_data.measured["brightness=50/white"].session == "next"
    assert doubts(records) == []


def test_killed_after_one_place_that_was_not_moved_to_the_move_is_asked_for_again(tmp_path: Path) -> None:
    log, rig = tmp_path / "a.log", ScriptedRig()
    rig.positioner.by = "operator"
    session(log, GRID[:2], rig, Operator([Answer.AGAIN]))
    cut_before_the_answer(log)
    rig = ScriptedRig()
    rig.positioner.by = "operator"
    rig.meter.luminance = lambda request: 90.0
    assert session(log, GRID[:2], rig, Operator())[0]
    assert rig.positioner.moves == ["grid/r1c1"]


@pytest.mark.parametrize("answer", list(Answer)[:3])
def test_a_grid_that_reads_as_the_centre_everywhere_is_asked_for(tmp_path: Path, answer: Answer) -> None:
    rig = ScriptedRig()
    rig.positioner.by = "operator"
    moved = lambda: len(rig.positioner.moves) > 3  # noqa: E731 - only the second time
    rig.meter.luminance = lambda request: 300.0 if moved() and "r1c1" in request.step else WHITE_CD_M2
    operator = Operator([answer])
    complete, records = session(tmp_path / "a.log", GRID, rig, operator)
    assert complete
    assert [doubt.note for doubt in operator.asked] == ["no place of block differs from the centre (350 cd/m2)"]
    cells = [one.id for one in GRID[1:]]
    assert rig.positioner.moves == cells * (2 if answer is Answer.AGAIN else 1)
    assert doubts(records) == (cells if answer is Answer.NONE else [])


def test_a_mover_that_moves_by_itself_is_not_doubted(tmp_path: Path) -> None:
    operator = Operator()
    assert session(tmp_path / "a.log", GRID, ScriptedRig(), operator)[0]
    assert operator.asked == []


def light(y: float, s: float = 0.0, finest: float = 0.0) -> Light:
    return Light("white", (), (0.95 * y, y, 1.09 * y), (s, s, s), (finest, finest, finest))


STEP = {"stated": {"rules": {"X": None, "Y": {"ranges": [[99.9, 0.1], [None, 1.0]]}, "Z": None}, "unit_cd_m2": 1.0}}


@pytest.mark.parametrize(
    ("first", "second", "resolution", "same"),
    [
        (light(350.0), light(350.0), {}, True),
        (light(350.0), light(350.01), {}, False),
        (light(350.0, s=0.1), light(350.3, s=0.1), {}, False),  # Z differs by 0.33, more than three times 0.1
        (light(350.0, s=0.1), light(350.25, s=0.1), {}, True),
        (light(350.0, finest=0.1), light(350.09, finest=0.1), {}, True),
        (light(350.0), light(350.9), STEP, True),
        (light(350.0), light(351.2), STEP, False),
        (light(50.0), light(50.9), STEP, False),
    ],
)
def test_three_standard_deviations_and_the_resolution(
    first: Light, second: Light, resolution: dict[str, Any], same: bool
) -> None:
    assert is_same(first, second, resolution) is same
    assert is_same(second, first, resolution) is same


def test_the_steps_of_significant_digits_and_of_chromaticities() -> None:
    digits = {"stated": {"rules": {"Y": {"digits": 4, "least": None}, "X": None, "Z": None}, "unit_cd_m2": 1.0}}
    steps = steps_of_light(digits, (95.0, 100.0, 109.0))
    assert steps == pytest.approx((0.01, 0.1, 0.1))
    colour = {"ranges": [[None, 0.001]]}
    sent = {"stated": {"rules": {"Y": {"ranges": [[None, 0.1]]}, "x": colour, "y": colour}, "unit_cd_m2": 1.0}}
    steps = steps_of_light(sent, (95.0, 100.0, 109.0))
    assert steps is not None
    assert steps[1] == 0.1
    # X = Y x / y: a step of x moves it by Y / y, one of y by X / y (x + y + z = 1).
    assert steps[0] >= 0.001 * 100.0 / (100.0 / 304.0) * 0.95
    assert steps_of_light({"stated": None}, (1.0, 1.0, 1.0)) is None
