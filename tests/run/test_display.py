"""Controls of the display during a run: set, verified, put back, told to a hand; panel care; warming up again."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from benchd import errors
from benchd.cli import main
from benchd.clock import StopRequest
from benchd.patch.model import field as full_field
from benchd.patch.model import grey
from benchd.plan.plan import WarmUpLimits
from benchd.plan.step import Step
from benchd.plan.sweep import Point
from benchd.run.log.journal import LogFile
from benchd.run.log.records import Record, fold
from benchd.run.rig import PanelProtection
from tests.run.rig import ScriptedControl, ScriptedRig, run, step


@pytest.fixture
def log(tmp_path: Path) -> Path:
    return tmp_path / "run.log"


def at(name: str, *settings: tuple[str, int], **more: object) -> Step:
    point: Point = settings
    return replace(step(name, **more), settings=point)  # type: ignore[arg-type]


def swept(values: list[int], **more: object) -> list[Step]:
    return [at(f"brightness={value}/white", ("brightness", value), **more) for value in values]


def rig_with(value: int = 73, **more: object) -> tuple[ScriptedRig, ScriptedControl]:
    rig = ScriptedRig()
    rig.controls["brightness"] = ScriptedControl("brightness", value, **more)  # type: ignore[arg-type]
    return rig, rig.controls["brightness"]


def of(records: list[Record], kind: str) -> list[Record]:
    return [record for record in records if record.kind == kind]


def test_set_once_a_point_settled_recorded_and_put_back_at_the_end(log: Path) -> None:
    rig, control = rig_with()
    steps = [
        at("brightness=0/white", ("brightness", 0)),
        at("brightness=0/black", ("brightness", 0), code=0),
        at("brightness=50/white", ("brightness", 50)),
    ]
    outcome, records = run(log, steps, rig)
    assert outcome.complete
    assert control.sets == [0, 50, 73]
    sets = of(records, "set")
    assert [(record.body["asked"], record.body["original"], record.body["restoring"]) for record in sets] == [
        (0, 73, False),
        (50, 73, False),
        (73, 73, True),
    ]
    first, shown = sets[0], of(records, "shown")[0]
    assert shown.mono_ns - first.mono_ns >= 1_500_000_000, "the display settles before the patch is shown"
    assert records[-1].kind == "ended"
    assert fold(records).originals == {}


@pytest.mark.parametrize(("planned_s", "waits_s"), [(40.0, 40.0), (0.5, 1.5)])
def test_the_longer_time_of_plan_and_bench_is_waited(log: Path, planned_s: float, waits_s: float) -> None:
    rig, _ = rig_with()
    _, records = run(log, swept([0, 50]), rig, planned_s={"brightness": planned_s})
    for changed, shown in zip(of(records, "set"), of(records, "shown"), strict=False):
        assert waits_s <= (shown.mono_ns - changed.mono_ns) / 1e9 < waits_s + 1.0


def test_a_run_waits_as_long_as_the_sweep_of_its_plan_says(tmp_path: Path) -> None:
    plan = tmp_path / "slow.yaml"
    plan.write_text(
        "plan: slow\ntarget: srgb\nwarm_up: none\n"
        "sweep: [{control: brightness, values: [50, 100], settle_s: 40}]\nblocks: [luminance: {}]\n"
    )
    assert main(["run", str(plan), "--bench", "sim-office", "--log", str(tmp_path / "slow.log")]) == 0
    records = list(LogFile(tmp_path / "slow.log").records())
    changed = of(records, "set")[:2]  # then it is put back
    first = {one.step: one for one in reversed(of(records, "shown"))}
    assert [one.body["asked"] for one in changed] == [50, 100]
    assert all(40.0 <= (first[one.step].mono_ns - one.mono_ns) / 1e9 < 50.0 for one in changed)


def test_a_pause_puts_back_and_the_resume_sets_again(log: Path) -> None:
    rig, control = rig_with()
    stop = StopRequest()
    rig.meter.before = lambda call: stop.set("Ctrl-C") if call == 2 else None
    outcome, _ = run(log, swept([0, 50]), rig, stop=stop)
    assert not outcome.complete
    assert control.value == 73
    rig, control = rig_with(20)  # the operator has changed it meanwhile: that is what must come back now
    outcome, _ = run(log, swept([0, 50]), rig)
    assert outcome.complete
    assert control.sets == [0, 50, 20]


def test_after_a_crash_what_was_there_before_the_run_comes_back(log: Path) -> None:
    class Crash(Exception):
        pass

    def crash(call: int) -> None:
        if call == 4:
            raise Crash

    rig, control = rig_with()
    rig.meter.before = crash
    with pytest.raises(Crash):
        run(log, swept([0, 50]), rig)
    assert control.value == 50, "nobody put it back"
    rig, control = rig_with(50)
    outcome, _ = run(log, swept([0, 50]), rig)
    assert outcome.complete
    assert control.value == 73


def test_a_display_that_changes_the_setting_by_itself_is_found_and_the_step_repeated(log: Path) -> None:
    # Reads: the original, then one after each step. The second finds the brightness dimmed.
    rig, control = rig_with(drifts={2: 20})
    outcome, records = run(log, swept([50, 60]), rig)
    assert outcome.complete
    assert [record.body["error"] for record in of(records, "fault")] == ["ControlMismatch"]
    assert control.sets == [50, 50, 60, 73]
    assert {record.step: record.attempt for record in of(records, "done")} == {
        "brightness=50/white": 2,
        "brightness=60/white": 1,
    }


@pytest.mark.parametrize(
    ("error", "then"),
    [
        (errors.ControlRefused("no such value"), "pause"),
        (errors.ControlSilent("nothing answers"), "again"),
        (errors.ControlGarbled("the check sum is wrong"), "again"),
        (errors.ControlMismatch("it reads back 3"), "again"),
        (errors.ControlAbsent("the bus is gone"), "pause"),
    ],
)
def test_errors_of_a_control(log: Path, error: errors.BenchdError, then: str) -> None:
    rig, control = rig_with(failures={2: error})
    outcome, records = run(log, swept([10, 20]), rig)
    assert [record.body["then"] for record in of(records, "fault")] == [then]
    assert outcome.complete == (then == "again")
    assert control.value == 73, "put back in any case"


def test_a_bench_without_the_control_pauses_and_names_it(log: Path) -> None:
    outcome, _ = run(log, swept([10]), ScriptedRig())
    assert "no control 'brightness'; it has: none" in outcome.why


def test_what_can_not_be_put_back_is_told_and_does_not_spoil_the_run(log: Path) -> None:
    rig, _ = rig_with(failures={2: errors.ControlSilent("nothing answers")})
    told: list[str] = []
    outcome, records = run(log, swept([10]), rig, watch=lambda event: told.append(event.text))
    assert outcome.complete
    assert of(records, "fault")[0].body["error"] == "NotRestored"
    assert any("could not be put back to 73" in text for text in told)
    assert fold(records).originals == {"brightness": 73}


def test_a_hand_that_is_not_there_pauses_and_the_resume_is_its_word(log: Path) -> None:
    needed = errors.OperatorNeeded("Set local dimming to 2; this run can't prompt, so do it and resume")
    rig, _ = rig_with(by="operator", failures={1: needed})
    outcome, records = run(log, swept([2]), rig)
    assert outcome.set_to == "brightness=2"
    assert records[-1].body["set_to"] == "brightness=2"
    rig, control = rig_with(2, by="operator")
    outcome, records = run(log, swept([2]), rig)
    assert outcome.complete
    assert control.sets == [], "nobody is asked again"
    assert of(records, "set")[0].body["by"] == "operator"


def test_an_emissive_panel_rests_between_readings_of_a_long_bright_patch(log: Path) -> None:
    rig = ScriptedRig()
    long = [step("a", readings=400), step("b", readings=400), step("dark", 20, readings=400)]
    outcome, records = run(log, long, rig, protection=PanelProtection(60.0, 10.0))
    assert outcome.complete
    rests = of(records, "rested")
    assert len(rests) == 2, "160 s of one bright patch over two steps, none in the dark"
    assert all(60.0 <= record.body["lit_s"] < 62.0 for record in rests)
    assert [record.attempt for record in of(records, "done")] == [1, 1, 1]
    dark = full_field(grey(0))
    times = [at_s for at_s, patch in rig.screen.shown if patch == dark]
    assert len(times) >= 3
    assert run_without_care_rests(log.with_name("lcd.log")) == 0


def run_without_care_rests(path: Path) -> int:
    _, records = run(path, [step("a", readings=400)], ScriptedRig())
    return len(of(records, "rested"))


def test_after_a_long_gap_the_display_warms_up_again_first(log: Path) -> None:
    warm = Step("warm-up", "", "warm_up", full_field(grey(128)), {}, readings=1)
    steps = [warm, step("a"), step("b")]
    rig, stop = ScriptedRig(), StopRequest()
    rig.meter.before = lambda call: stop.set("Ctrl-C") if rig.meter.asked[-1].step == "b" else None
    run(log, steps, rig, stop=stop, warm_up=WarmUpLimits(10, 10, False))
    rig = ScriptedRig()
    outcome, _ = run(log, steps, rig, warm_up=WarmUpLimits(10, 10, False), warm_up_again=True)
    assert outcome.complete
    asked = list(dict.fromkeys(request.step for request in rig.meter.asked))
    assert asked == ["warm-up/2", "b"] or asked == ["warm-up/2", "a", "b"]
    records = list(LogFile(log).records())
    assert [record.step for record in of(records, "done")][:1] == ["warm-up"]
