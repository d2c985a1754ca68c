"""The simulated meter in front of a real window under a virtual X server: it sees the pixels that are there."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from benchd.clock import Deadline
from benchd.patch.model import Patch, field, grey
from benchd.patch.window_screen import WindowScreen, window_command
from sim.displays import display
from sim.scene import Scene
from sim.sensor import SensorModel
from sim.truth import painted
from tests.patch.x_server import XServer, virtual_server
from tests.sim.companion import Companion, companion

pytestmark = pytest.mark.screen

LOOK = ("--time", "real", "--look", "--noise", "none", "--move-s", "0.05")


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[XServer]:
    with virtual_server(tmp_path_factory.mktemp("look"), size="640x360") as found:
        yield found


def comes_to_read(bench: Companion, luminance_cd_m2: float) -> bool:
    """Whether the meter sees ``luminance_cd_m2`` to 1 % (or as good as black) once the display has settled."""
    until = Deadline.after(60.0)
    wanted = pytest.approx(luminance_cd_m2, rel=0.01, abs=1.0 if luminance_cd_m2 == 0 else 0.0)
    with bench.port("plain-488") as port:
        while not until.passed:
            port.write(b"SENS:APER 0.050\nREAD:XYZ?;:SYST:ERR?\n")
            if float(port.read_until(b"\n").split(b",")[1]) == wanted:
                return True
    return False


@pytest.mark.parametrize("name", ["office-lcd", "emissive"])
def test_what_is_read_is_what_the_window_shows(server: XServer, tmp_path: Path, name: str) -> None:
    scene = Scene(display(name), SensorModel(), noise="none")
    screen = WindowScreen(window_command("primary", 8), environment=server.environment)
    try:
        with companion(tmp_path, "plain-488", *LOOK, display=name, environment=server.environment) as bench:
            for patch, place in (
                (field(grey(255)), (0.5, 0.5)),
                (field((200, 30, 90)), (0.1, 0.9)),
                (Patch("window", grey(180), surround=grey(20), area_percent=25.0), (0.5, 0.5)),
                (Patch("checkerboard", grey(255)), (0.625, 0.375)),
            ):
                screen.show(patch, Deadline.after(60.0))
                assert bench.ask("move", x=place[0], y=place[1])["ok"]
                truth = scene.truth(painted(patch, 640, 360), place)[1]
                # The average level comes from a grid of samples, hence not to the last digit.
                assert comes_to_read(bench, truth)
    finally:
        screen.close()


def test_it_is_not_told_what_it_can_see(server: XServer, tmp_path: Path) -> None:
    with companion(tmp_path, "plain-488", *LOOK, environment=server.environment) as bench:
        told = bench.ask("patch", width=640, height=360, bits=8, rects=[[0, 0, 640, 360, 255, 255, 255]])
        assert "looks at the real screen" in told["error"]


def test_without_a_screen_it_sees_black_and_lives(tmp_path: Path) -> None:
    folder = tmp_path / "x"
    folder.mkdir()
    bench_folder = tmp_path / "bench"
    bench_folder.mkdir()
    with virtual_server(folder, size="640x360") as victim:
        screen = WindowScreen(window_command("primary", 8), environment=victim.environment)
        with companion(bench_folder, "plain-488", *LOOK, environment=victim.environment) as bench:
            screen.show(field(grey(255)), Deadline.after(60.0))
            assert comes_to_read(bench, 350.0)
            victim.kill()
            assert comes_to_read(bench, 0.0)
        screen.close()
