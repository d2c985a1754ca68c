"""The line of a run knows where it is, also at steps that no plan has. Bench and log are invented."""

from __future__ import annotations

import os
import sys
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest

from benchd.clock import StopRequest, VirtualClock
from benchd.command.measure.live import AGAIN, ENTER, PAUSE, Live, key_for, standing
from benchd.exits import Exit
from benchd.instruments.meter import MeterIdentity
from benchd.plan.step import Step
from benchd.plan.time_left import TimeLeft
from benchd.run.job import plan_job
from benchd.run.log.records import RunState
from benchd.run.rig import Event, Outcome
from tests.run.rig import SCREEN


def test_where_a_step_stands_in_its_block() -> None:
    assert standing(["b/black", "b/white"], "b/white") == (2, 2)
    assert standing(["warm-up"], "warm-up/2") == (1, 1)


def test_a_warm_up_and_a_reference_again_after_a_pause_are_told_like_any_step(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = tmp_path / "p.yaml"
    plan.write_text("plan: p\nreference: {every_min: 5}\nblocks: [luminance: {}]\n")
    job = plan_job(str(plan))
    bench = SimpleNamespace(
        clock=VirtualClock(),
        time_left=lambda job, state: TimeLeft(
            job.steps, [1.0] * len(job.steps), job.plan.warm_up.limits, {*state.done, *state.skipped}
        ),
        simulated=True,
        meter_identity=MeterIdentity("LAPWING", "LW-1", "1.0", "test", "nowhere", simulated=True),
        screen_identity=SCREEN,
    )
    live = Live(tmp_path / "run.log", StopRequest())
    live.observer.opened(cast(Any, bench), job, RunState())
    first = {step.block: step for step in job.steps}
    again: list[Step] = [replace(step, id=f"{step.id}/2") for step in first.values()]
    total = len(job.steps)
    for step in again:
        live.observer.event(Event("step", step, 1, total))
        live.observer.event(Event("reading", step, 1, total))
    said = capsys.readouterr().err
    assert "SIMULATED  warm-up done: 1 step, " in said
    [white, black] = [step for step in job.steps if step.base == "luminance"]
    for step in (white, again[0]):
        live.observer.event(Event("step", step, 1, total))
    assert "luminance done" not in capsys.readouterr().err, f"{black.id} is still to come"
    live.observer.event(Event("step", job.steps[0], 1, total))
    assert live.finish(Outcome(False, "Ctrl-C", asked=True)) == Exit.PAUSED
    assert "Paused by Ctrl-C.\nThe warm-up begins anew. Go on with: benchd resume " in capsys.readouterr().err


def test_a_question_that_nobody_answers_has_its_end(monkeypatch: pytest.MonkeyPatch) -> None:
    ours, theirs = os.openpty()
    with os.fdopen(theirs) as terminal:
        monkeypatch.setattr(sys, "stdin", terminal)
        assert key_for("Was it set?", (ENTER, AGAIN), StopRequest(), within_s=0.2) is None
        stop = StopRequest()
        stop.set("a test")
        assert key_for("Was it set?", (ENTER, AGAIN), stop) == PAUSE
    os.close(ours)


def test_what_a_resume_adds_is_no_step_of_the_plan() -> None:
    done = dict.fromkeys(
        ["warm-up", "warm-up/2", "reference/1", "reference/again-3", "b=1/reference/again-2", "b/w"], 1
    )
    assert RunState(done=done).steps_done == 3
