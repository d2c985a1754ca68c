"""Two outputs: the chosen one is covered exactly, the other is left alone; outputs that change are noticed."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from benchd.errors import ScreenDisturbed, WrongScreen
from benchd.patch.model import Patch, field, grey
from benchd.patch.window_screen import list_screens
from tests.patch.conftest import OpenWindow, show
from tests.patch.x_client import XClient
from tests.patch.x_server import XServer

pytestmark = pytest.mark.screen

PLACES = {"DUMMY0": (0, 0, 1024, 768), "DUMMY1": (1024, 0, 800, 600)}
COLOR = field((10, 200, 30))
Connect = Callable[[XServer], XClient]


def test_screens_are_listed_by_name_with_their_place(x_pair: XServer) -> None:
    listed = list_screens(x_pair.environment)
    assert {s.name: (s.x, s.y, s.width, s.height) for s in listed} == PLACES
    assert {(s.bits, s.gamma_ramp, s.simulated) for s in listed} == {(8, "identity", False)}


@pytest.mark.parametrize(("chosen", "other"), [("DUMMY0", "DUMMY1"), ("DUMMY1", "DUMMY0")])
def test_the_chosen_output_is_covered_and_the_other_left_alone(
    x_pair: XServer, open_window: OpenWindow, connect: Connect, chosen: str, other: str
) -> None:
    eye = connect(x_pair)
    before = eye.grab(*PLACES[other])
    screen = open_window(x_pair, chosen)
    identity = screen.identify()
    assert (identity.name, identity.x, identity.y, identity.width, identity.height) == (chosen, *PLACES[chosen])
    assert show(screen, COLOR).screen == chosen
    assert eye.only_code(*PLACES[chosen]) == COLOR.code
    assert (eye.grab(*PLACES[other]) == before).all()
    checker = Patch("checkerboard", grey(255), surround=grey(3))
    show(screen, checker)
    seen = eye.grab(*PLACES[chosen])
    height, width = seen.shape[:2]
    assert seen[0, 0, 0] == 255
    assert seen[height // 4 - 1, width // 4 - 1, 0] == 255
    assert seen[height // 4, width // 4 - 1, 0] == 3
    assert seen[height // 4, width // 4, 0] == 255
    assert {s.name: (s.x, s.y, s.width, s.height) for s in list_screens(x_pair.environment)} == PLACES


def test_primary_means_the_primary_output(x_pair: XServer, open_window: OpenWindow) -> None:
    assert open_window(x_pair, "primary").identify().name == "DUMMY0"
    x_pair.run("xrandr", "--output", "DUMMY1", "--primary")
    try:
        assert open_window(x_pair, "primary").identify().name == "DUMMY1"
    finally:
        x_pair.run("xrandr", "--output", "DUMMY0", "--primary")


def test_a_changed_gamma_ramp_is_seen(x_pair: XServer, open_window: OpenWindow) -> None:
    screen = open_window(x_pair, "DUMMY1")
    assert screen.identify().gamma_ramp == "identity"
    show(screen, COLOR)
    x_pair.run("xrandr", "--output", "DUMMY1", "--gamma", "1:1:0.7")
    try:
        with pytest.raises(ScreenDisturbed, match="the gamma ramp of screen 'DUMMY1' changed"):
            show(screen, COLOR)
        assert screen.identify().gamma_ramp == "changed"
        assert open_window(x_pair, "DUMMY1").identify().gamma_ramp == "changed"
        assert open_window(x_pair, "DUMMY0").identify().gamma_ramp == "identity"
    finally:
        x_pair.run("xrandr", "--output", "DUMMY1", "--gamma", "1:1:1")
    show(open_window(x_pair, "DUMMY1"), COLOR)


def test_an_output_that_is_switched_off_is_noticed(x_pair: XServer, open_window: OpenWindow) -> None:
    screen = open_window(x_pair, "DUMMY1")
    show(screen, COLOR)
    x_pair.run("xrandr", "--output", "DUMMY1", "--off")
    try:
        with pytest.raises(WrongScreen, match="screen 'DUMMY1' was switched off or unplugged"):
            show(screen, COLOR)
    finally:
        x_pair.run("xrandr", "--output", "DUMMY1", "--mode", "800x600", "--right-of", "DUMMY0")
    show(screen, COLOR)


def test_an_output_with_another_resolution_is_noticed(x_pair: XServer, open_window: OpenWindow) -> None:
    screen = open_window(x_pair, "DUMMY0")
    show(screen, COLOR)
    x_pair.run("xrandr", "--output", "DUMMY0", "--mode", "640x480")
    try:
        with pytest.raises(WrongScreen, match=r"'DUMMY0' is now 640 x 480 .*opened for 1024 x 768"):
            show(screen, COLOR)
    finally:
        x_pair.run("xrandr", "--output", "DUMMY0", "--mode", "1024x768")
        x_pair.run("xrandr", "--output", "DUMMY1", "--mode", "800x600", "--right-of", "DUMMY0")
    show(screen, COLOR)


def test_the_refresh_rate_is_the_one_that_xrandr_computes(x_pair: XServer, open_window: OpenWindow) -> None:
    """Another program's reading of the same protocol: the rate of the current mode, marked with a star."""
    rates = {}
    name = ""
    for line in x_pair.run("xrandr", "--query").splitlines():
        if " connected" in line:
            name = line.split()[0]
        elif "*" in line:
            rates[name] = float(next(word for word in line.split() if "*" in word).rstrip("*+"))
    listed = {s.name: round(s.refresh_hz, 2) for s in list_screens(x_pair.environment)}
    assert rates
    assert listed == pytest.approx(rates, abs=0.011)
    assert open_window(x_pair, "DUMMY0").identify().refresh_hz == pytest.approx(rates["DUMMY0"], abs=0.011)
