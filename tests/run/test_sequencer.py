"""The loop: what is recorded, what follows from each error, pauses and resumes."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from benchd import errors
from benchd.clock import Deadline, StopRequest
from benchd.patch.model import Patch, grey
from benchd.patch.model import field as full_field
from benchd.patch.screen import Shown
from benchd.plan.safety import is_alternation
from benchd.run.policy import MAX_TRIES, POLICY, Action
from benchd.run.procedures.warm_up_stability import is_stable
from benchd.run.rig import Event
from tests.run.rig import ScriptedPositioner, ScriptedRig, run, step

CORNER = (0.1, 0.1)


@pytest.fixture
def log(tmp_path: Path) -> Path:
    return tmp_path / "run.log"


def kinds(records: list, step_id: str = "") -> list[str]:  # type: ignore[type-arg]
    return [record.kind for record in records if not step_id or record.step == step_id]


def by_hand() -> ScriptedRig:
    """A bench whose meter stands at the centre until a hand moves it."""
    return ScriptedRig(positioner=ScriptedPositioner(by="operator"))


def test_a_run_is_recorded_from_started_to_ended(log: Path) -> None:
    rig = by_hand()
    outcome, records = run(log, [step("a"), step("b", 0, readings=2)], rig)
    assert outcome.complete
    assert kinds(records) == [
        "started",
        *("shown", "reading", "reading", "reading", "done"),
        *("shown", "reading", "reading", "done"),
        "ended",
    ]
    assert records[-1].body == {"steps": 2, "readings": 5, "faults": 0}
    assert rig.screen.shown[-1][1] == full_field(grey(0)), "the screen ends black"


def test_settling_comes_between_the_patch_and_the_first_reading(log: Path) -> None:
    rig = ScriptedRig()
    _, records = run(log, [step("a", settle_s=4.0)], rig)
    shown = next(record for record in records if record.kind == "shown")
    reading = next(record for record in records if record.kind == "reading")
    assert reading.mono_ns - shown.mono_ns >= 4_200_000_000


def test_a_patch_that_is_gone_after_the_readings_does_not_count(log: Path) -> None:
    rig = ScriptedRig()
    rig.screen.failures = {2: errors.ScreenDisturbed("another window covers the patch")}
    outcome, records = run(log, [step("a")], rig)
    assert outcome.complete
    done = [record for record in records if record.kind == "done"]
    assert [record.attempt for record in done] == [2]


@pytest.mark.parametrize("kind", sorted(POLICY, key=lambda kind: kind.__name__))
def test_the_policy_is_what_happens(log: Path, kind: type[errors.BenchdError]) -> None:
    rig = ScriptedRig()
    error = kind("the reason in a sentence")
    screen = issubclass(kind, errors.ScreenError)
    moves = kind in (errors.MoveNeeded, errors.MoveFailed)
    if screen:
        rig.screen.failures = {1: error}
    elif moves:
        rig.positioner.failures = {1: error}
    else:
        rig.meter.failures = {2: error}
    outcome, records = run(log, [step("a", at=CORNER), step("b", at=CORNER)], rig)
    faults = [record for record in records if record.kind == "fault"]
    if kind in (errors.MoveNeeded, errors.OperatorNeeded):
        assert not faults, "waiting for the operator is no fault"
    else:
        assert [fault.body["error"] for fault in faults] == [kind.__name__]
        assert faults[0].body["then"] == POLICY[kind].value
    if POLICY[kind] is Action.PAUSE:
        assert not outcome.complete
        assert outcome.why == "the reason in a sentence"
        assert records[-1].kind == "paused"
        again, _ = run(log, [step("a", at=CORNER), step("b", at=CORNER)], ScriptedRig())
        assert again.complete
    else:
        assert outcome.complete
        assert rig.reopened == (["screen" if screen else "meter"] if POLICY[kind] is Action.REOPEN else [])


def test_every_error_of_meter_screen_and_mover_has_its_line_in_the_policy() -> None:
    def leaves(kind: type[errors.BenchdError]) -> set[type[errors.BenchdError]]:
        below = kind.__subclasses__()
        return {kind} if not below else set().union(*(leaves(one) for one in below))

    wanted = leaves(errors.MeterError) | leaves(errors.ScreenError) | leaves(errors.ControlError)
    others = {errors.MoveNeeded, errors.MoveFailed, errors.OperatorNeeded, errors.CompanionLost}
    assert wanted | others == set(POLICY)


def test_an_error_that_stays_pauses_after_the_last_try(log: Path) -> None:
    rig = ScriptedRig()
    rig.meter.failures = {call: errors.MeterSilent("nothing came in 2.5 s") for call in range(1, 20)}
    outcome, records = run(log, [step("a")], rig)
    assert not outcome.complete
    assert kinds(records).count("fault") == MAX_TRIES
    assert kinds(records).count("reading") == 0


def test_a_notice_over_the_window_for_ten_seconds_does_not_end_the_night(log: Path) -> None:
    rig = ScriptedRig()
    began_s = rig.clock.now_s()
    show = rig.screen.show

    def covered(patch: Patch, deadline: Deadline) -> Shown:
        if rig.clock.now_s() - began_s < 10.0:
            raise errors.ScreenDisturbed("another window covers the patch")
        return show(patch, deadline)

    rig.screen.show = covered  # type: ignore[method-assign]
    outcome, records = run(log, [step("a")], rig)
    assert outcome.complete
    assert kinds(records).count("fault") == 2


def test_a_part_that_can_not_be_found_again_pauses(log: Path) -> None:
    rig = ScriptedRig()
    rig.meter.failures = {2: errors.MeterLost("the port is gone")}
    rig.reopen_failure = errors.MeterLost("no candidate port answers")
    outcome, records = run(log, [step("a")], rig)
    assert outcome.why == "no candidate port answers"
    assert [record.body["then"] for record in records if record.kind == "fault"] == ["reopen", "pause"]


def test_only_readings_of_the_attempt_that_is_done_count(log: Path) -> None:
    rig = ScriptedRig()
    rig.meter.failures = {3: errors.MeterGarbled("'#!' means nothing here")}
    _, records = run(log, [step("a")], rig)
    by_attempt = [(record.kind, record.attempt) for record in records if record.step == "a"]
    assert by_attempt.count(("reading", 1)) == 2
    assert by_attempt.count(("reading", 2)) == 3
    assert records[-1].body["readings"] == 3


def test_a_stop_request_finishes_the_reading_and_the_resume_goes_on(log: Path) -> None:
    rig, stop = ScriptedRig(), StopRequest()
    steps = [step("a"), step("b"), step("c")]
    rig.meter.before = lambda call: stop.set("Ctrl-C") if call == 5 else None
    outcome, records = run(log, steps, rig, stop=stop)
    assert (outcome.complete, outcome.why, outcome.step) == (False, "Ctrl-C", "b")
    assert kinds(records)[-2:] == ["reading", "paused"]
    assert rig.screen.shown[-1][1] == full_field(grey(0))
    rig = ScriptedRig()
    outcome, records = run(log, steps, rig)
    assert outcome.complete
    assert [request.step for request in rig.meter.asked] == ["b"] * 3 + ["c"] * 3
    assert {record.step: record.attempt for record in records if record.kind == "done"} == {"a": 1, "b": 2, "c": 1}


def test_moves_only_when_the_place_changes(log: Path) -> None:
    rig = ScriptedRig()
    steps = [step("a"), step("b", at=CORNER), step("c", at=CORNER), step("d")]
    _, records = run(log, steps, rig)
    assert rig.positioner.moves == ["centre", "b", "centre"]
    assert [record.body["at"] for record in records if record.kind == "moved"] == [[0.5, 0.5], [0.1, 0.1], [0.5, 0.5]]


def test_a_plan_that_stays_at_the_centre_needs_no_hand_but_a_mover_is_sent_there(log: Path) -> None:
    rig = by_hand()
    run(log, [step("a"), step("b")], rig)
    assert rig.positioner.moves == []
    rig = ScriptedRig()  # where the last plan left a mover nobody knows
    run(log.with_name("mover.log"), [step("a"), step("b")], rig)
    assert rig.positioner.moves == ["centre"]


def test_a_hand_that_moved_the_meter_is_remembered_over_a_pause(log: Path) -> None:
    steps = [step("a"), step("b", at=CORNER), step("c", at=CORNER)]
    rig, stop = by_hand(), StopRequest()
    rig.meter.before = lambda call: stop.set("Ctrl-C") if call == 6 else None
    run(log, steps, rig, stop=stop)
    assert rig.positioner.moves == ["b"]
    rig = by_hand()
    outcome, _ = run(log, steps, rig)
    assert outcome.complete
    assert rig.positioner.moves == []


def test_a_resume_answers_for_the_one_move_that_the_pause_asked_for(log: Path) -> None:
    steps = [step("a", at=CORNER), step("b", at=(0.9, 0.9))]
    places = []
    for _ in range(2):
        rig = ScriptedRig()
        rig.positioner.by = "operator"
        rig.positioner.failures = {1: errors.MoveNeeded("move it and resume")}
        outcome, _ = run(log, steps, rig)
        assert not outcome.complete
        places.append(outcome.move_to)
    assert places == ["a", "b"]
    rig = ScriptedRig()
    rig.positioner.by = "operator"
    outcome, records = run(log, steps, rig)
    assert outcome.complete
    assert rig.positioner.moves == [], "nobody is asked again"
    assert kinds(records).count("moved") == 2


def test_a_hand_sees_the_spot_where_the_meter_must_go(log: Path) -> None:
    rig = ScriptedRig()
    rig.positioner.by = "operator"
    run(log, [step("a", at=CORNER)], rig)
    spot = rig.screen.shown[0][1]
    assert (spot.kind, spot.at) == ("spot", CORNER)


def test_light_and_dark_never_change_more_than_once_a_second(log: Path) -> None:
    rig = ScriptedRig()
    rig.meter.failures = {call: errors.MeterSilent("nothing came") for call in (2, 5, 9)}
    steps = [step(f"s{index}", 255 * (index % 2), readings=1, settle_s=0.0) for index in range(12)]
    outcome, _ = run(log, steps, rig)
    assert outcome.complete
    changes = []
    for (_, before), (at_s, after) in pairwise(rig.screen.shown):
        if is_alternation(before, after):
            changes.append(at_s)
    assert len(changes) >= 11
    assert all(later - earlier >= 1.0 - 1e-9 for earlier, later in pairwise(changes[:-1]))


def test_stability_is_common_practice() -> None:
    flat = [100.0] * 11
    assert is_stable(flat)
    assert not is_stable(flat[:10])
    assert is_stable([*flat[:5], 100.9, *flat[6:]])  # a spread of 0.9 % with no slope
    assert not is_stable([*flat[:5], 101.1, *flat[6:]])  # 1.1 %
    assert is_stable([100.0 + 0.028 * index for index in range(11)])  # 0.28 % in ten minutes
    assert not is_stable([100.0 + 0.035 * index for index in range(11)])
    assert not is_stable([0.0] * 11)


def test_what_the_operator_is_told(log: Path) -> None:
    rig, told = by_hand(), list[Event]()
    rig.meter.failures = {2: errors.MeterSilent("nothing came in 2.5 s")}
    run(log, [step("a", readings=1), step("b", readings=1)], rig, watch=told.append)
    assert [event.kind for event in told] == ["step", "reading", "step", "fault", "reading"]
    assert told[3].text == "nothing came in 2.5 s [again]"


def test_a_log_that_fails_stops_the_run_and_keeps_what_was_acknowledged(log: Path) -> None:
    def full(call: int) -> None:
        if call == 4:
            raise errors.JournalError("the disk is full")

    rig = ScriptedRig()
    rig.meter.before = full
    with pytest.raises(errors.JournalError):
        run(log, [step("a"), step("b")], rig)
    outcome, records = run(log, [step("a"), step("b")], ScriptedRig())
    assert outcome.complete
    assert kinds(records, "a").count("done") == 1
