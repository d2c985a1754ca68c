"""The queue on disk: order, damage, and a power cut between any two calls of the file system."""

from __future__ import annotations

import os
import random
import shutil
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.clock import moment_s
from benchd.daemon import queue as queue_module
from benchd.daemon.job_control import Job, JobState, NotPossible, Submission, from_bytes, to_bytes
from benchd.daemon.queue import Disk, Queue, QueueNotKept, read_folder

TEXT = st.text(st.characters(codec="utf-8"), max_size=40)


def plan(name: str = "quick", **more: object) -> Submission:
    return Submission(name, f"plan: {name}\n", **more)  # type: ignore[arg-type]


class PowerCut(BaseException):
    """The end of everything, at one call."""


@dataclass
class FailingDisk(Disk):
    """Loses power at the call ``cut_at``; what was not synced by then may be there, in part, or not.

    The model: a file that was written and not synced has any beginning of its content; a rename or a
    removal whose folder was not synced may not have happened.
    """

    generator: random.Random
    cut_at: int = 10**9
    calls: int = 0
    undo: list[tuple[Path, bytes | None]] = field(default_factory=list)

    def _call(self) -> None:
        self.calls += 1
        if self.calls == self.cut_at:
            for path, before in reversed(self.undo):
                if self.generator.random() < 0.5:
                    if before is None:
                        path.unlink(missing_ok=True)
                    else:
                        path.write_bytes(before)
            raise PowerCut

    def write(self, path: Path, data: bytes) -> None:
        part = self.generator.randrange(len(data) + 1)
        path.write_bytes(data[:part])
        self._call()
        path.write_bytes(data)
        self._call()

    def rename(self, source: Path, target: Path) -> None:
        self._call()
        self.undo.append((target, target.read_bytes() if target.exists() else None))
        os.replace(source, target)
        self._call()

    def remove(self, path: Path) -> None:
        self._call()
        if path.exists():
            self.undo.append((path, path.read_bytes()))
        path.unlink(missing_ok=True)
        self._call()

    def sync_folder(self, folder: Path) -> None:
        self._call()
        self.undo.clear()
        self._call()


ACTIONS = st.lists(
    st.tuples(st.sampled_from(["add", "run", "pause", "end", "cancel"]), st.integers(0, 30)), max_size=12
)


def act(queue: Queue, action: str, which: int) -> Job:
    jobs = queue.jobs()
    if action == "add" or not jobs:
        return queue.add(plan(f"p{which}", priority=which), steps=which)
    job = jobs[which % len(jobs)]
    state = {
        "run": JobState.RUNNING,
        "pause": JobState.PAUSED,
        "end": JobState.COMPLETE,
        "cancel": JobState.CANCELLED,
    }[action]
    return queue.put(replace(job, state=state, log=f"/logs/{job.id}.log"))


def waits_again(job: Job) -> Job:
    """As a job looks after a restart."""
    return replace(job, state=JobState.QUEUED) if job.state is JobState.RUNNING else job


@settings(derandomize=True, max_examples=120, deadline=None)
@given(actions=ACTIONS, cut=st.integers(1, 60), seed=st.integers(0, 10**6))
def test_a_power_cut_loses_no_acknowledged_job_and_doubles_none(
    tmp_path_factory: pytest.TempPathFactory, actions: list[tuple[str, int]], cut: int, seed: int
) -> None:
    folder = tmp_path_factory.mktemp("queue")
    try:
        disk = FailingDisk(random.Random(seed), cut)
        acknowledged: dict[str, Job] = {}
        try:
            queue = Queue(folder, disk)
            for action, which in actions:
                before = {job.id: job for job in queue.jobs()}
                job = act(queue, action, which)
                acknowledged = {**before, job.id: job}
        except PowerCut:
            pass
        after = Queue(folder)
        assert after.damaged == (), "never half a job"
        found = {job.id: job for job in after.jobs()}
        assert len(found) == len(after.jobs())
        for name, job in acknowledged.items():
            assert name in found
            assert found[name].submission == job.submission
        unacknowledged = set(found) - set(acknowledged)
        assert len(unacknowledged) <= 1, "at most the one that was being added"
        changed = [name for name, job in acknowledged.items() if found[name] != waits_again(job)]
        assert len(changed) + len(unacknowledged) <= 1, "at most the call under way is seen or not"
        fresh = after.add(plan("later"), steps=1)
        assert fresh.id not in found
        assert not list(folder.glob(".*")), "no leftovers"
    finally:
        shutil.rmtree(folder)


