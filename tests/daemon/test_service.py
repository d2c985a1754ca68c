"""The service through its desk: the queue runs, pauses, goes on after a restart, and never doubts silently."""

from __future__ import annotations

import json
import threading
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from benchd.clock import moment_s
from benchd.daemon.job_control import JobState, NotPossible
from benchd.daemon.queue import Disk, Queue
from benchd.errors import InputError as Refused
from benchd.errors import JournalError, MeterLost, MeterSilent, OperatorNeeded
from benchd.run.bench.open_bench import BenchNotReady
from benchd.run.log.journal import LogFile
from benchd.run.log.records import RunState, fold
from tests.daemon.scene import Gate, House, Scene, grid, quick, states
from tests.plan.helpers import refusal
from tests.run.kill_anywhere import results


def state_of(log: str) -> RunState:
    return fold(LogFile(Path(log)).records())


def blocks(log: str) -> Any:
    """The results without what names the records they come from."""

    def bare(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: bare(item) for key, item in value.items() if key != "records"}
        return [bare(item) for item in value] if isinstance(value, list) else value

    return json.loads(json.dumps(bare(results(Path(log))["blocks"])))


def test_jobs_run_in_their_order_and_each_keeps_a_log(tmp_path: Path) -> None:
    house = House(tmp_path)
    house.service.submit(quick(sample="plover-27/1", note="first", conditions={"room_temperature_c": "23"}))
    house.service.submit(quick(priority=5))
    with house:
        snapshot = house.wait_for(j1="complete", j2="complete")
    assert house.told.events == [("complete", "j2"), ("complete", "j1")]
    jobs = {job.id: job for job in snapshot.queue}
    log = Path(jobs["j1"].log)
    assert log.is_relative_to(tmp_path / "logs" / "plover-27-1")
    state = state_of(jobs["j1"].log)
    assert state.ended
    assert state.started is not None
    assert (state.started.body["sample"], state.started.body["note"]) == ("plover-27/1", "first")
    assert house.scene.entered == {"room_temperature_c": 23}
    assert jobs["j1"].steps_done == jobs["j1"].steps == len(state.done)
    assert all(message["simulated"] and "SIMULATED" in str(message["text"]) for message in house.told.messages)


def test_a_paused_job_holds_the_queue_and_goes_on_to_the_same_results(tmp_path: Path) -> None:
    with House(tmp_path / "whole") as house:
        house.service.submit(quick())
        whole = house.wait_for(j1="complete").queue[0].log
    with House(tmp_path / "paused") as house:
        gate = Gate(house.scene, at=6)
        house.service.submit(quick())
        house.service.submit(quick())
        gate.wait()
        assert house.service.pause("j1").state is JobState.PAUSED
        assert Queue(house.places.queue).get("j1").state is JobState.PAUSED, "on disk before the run has stopped"
        assert house.service.snapshot().doing == "pausing"
        with pytest.raises(NotPossible, match="still pausing"):
            house.service.resume("j1")
        gate.open.set()
        snapshot = house.wait(lambda found: found.doing == "held")
        assert states(snapshot) == {"j1": "paused", "j2": "queued"}
        assert "j1 is paused" in snapshot.why
        assert house.scene.opened == 1
        house.service.resume("j1")
        snapshot = house.wait_for(j1="complete", j2="complete")
    log = next(job.log for job in snapshot.queue if job.id == "j1")
    assert state_of(log).sessions == 2
    assert blocks(log) == blocks(whole)


def test_a_queued_job_can_be_held_and_does_not_hold_the_others(tmp_path: Path) -> None:
    house = House(tmp_path)
    house.service.submit(quick())
    house.service.submit(quick())
    house.service.pause("j1")
    with house:
        assert states(house.wait_for(j2="complete"))["j1"] == "paused"
        with pytest.raises(NotPossible, match="paused already"):
            house.service.pause("j1")
        house.service.resume("j1")
        house.wait_for(j1="complete")
        with pytest.raises(NotPossible, match="complete already"):
            house.service.cancel("j1")


