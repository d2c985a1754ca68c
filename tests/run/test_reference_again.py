"""A session that goes on with a plan that compensates drift begins with the reference patch."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from benchd.clock import StopRequest
from benchd.plan.step import Step
from benchd.run.rig import Event
from tests.run.rig import ScriptedRig, run, step


def reference(number: int) -> Step:
    return replace(step(f"reference/{number}"), block="reference", id=f"reference/{number}")


STEPS = [reference(1), step("a"), step("b"), reference(2), step("c"), reference(3)]


def stopped_after(name: str) -> tuple[StopRequest, object]:
    stop = StopRequest()

    def watch(event: Event) -> None:
        if event.kind == "step" and event.step.id == name:
            stop.set("a test")

    return stop, watch


def done(log: Path, before: str, *, wanted: bool = True) -> list[str]:
    stop, watch = stopped_after(before)
    outcome, _ = run(log, STEPS, ScriptedRig(), stop=stop, watch=watch, reference_again=wanted)  # type: ignore[arg-type]
    assert not outcome.complete
    outcome, records = run(log, STEPS, ScriptedRig(), reference_again=wanted)
    assert outcome.complete
    return [record.step for record in records if record.kind == "done"]


def test_the_next_session_begins_with_it(tmp_path: Path) -> None:
    found = done(tmp_path / "run.log", "b")
    assert found == ["reference/1", "a", "reference/again-2", "b", "reference/2", "c", "reference/3"]


def test_not_where_the_next_step_is_a_reference_anyhow(tmp_path: Path) -> None:
    found = done(tmp_path / "run.log", "reference/2")
    assert found == ["reference/1", "a", "b", "reference/2", "c", "reference/3"]


def test_not_before_any_was_read_and_not_where_nothing_is_compensated(tmp_path: Path) -> None:
    assert done(tmp_path / "first.log", "reference/1") == [one.id for one in STEPS]
    assert done(tmp_path / "off.log", "b", wanted=False) == [one.id for one in STEPS]