@settings(derandomize=True, max_examples=60, deadline=None)
@given(
    name=TEXT, note=TEXT, files=st.dictionaries(TEXT, TEXT, max_size=3), position=st.integers(0), bit=st.integers(0, 7)
)
def test_a_job_file_is_read_as_written_and_a_flipped_bit_is_seen(
    name: str, note: str, files: dict[str, str], position: int, bit: int
) -> None:
    job = Job("j7", Submission(name, note, files, note=note), JobState.PAUSED, "2026-03-02T18:00:00Z", why=name)
    data = to_bytes(job)
    assert from_bytes(data) == job
    flipped = bytearray(data)
    flipped[position % len(data)] ^= 1 << bit
    with suppress(ValueError):
        assert from_bytes(bytes(flipped)) == job, "a flip that reads as the same job is harmless"


def test_a_job_is_shown_by_the_name_of_its_plan_and_one_of_before_by_its_file(tmp_path: Path) -> None:
    queue = Queue(tmp_path)
    assert queue.add(plan(), steps=1, plan="evening").plan_label == "evening"
    assert queue.add(plan(), steps=1).plan_label == plan().plan_name


def test_what_was_begun_goes_first_then_priority_then_order_of_submission(tmp_path: Path) -> None:
    queue = Queue(tmp_path)
    for priority in (0, 5, 0, 5):
        queue.add(plan(priority=priority), steps=1)
    queue.put(replace(queue.get("j3"), log="/logs/3.log"))
    assert [job.id for job in queue.jobs()] == ["j3", "j2", "j4", "j1"]
    queue.put(replace(queue.get("j1"), log="/logs/1.log", move_to="r2c3"))
    assert [job.id for job in queue.jobs()] == ["j1", "j3", "j2", "j4"], "the meter was just moved for j1"
    queue.put(replace(queue.get("j2"), state=JobState.COMPLETE))
    queue.put(replace(queue.get("j4"), state=JobState.PAUSED))
    assert [job.id for job in queue.jobs()] == ["j1", "j3", "j4", "j2"], "the rest behind those that wait"
    queue.put(replace(queue.get("j3"), state=JobState.RUNNING))
    assert [job.id for job in queue.jobs()] == ["j3", "j1", "j4", "j2"], "what runs stands first"


def test_a_job_waits_for_its_time_and_others_pass_it(tmp_path: Path) -> None:
    queue = Queue(tmp_path)
    queue.add(plan(not_before="2026-03-02T18:00:00+01:00", priority=9), steps=1)
    queue.add(plan(), steps=1)
    six_s = moment_s("2026-03-02T17:00:00Z")
    early = queue.next_due(six_s - 1)
    assert early is not None
    assert early.id == "j2"
    late = queue.next_due(six_s)
    assert late is not None
    assert late.id == "j1"
    queue.put(replace(early, state=JobState.COMPLETE))
    assert queue.next_due(six_s - 1) is None
    assert queue.next_due_s() == six_s


def test_a_job_that_ran_when_the_service_ended_waits_again(tmp_path: Path) -> None:
    queue = Queue(tmp_path)
    queue.add(plan(priority=9), steps=1)
    queue.add(plan(), steps=1)
    queue.put(replace(queue.get("j2"), state=JobState.RUNNING, log="/logs/2.log"))
    again = Queue(tmp_path).jobs()
    assert [(job.id, job.state) for job in again] == [("j2", JobState.QUEUED), ("j1", JobState.QUEUED)]