def test_a_cancelled_job_stops_and_the_next_one_runs(tmp_path: Path) -> None:
    with House(tmp_path) as house:
        gate = Gate(house.scene, at=3)
        house.service.submit(quick())
        house.service.submit(quick())
        gate.wait()
        house.service.cancel("j1")
        assert Queue(house.places.queue).get("j1").state is JobState.CANCELLED
        gate.open.set()
        snapshot = house.wait_for(j1="cancelled", j2="complete")
    log = next(job.log for job in snapshot.queue if job.id == "j1")
    assert state_of(log).last_kind == "paused", "what it has read stays, and `benchd resume LOG` would go on"


def test_a_stop_keeps_the_queue_and_the_next_service_goes_on(tmp_path: Path) -> None:
    with House(tmp_path / "whole") as house:
        house.service.submit(quick())
        whole = house.wait_for(j1="complete").queue[0].log
    house = House(tmp_path / "stopped")
    with house:
        gate = Gate(house.scene, at=7)
        house.service.submit(quick())
        house.service.submit(quick(priority=9))
        house.wait(lambda found: found.job is not None)
        gate.wait()
        running = house.service.snapshot().job
        assert running is not None
        house.service.submit(quick(priority=99))
        house.service.stop("SIGTERM")
        gate.open.set()
    assert house.told.events == [], "a stop is no event of a job"
    waiting = Queue(house.places.queue).jobs()
    assert waiting[0].id == running.id, "what was begun goes first, whatever waits"
    assert "SIGTERM" in waiting[0].why
    with House(tmp_path / "stopped") as again:
        snapshot = again.wait_for(j1="complete", j2="complete", j3="complete")
        assert again.told.events[0] == ("complete", running.id)
    log = next(job.log for job in snapshot.queue if job.id == running.id)
    assert state_of(log).sessions == 2
    assert blocks(log) == blocks(whole)


def test_a_fault_pauses_the_job_holds_the_queue_and_is_told(tmp_path: Path) -> None:
    with House(tmp_path) as house:
        house.scene.failure = MeterSilent("the meter does not answer")
        house.service.submit(quick())
        house.service.submit(quick())
        snapshot = house.wait(lambda found: found.doing == "held")
        assert house.told.events == [("paused", "j1")]
        assert "does not answer" in str(house.told.messages[0]["why"])
        assert [fault.error for fault in snapshot.faults] == ["MeterSilent"] * 3
        assert [fault.then for fault in snapshot.faults] == ["again", "again", "pause"]
        house.scene.failure = None
        house.service.cancel("j1")
        house.wait_for(j1="cancelled", j2="complete")


def test_a_log_that_fails_pauses_the_job(tmp_path: Path) -> None:
    with House(tmp_path) as house:
        house.scene.failure = JournalError("the log can't be written (no space left); make room, then resume")
        house.service.submit(quick())
        snapshot = house.wait_for(j1="paused")
        assert "make room" in snapshot.queue[0].why
        house.scene.failure = None
        house.service.resume("j1")
        house.wait_for(j1="complete")


def test_a_bench_that_is_not_ready_is_tried_again_ever_more_seldom(tmp_path: Path) -> None:
    scene = Scene(not_ready=MeterLost("the meter's port is gone; plug it in"))
    with House(tmp_path, scene, retry_s=(0.05, 0.2)) as house:
        house.service.submit(quick())
        snapshot = house.wait(lambda found: found.doing == "bench not ready")
        assert "port is gone" in snapshot.why
        assert states(snapshot) == {"j1": "queued"}
        house.wait(lambda found: "after 0 s" in found.why and house.service._wait_s >= 0.2)
        assert house.told.events == [("not ready", "j1")], "told once, not with every try"
        scene.not_ready = None
        house.wait_for(j1="complete")
    assert not list((tmp_path / "logs").glob("*/*.log.*"))
    assert len(list((tmp_path / "logs").glob("*/*.log"))) == 1


def test_resume_tries_a_bench_that_was_not_ready_at_once(tmp_path: Path) -> None:
    scene = Scene(not_ready=BenchNotReady("the companion was not ready"))
    with House(tmp_path, scene, retry_s=(600.0, 600.0)) as house:
        house.service.submit(quick())
        house.wait(lambda found: found.doing == "bench not ready")
        scene.not_ready = None
        house.service.resume("j1")
        house.wait_for(j1="complete")


