"""The scene behind benchd's own protocols, in one process."""

from __future__ import annotations

import time

import pytest

from benchd.clock import Clock, Deadline, StopRequest
from benchd.errors import MeterError, MeterSilent, WrongScreen
from benchd.instruments.meter import Meter, ReadRequest, Status
from benchd.patch.model import Patch, field, grey
from benchd.patch.screen import Screen
from sim.faults import MEANING, FaultSchedule, parse_trouble
from sim.inprocess import ERRORS, SceneClock, SimMeter, SimPositioner, SimScreen, scene_of
from sim.scene import Scene

REQUEST = ReadRequest("step", 1)


def soon() -> Deadline:
    return Deadline.after(5.0)


def parts(scene: Scene, *faults: str) -> tuple[Clock, Screen, Meter]:
    """A bench, typed as the protocols that it must fulfil."""
    meter = SimMeter(scene, troubles=FaultSchedule(tuple(parse_trouble(fault) for fault in faults)))
    return SceneClock(scene), SimScreen(scene), meter


def test_a_reading_is_the_truth_within_its_noise() -> None:
    for name in ("office-lcd", "wide-gamut-lcd", "emissive"):
        scene = scene_of(name)
        clock, screen, meter = parts(scene)
        for code in (255, 128, 40):
            screen.show(field(grey(code)), soon())
            clock.sleep(2.0, StopRequest())
            reading = meter.read(REQUEST, soon())
            assert reading.xyz is not None
            assert reading.status is Status.OK
            truth = scene.truth(scene.picture)
            for read, true in zip(reading.xyz, truth, strict=True):
                assert read == pytest.approx(true, abs=5.0 * scene.sensor.repeatability_cd_m2(true, 0.1) + 1e-4 * true)


def test_the_whole_bench_repeats_itself() -> None:
    def run() -> list[object]:
        scene = scene_of("emissive", seed=3, noise="sequence")
        clock, screen, meter = parts(scene)
        mover = SimPositioner(scene)
        found: list[object] = []
        for code in (0, 30, 255):
            mover.move("r1c1", (0.1, 0.1), soon())
            screen.show(Patch("window", grey(code), area_percent=10.0), soon())
            clock.sleep(1.0, StopRequest())
            found.append((meter.read(REQUEST, soon()), clock.now_s()))
        return found

    assert run() == run()


def test_identity_says_simulated() -> None:
    _, screen, meter = parts(scene_of())
    assert meter.identify().simulated
    assert screen.identify().simulated
    assert meter.identify().same_meter(meter.identify())


def test_a_patch_deeper_than_the_screen_is_refused() -> None:
    _, screen, _ = parts(scene_of())
    with pytest.raises(WrongScreen):
        screen.show(field((1023, 0, 0), bits=10), soon())


def test_closing_leaves_black() -> None:
    scene = scene_of()
    _, screen, _ = parts(scene)
    screen.show(field(grey(255)), soon())
    screen.close()
    assert scene.truth(scene.picture)[1] < 0.5


@pytest.mark.parametrize("what", sorted(ERRORS))
def test_troubles_become_the_errors_of_a_driver(what: str) -> None:
    _, _, meter = parts(scene_of(), f"reading:2:{what}")
    meter.read(REQUEST, soon())
    with pytest.raises(ERRORS[what]):  # type: ignore[index]
        meter.read(REQUEST, soon())
    if what == "stuck":
        with pytest.raises(MeterSilent):
            meter.identify()
        meter.close()
    meter.read(REQUEST, soon())


def test_every_trouble_is_known_here() -> None:
    assert set(ERRORS) | {"wrong_meter"} == set(MEANING)
    assert all(issubclass(error, MeterError) for error in ERRORS.values())


def test_another_meter() -> None:
    _, _, meter = parts(scene_of(), "identify:2:wrong_meter")
    first = meter.identify()
    assert not meter.identify().same_meter(first)


def test_an_instant_meter_costs_next_to_nothing() -> None:
    """For benchmarks of the software around it: some microseconds of this process's own time."""
    scene = scene_of()
    screen, meter = SimScreen(scene), SimMeter(scene, instant=True)
    patches = [field(grey(code)) for code in range(50)]
    for patch in patches:
        screen.show(patch, soon())
        meter.read(REQUEST, soon())
    begin = time.process_time()
    for patch in patches:
        screen.show(patch, soon())
        meter.read(REQUEST, soon())
    assert (time.process_time() - begin) / len(patches) < 1e-3
    assert scene.now_s == 0.0