@pytest.mark.parametrize(
    ("harm", "said"),
    [
        (lambda data: b"", "not whole"),
        (lambda data: data[:-9], "not whole"),
        (lambda data: data.replace(b"quick", b"quack"), "check sum"),
        (lambda data: data.replace(b'job":1', b'job":9'), "version 9"),
        (lambda data: b"\x00" * len(data), "not whole"),
    ],
)
def test_a_damaged_job_is_named_and_left_aside_and_its_number_never_comes_again(
    tmp_path: Path, harm: object, said: str
) -> None:
    queue = Queue(tmp_path)
    queue.add(plan(), steps=1)
    queue.add(plan(), steps=1)
    path = tmp_path / "j2.json"
    path.write_bytes(harm(path.read_bytes()))  # type: ignore[operator]
    assert list(read_folder(tmp_path).faults) == ["j2.json"], "a look changes nothing"
    after = Queue(tmp_path)
    [sentence] = after.damaged
    assert str(path) in sentence
    assert said in sentence
    assert (tmp_path / "j2.json.damaged").exists()
    assert [job.id for job in after.jobs()] == ["j1"]
    assert after.add(plan(), steps=1).id == "j3"
    assert Queue(tmp_path).damaged == ()


def test_a_file_under_another_jobs_name_is_no_job(tmp_path: Path) -> None:
    Queue(tmp_path).add(plan(), steps=1)
    shutil.copy(tmp_path / "j1.json", tmp_path / "j5.json")
    again = Queue(tmp_path)
    assert [job.id for job in again.jobs()] == ["j1"]
    assert "holds job j1" in again.damaged[0]


def test_what_the_disk_does_not_take_is_refused_and_does_not_come_up_later(tmp_path: Path) -> None:
    class Full(Disk):
        fails = ""

        def rename(self, source: Path, target: Path) -> None:
            if self.fails == "rename":
                raise OSError(28, "No space left on device")
            super().rename(source, target)

        def sync_folder(self, folder: Path) -> None:
            if self.fails == "sync":
                raise OSError(5, "Input/output error")
            super().sync_folder(folder)

    disk = Full()
    queue = Queue(tmp_path, disk)
    for disk.fails in ("rename", "sync"):
        with pytest.raises(QueueNotKept, match="can't be kept"):
            queue.add(plan(), steps=1)
        assert queue.jobs() == ()
        assert Queue(tmp_path).jobs() == ()
    disk.fails = ""
    job = queue.add(plan(), steps=1)
    disk.fails = "rename"
    done = replace(job, state=JobState.COMPLETE)
    assert "No space left" in queue.note(done), "what has happened is kept in mind"
    assert queue.get("j1").state is JobState.COMPLETE
    assert Queue(tmp_path).get("j1").state is JobState.QUEUED
    disk.fails = ""
    assert queue.save() == ""
    assert Queue(tmp_path).get("j1").state is JobState.COMPLETE


def test_old_finished_jobs_are_forgotten_but_never_a_number(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(queue_module, "KEEP_FINISHED", 3)
    queue = Queue(tmp_path)
    for _ in range(8):
        job = queue.add(plan(), steps=1)
        queue.put(replace(job, state=JobState.COMPLETE))
    assert [job.id for job in queue.jobs()] == ["j8", "j7", "j6", "j5"]
    assert Queue(tmp_path).add(plan(), steps=1).id == "j9"


def test_only_a_job_that_was_paused_while_it_ran_holds_the_queue(tmp_path: Path) -> None:
    queue = Queue(tmp_path)
    job = queue.add(plan(), steps=1)
    queue.put(replace(job, state=JobState.PAUSED))
    assert queue.holder() is None, "it was held before it began"
    queue.put(replace(job, state=JobState.PAUSED, log="/logs/1.log", move_to="r2c3"))
    assert queue.holder() is None, "a move concerns that job alone"
    queue.put(replace(job, state=JobState.PAUSED, log="/logs/1.log"))
    assert queue.holder() is not None
    queue.put(replace(job, state=JobState.CANCELLED, log="/logs/1.log"))
    assert queue.holder() is None


def test_an_unknown_job_is_said_to_be_unknown(tmp_path: Path) -> None:
    with pytest.raises(NotPossible, match="no job j4"):
        Queue(tmp_path).get("j4")