def test_an_unattended_move_pauses_that_job_alone_and_no_other_is_disturbed(tmp_path: Path) -> None:
    with House(tmp_path, Scene(by_hand=True)) as house:
        job = house.service.submit(grid())
        assert "the operator must move the meter for uniformity" in job.why, "said before it starts"
        house.wait_for(j1="paused")
        gate = Gate(house.scene, at=house.scene.readings + 4)
        [paused] = house.service.snapshot().queue
        assert paused.move_to
        house.service.submit(quick())
        gate.wait()
        with pytest.raises(NotPossible, match="j2 is measuring, and nothing may be moved"):
            house.service.resume("j1")
        gate.open.set()
        house.wait_for(j2="complete")
        house.service.resume("j1")
        second = house.wait(lambda found: states(found)["j1"] == "paused" and found.queue[0].move_to != paused.move_to)
        assert state_of(second.queue[0].log).sessions == 2, "the word of the operator moved it once"


def test_an_attended_job_asks_for_each_move(tmp_path: Path) -> None:
    scene = Scene(by_hand=True)
    with House(tmp_path, scene) as house:
        with pytest.raises(NotPossible, match="no step of the operator"):
            house.service.next_move()
        house.service.submit(grid(attended=True))
        asked: list[str] = []
        while states(house.service.snapshot())["j1"] != "complete":
            snapshot = house.wait(lambda found: bool(found.place) or states(found)["j1"] == "complete")
            if snapshot.place:
                assert snapshot.doing == "waiting for the operator"
                shown = snapshot.patch["kind"], snapshot.patch["at"]
                assert shown == ("spot", snapshot.at), "the picture shows where the meter goes"
                asked.append(snapshot.place)
                house.service.next_move()
                house.wait(lambda found, place=snapshot.place: found.place != place)
        assert asked == scene.moves
        assert asked[-2:] == ["r1c1", "r1c2"]
        assert [event for event, _ in house.told.events] == ["move"] * len(asked) + ["complete"]


def test_nobody_comes_and_the_job_pauses(tmp_path: Path) -> None:
    with House(tmp_path, Scene(by_hand=True), operator_within_s=0.1) as house:
        house.service.submit(grid(attended=True))
        snapshot = house.wait_for(j1="paused")
        assert "not confirmed within" in snapshot.queue[0].why
        assert snapshot.queue[0].move_to


def test_a_job_never_begins_at_the_centre_when_a_hand_has_left_the_meter_elsewhere(tmp_path: Path) -> None:
    scene = Scene(by_hand=True)
    with House(tmp_path, scene) as house:
        house.service.submit(grid(attended=True))
        while (place := house.wait(lambda found: bool(found.place)).place) != "r1c2":
            house.service.next_move()
            house.wait(lambda found, place=place: found.place != place)
        house.service.next_move()
        house.wait_for(j1="complete")
    with House(tmp_path, scene) as house:  # it is remembered over a restart
        house.service.submit(quick())
        snapshot = house.wait(lambda found: found.place == "centre")
        assert snapshot.doing == "waiting for the operator"
        assert "moved to r1c2" in snapshot.why
        assert states(snapshot)["j2"] == "queued"
        house.service.next_move()
        house.wait_for(j2="complete")


def test_a_stop_while_a_hand_is_waited_for_promises_no_move(tmp_path: Path) -> None:
    scene = Scene(by_hand=True)
    with House(tmp_path, scene) as house:
        house.service.submit(grid(attended=True))
        first = house.wait(lambda found: bool(found.place)).place
    [job] = Queue(house.places.queue).jobs()
    state = state_of(job.log)
    assert (state.last_kind, state.move_to) == ("paused", "")
    with House(tmp_path, scene) as again:
        assert again.wait(lambda found: bool(found.place)).place == first, "it is asked for again"
    assert scene.moves == []


