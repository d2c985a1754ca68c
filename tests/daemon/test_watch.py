"""What `benchd watch` says of a snapshot. The readings are invented."""

from __future__ import annotations

from benchd.command.service.job_text import progress_of
from benchd.daemon.job_control import Job, JobState, LatestReading, Snapshot, Submission
from benchd.report.terminal.progress import progress_line

WALL = "2026-03-02T18:12:04.000Z"
GREY = LatestReading(1, WALL, "warm-up", 76.99, 0.31, 0.33, "ok")
BLACK = LatestReading(2, WALL, "luminance/black", 0.3182, 0.28, 0.29, "ok")


def line(*readings: LatestReading) -> str:
    job = Job("j1", Submission("quick.yaml", "", {}), JobState.RUNNING, WALL, steps=4, steps_done=1)
    snapshot = Snapshot(
        7, WALL, "lab", simulated=True, doing="running", job=job, step=BLACK.step, what="black", readings=readings
    )
    return progress_line(progress_of(snapshot))


def test_a_reading_of_the_patch_before_is_not_told_as_one_of_this_patch() -> None:
    assert "cd/m2" not in line(GREY)
    assert line(GREY).startswith("SIMULATED  luminance  step 2/4  black")
    assert "black  0.3182 cd/m2" in line(GREY, BLACK)
    assert "cd/m2" not in line()
