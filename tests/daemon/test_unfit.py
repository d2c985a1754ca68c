"""A plan that the bench can't run is refused, or fails alone; it never holds up a night."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchd.daemon.job_control import Submission
from benchd.errors import InputError, PlanUnfit
from tests.daemon.scene import House, Scene, quick

SWEEP = "plan: s\nwarm_up: none\nsweep: [{control: brightness, values: [0, 50]}]\nblocks: [luminance: {}]\n"
HDR = "plan: h\nwarm_up: none\nsignal: {transfer: pq}\nblocks: [peak: {}]\n"


@pytest.mark.parametrize(
    ("text", "told"),
    [(SWEEP, "the bench has no such control"), (HDR, "would be measured wrongly")],
)
def test_what_the_files_tell_is_refused_at_the_submission(tmp_path: Path, text: str, told: str) -> None:
    with House(tmp_path) as house:
        with pytest.raises(InputError, match=told):
            house.service.submit(Submission("p.yaml", text))
        assert house.service.snapshot().queue == ()


def test_what_only_the_opened_bench_tells_fails_that_job_alone(tmp_path: Path) -> None:
    scene = Scene(not_ready=PlanUnfit("the plan has codes of 10 bits and screen S shows 8; say bits: 8 in the plan"))
    with House(tmp_path, scene, retry_s=(600.0, 600.0)) as house:
        house.service.submit(quick())
        failed = house.wait_for(j1="failed")
        assert "say bits: 8" in failed.queue[0].why
        scene.not_ready = None
        house.service.submit(quick())
        house.wait_for(j2="complete")  # without the wait that a bench which is not ready gets
        assert house.told.events == [("failed", "j1"), ("complete", "j2")]