@pytest.mark.parametrize(
    ("submission", "said"),
    [
        (quick(not_before="tomorrow"), "not a moment"),
        (quick(not_before="2026-03-02T18:00:00"), "not a moment"),
        (quick(sample="a\nb"), "printable"),
        (quick(conditions={"room_temperature_c": "99"}), "-20 to 60"),
        (quick(conditions={"colour": "blue"}), "no such condition"),
        (
            quick(
                plan_text=quick().plan_text + "\nsweep: [{control: brightness, values: [20, 50]}]\n",
                conditions={"brightness": "77"},
            ),
            "the plan sweeps brightness",
        ),
        (quick(note="\x1b[2J"), "printable"),
        (quick(plan_text="plan: [\n"), "quick.yaml:"),
        (quick(plan_text=quick().plan_text.replace("target: srgb", "target: ./srgb.yaml")), "did not come with"),
        (quick(plan_text=quick().plan_text.replace("settle_s", "setle_s")), "setle_s"),
    ],
)
def test_what_can_not_run_is_refused_and_not_queued(tmp_path: Path, submission: Any, said: str) -> None:
    house = House(tmp_path)
    with pytest.raises(Refused, match=said):
        house.service.submit(submission)
    assert house.service.snapshot().queue == ()


def test_every_fault_of_a_plan_is_told_at_once(tmp_path: Path) -> None:
    text = quick().plan_text.replace("settle_s: 0.6", "setle_s: 0.6\nreadigs: 3")
    assert len(refusal(House(tmp_path).service.submit, quick(plan_text=text)).faults) >= 2


def test_files_travel_with_the_plan_and_later_edits_change_nothing(tmp_path: Path) -> None:
    text = "plan: own\ntarget: mine\nwarm_up: none\nblocks:\n  - patches: {file: p.csv}\n"
    target = (Path(__file__).parents[2] / "profiles" / "targets" / "srgb.yaml").read_text()
    files = {"p.csv": "name,red,green,blue\none,10,20,30\n", "mine": target.replace("target: srgb", "target: mine")}
    with House(tmp_path) as house:
        house.service.submit(quick(plan_text=text, files=files))
        log = house.wait_for(j1="complete").queue[0].log
    started = state_of(log).started
    assert started is not None
    assert started.body["files"] == {"p.csv": files["p.csv"]}
    assert started.body["profiles"]["target"]["text"] == files["mine"]


def begun_then_harmed(folder: Path, harm: Any) -> House:
    """A service that is started again after something was done to the log of its job."""
    with House(folder) as house:
        gate = Gate(house.scene, at=7)
        house.service.submit(quick())
        gate.wait()
        house.service.stop("SIGTERM")
        gate.open.set()
    harm(Path(Queue(house.places.queue).get("j1").log))
    return House(folder)


