"""The room around the simulated display: what a lamp, a knocked meter and a sleeping display do to the light."""

from __future__ import annotations

import pytest

from benchd.patch.model import field, grey
from sim.faults import parse_trouble
from sim.inprocess import scene_of
from sim.room import ROOM_MEANING, Room
from sim.truth import painted


def test_each_trouble_of_the_room() -> None:
    screen = (95.0, 100.0, 109.0)
    assert Room().seen(screen) == screen
    assert Room().after("lamp", "2").seen(screen)[1] == pytest.approx(102.0)
    assert Room().after("lamp", "").seen(screen)[1] == pytest.approx(105.0)
    assert Room().after("aside", "12").seen(screen)[1] == pytest.approx(12.0)
    assert Room().after("asleep", "").seen(screen) == (0.0, 0.0, 0.0)
    assert Room().after("asleep", "").after("lamp", "2").seen(screen)[1] == pytest.approx(2.0)
    assert Room().after("asleep", "").after("put_back", "") == Room()


def test_the_meter_sees_the_room_and_the_truth_does_not() -> None:
    scene = scene_of(noise="none")
    picture = painted(field(grey(255)))
    scene.show(picture)
    scene.advance(5.0)
    truth = scene.truth(picture)[1]
    scene.room = Room().after("lamp", "40")
    assert scene.take(0.5).xyz[1] == pytest.approx(truth + 40.0, rel=1e-6)
    assert scene.truth(picture)[1] == truth


@pytest.mark.parametrize("what", sorted(ROOM_MEANING))
def test_each_can_be_planned_for_a_moment(what: str) -> None:
    assert parse_trouble(f"at:600:{what}").what == what
    with pytest.raises(ValueError, match=r"^fault "):
        parse_trouble(f"reading:1:{what}")


@pytest.mark.parametrize("text", ["at:1:lamp:-1", "at:1:aside:nan", "at:1:lamp:bright"])
def test_a_room_light_is_a_luminance(text: str) -> None:
    with pytest.raises(ValueError, match=r"^fault "):
        parse_trouble(text)
