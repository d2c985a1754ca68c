"""Shipped simulated benches from end to end: companion, window process, real driver over a pseudo-terminal.

The truth of the scene must come back within the noise that the meter is said to have.
"""

from __future__ import annotations

from statistics import fmean

import pytest

from benchd.clock import Deadline, StopRequest
from benchd.instruments.meter import XYZ, ReadRequest, Status
from benchd.patch.model import Patch, field, grey
from benchd.run.bench.open_bench import OpenBench
from benchd.run.job import bench_job
from sim.inprocess import scene_of
from sim.truth import truth_of

READINGS = 4
PATCHES = (
    (field(grey(255)), (0.5, 0.5)),
    (Patch("window", grey(128), area_percent=10.0), (0.5, 0.5)),
    (field((255, 0, 0)), (0.5, 0.5)),
    (field((0, 0, 200)), (0.5, 0.5)),
    (Patch("checkerboard", grey(255)), (0.375, 0.125)),
    (field(grey(255)), (0.1, 0.9)),
)


def soon() -> Deadline:
    return Deadline.after(20.0)


@pytest.mark.parametrize(
    ("name", "shown"),
    [("sim-office", "office-lcd"), ("sim-wide", "wide-gamut-lcd"), ("sim-emissive", "emissive")],
)
def test_truth_comes_back_within_the_noise(name: str, shown: str) -> None:
    scene = scene_of(shown, noise="none")
    with OpenBench(bench_job(name)) as opened:
        assert opened.simulated
        for patch, place in PATCHES:
            opened.positioner.move("there", place, soon())
            opened.screen.show(patch, soon())
            opened.clock.sleep(2.0, StopRequest())
            readings: list[XYZ] = []
            for number in range(1, READINGS + 1):
                reading = opened.meter.read(ReadRequest("step", number), soon())
                assert reading.status is Status.OK
                assert reading.xyz is not None
                readings.append(reading.xyz)
            truth = truth_of(scene, patch, place)
            integration_s = scene.sensor.integration_s(truth[1])
            for axis in range(3):
                u = scene.sensor.repeatability_cd_m2(truth[axis], integration_s) / READINGS**0.5
                # Five standard uncertainties, and the last digit of x and y of the terse answer.
                allowed = 5.0 * u + 5e-5 * sum(truth)
                assert fmean(xyz[axis] for xyz in readings) == pytest.approx(truth[axis], abs=allowed)
        opened.screen.show(field(grey(0)), soon())
        opened.clock.sleep(5.0, StopRequest())
        black = opened.meter.read(ReadRequest("black", 1), soon())
        assert black.status is (Status.UNDER if shown == "emissive" else Status.OK)