def test_a_damaged_log_fails_its_job_and_the_next_one_runs(tmp_path: Path) -> None:
    def flip(log: Path) -> None:
        data = bytearray(log.read_bytes())
        data[len(data) // 2] ^= 4
        log.write_bytes(data)

    with begun_then_harmed(tmp_path, flip) as house:
        house.service.submit(quick())
        snapshot = house.wait_for(j1="failed", j2="complete")
    failed = next(job for job in snapshot.queue if job.id == "j1")
    assert "benchd log salvage" in failed.why
    assert ("failed", "j1") in house.told.events


@pytest.mark.parametrize("keep", [0, 100])
def test_a_log_of_which_no_record_was_written_is_begun_anew(tmp_path: Path, keep: int) -> None:
    def cut(log: Path) -> None:
        log.write_bytes(log.read_bytes()[:keep])

    with begun_then_harmed(tmp_path, cut) as house:
        log = house.wait_for(j1="complete").queue[0].log
    assert state_of(log).sessions == 1


def test_a_log_that_has_ended_completes_its_job_without_the_bench(tmp_path: Path) -> None:
    with House(tmp_path) as house:
        house.service.submit(quick())
        done = house.wait_for(j1="complete").queue[0]
    path = house.places.queue / "j1.json"
    queue = Queue(house.places.queue)

    queue.put(replace(done, state=JobState.RUNNING, steps_done=0))  # killed before the end was kept
    assert path.exists()
    with House(tmp_path) as again:
        assert again.wait_for(j1="complete").queue[0].steps_done == done.steps
    assert again.scene.opened == 0


def test_a_disk_that_fails_at_the_end_loses_nothing(tmp_path: Path) -> None:
    class Failing(Disk):
        fails = False

        def write(self, path: Path, data: bytes) -> None:
            if self.fails:
                raise OSError(28, "No space left on device")
            super().write(path, data)

    disk = Failing()
    with House(tmp_path, disk=disk) as house:
        gate = Gate(house.scene, at=5)
        house.service.submit(quick())
        gate.wait()
        disk.fails = True
        with pytest.raises(NotPossible, match="No space left"):
            house.service.submit(quick())
        gate.open.set()
        house.wait_for(j1="complete")
        assert "No space left" in house.wait(lambda found: bool(found.why)).why
        disk.fails = False
        house.service.submit(quick())
        house.wait_for(j2="complete")
        assert Queue(house.places.queue).get("j1").state is JobState.COMPLETE


def test_an_unknown_error_is_named_and_ends_no_service(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    with House(tmp_path) as house:
        house.scene.failure = ZeroDivisionError("a bug of ours")
        house.service.submit(quick())
        snapshot = house.wait_for(j1="paused")
        assert "ZeroDivisionError" in snapshot.queue[0].why
        house.scene.failure = None
        house.service.resume("j1")
        house.wait_for(j1="complete")
    assert "a bug of ours" in caplog.text


def test_not_before_follows_a_wall_clock_that_is_set(tmp_path: Path) -> None:
    now = [moment_s("2026-03-02T12:00:00Z")]
    with House(tmp_path, now_s=lambda: now[0]) as house:
        house.service.submit(quick(not_before="2026-03-02T18:00:00Z"))
        house.wait(lambda found: found.doing == "idle" and states(found) == {"j1": "queued"})
        now[0] = moment_s("2026-03-02T18:00:01Z")
        house.wait_for(j1="complete")


def test_the_snapshot_tells_readings_progress_and_what_is_on_the_screen(tmp_path: Path) -> None:
    with House(tmp_path) as house:
        gate = Gate(house.scene, at=9)
        house.service.submit(quick())
        gate.wait()
        snapshot = house.service.snapshot()
        assert snapshot.doing == "running"
        assert snapshot.simulated
        assert snapshot.job is not None
        assert snapshot.job.state is JobState.RUNNING
        assert len(snapshot.readings) == 8
        assert [reading.number for reading in snapshot.readings] == list(range(1, 9))
        assert snapshot.patch["kind"] == "field"
        assert 0 < snapshot.share_done < 1
        assert snapshot.left_s is not None
        assert snapshot.left_s > 0
        assert snapshot is house.service.snapshot(), "the same moment is made once"
        gate.open.set()
        house.wait_for(j1="complete")
    assert snapshot.readings != house.service.snapshot().readings, "what was given away does not change"


def test_waiting_for_a_change_ends_with_its_time(tmp_path: Path) -> None:
    house = House(tmp_path)
    now = house.service.snapshot()
    assert house.service.wait_for_change(now.number, 0.05).number == now.number
    assert house.service.wait_for_change(now.number - 1, 60).number == now.number


def test_a_setting_that_only_a_hand_can_reach_pauses_that_job_alone(tmp_path: Path) -> None:
    with House(tmp_path) as house:
        needed = OperatorNeeded("set local dimming to low in the display's menu")
        needed.setting = "local-dimming=low"
        house.scene.failure = needed
        house.service.submit(quick())
        paused = house.wait_for(j1="paused").queue[0]
        assert (paused.set_to, paused.waits_for_operator) == ("local-dimming=low", True)
        house.scene.failure = None
        gate = Gate(house.scene, at=house.scene.readings + 2)
        house.service.submit(quick())
        gate.wait()
        with pytest.raises(NotPossible, match="then set local-dimming=low and resume j1"):
            house.service.resume("j1")
        gate.open.set()
        house.wait_for(j2="complete")
        house.service.resume("j1")
        house.wait_for(j1="complete")


def test_a_job_whose_opening_is_paused_meanwhile_does_not_hold_the_queue(tmp_path: Path) -> None:
    scene = Scene()
    reached, go = threading.Event(), threading.Event()

    def slow(name: str) -> Any:
        if threading.current_thread() is not threading.main_thread():
            reached.set()
            assert go.wait(60)
            raise BenchNotReady("the companion was not ready")
        return Scene().bench(name)

    scene.bench = slow  # type: ignore[method-assign]
    with House(tmp_path, scene) as house:
        house.service.submit(quick())
        assert reached.wait(60)
        house.service.pause("j1")
        go.set()
        snapshot = house.wait(lambda found: states(found) == {"j1": "paused"} and found.job is None)
        assert snapshot.queue[0].log == "", "nothing was begun"
        assert house.queue.holder() is None
