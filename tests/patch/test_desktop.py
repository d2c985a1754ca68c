"""Outputs, ramps and blanking: what a virtual server can't do is checked on invented answers."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchd.errors import ScreenLost, WrongScreen
from benchd.patch import desktop, randr
from benchd.patch.desktop import Awake, X11Desktop
from benchd.patch.model import Patch, field, grey
from benchd.patch.randr import Output, ramp_word
from benchd.patch.window_screen import WindowScreen, window_command
from benchd.patch.x11 import Place, XConnection
from tests.patch.conftest import OpenWindow, show
from tests.patch.x_client import XClient
from tests.patch.x_server import XServer, need, virtual_server
from tests.polling import comes_true

Connect = Callable[[XServer], XClient]


@given(st.sampled_from([256, 1024, 4096]), st.sampled_from([8, 10, 12, 16]))
def test_an_identity_ramp_is_one_at_every_size_and_precision(size: int, bits: int) -> None:
    """value = 65535 i / (size - 1), kept in ``bits`` bits and filled up or cut, as servers do."""
    exact = [65535 * i // (size - 1) for i in range(size)]
    cut = [(v >> (16 - bits)) << (16 - bits) for v in exact]
    filled = [v | (v >> bits) for v in cut]
    for channel in (exact, cut, filled):
        assert ramp_word((channel, channel, channel)) == "identity"


@given(st.floats(0.5, 2.0).filter(lambda g: abs(g - 1) > 0.03), st.integers(0, 2))
def test_a_ramp_with_another_gamma_is_changed(gamma: float, which: int) -> None:
    straight = [65535 * i / 255 for i in range(256)]
    bent = [65535 * (i / 255) ** gamma for i in range(256)]
    channels = [straight, straight, straight]
    channels[which] = bent
    assert ramp_word(channels) == "changed"


def test_no_ramp_is_unknown() -> None:
    assert ramp_word(()) == "unknown"
    assert ramp_word(([0] * 256, [0] * 256, [0] * 256)) == "unknown"
    assert ramp_word(([], [], [])) == "unknown"


def test_a_turned_output_has_its_mode_turned() -> None:
    class Mode:
        id, width, height = 7, 1920, 1080

    class Resources:
        modes, mode_count = (Mode,), 1

    assert randr._mode(Resources, 7) is Mode
    assert randr._mode(Resources, 8) is None
    assert [randr._size(Mode, turn) for turn in (1, 2, 4, 8)] == [
        (1920, 1080),
        (1080, 1920),
        (1920, 1080),
        (1080, 1920),
    ]


@pytest.mark.screen
def test_a_resampled_output_is_refused(x24: XServer, monkeypatch: pytest.MonkeyPatch) -> None:
    resampled = Output("A-1", Place(0, 0, 2880, 1620), (1920, 1080), 1, 1)
    assert resampled.scaled
    monkeypatch.setattr(desktop.Outputs, "find", lambda *_, **__: resampled)
    monkeypatch.setenv("DISPLAY", x24.name)
    with pytest.raises(WrongScreen, match=r"resamples screen 'A-1' .2880 x 1620 to 1920 x 1080."):
        X11Desktop("A-1", lambda: None)


@pytest.mark.screen
def test_a_second_x_screen_and_an_odd_depth_are_refused(x24: XServer, tmp_path: Path) -> None:
    with pytest.raises(ScreenLost, match="nothing answers"):
        XConnection(f"{x24.name}.3")
    with virtual_server(tmp_path, depth=16, size="64x64") as shallow:
        connection = XConnection(shallow.name)
        with pytest.raises(WrongScreen, match="colour depth of 16; set it to 24 or 30"):
            _ = connection.bits
        connection.close()


@pytest.mark.screen
def test_without_the_blanking_extension_the_timer_is_reset(x_victim: XServer, connect: Connect) -> None:
    eye = connect(x_victim)
    server = XConnection(x_victim.name)
    awake = Awake(server, None, reset_every_s=0.2)
    assert "reset every 0.2 s" in awake.how
    x_victim.run("xset", "s", "1", "1")

    def reset() -> bool:
        awake.tick()
        return not eye.blanked()

    for _ in range(3):
        assert comes_true(eye.blanked), "without the resets the server blanks"
        assert comes_true(reset), "each reset starts its timer anew"
    server.close()


@pytest.mark.screen
def test_a_server_without_opengl_is_said_so(tmp_path: Path) -> None:
    need("Xvfb")
    server = XServer(["Xvfb", "-screen", "0", "64x64x24", "-extension", "GLX"], tmp_path / "log")
    screen = WindowScreen(window_command("primary", 8), environment=server.environment)
    try:
        with pytest.raises(ScreenLost, match="screen 'screen' offers no OpenGL; look after the graphics driver"):
            screen.identify()
    finally:
        screen.close()
        server.stop()


@pytest.mark.screen
def test_where_there_is_no_x_server_the_window_library_knows_the_screens(x24: XServer, connect: Connect) -> None:
    """The code for such systems, run here on the virtual server that it does not know of."""
    plain = "import sys, benchd.patch.window as w; w.on_x11 = lambda: False; sys.exit(w.main(sys.argv[1:]))"
    command = [sys.executable, "-c", plain]
    listed = subprocess.run([*command, "--list"], env=x24.environment, capture_output=True, text=True, check=True)
    assert '"name":"screen","width":1280,"height":720' in listed.stdout
    screen = WindowScreen([*command, "--monitor", "screen"], environment=x24.environment)
    eye = connect(x24)
    try:
        identity = screen.identify()
        assert (identity.name, identity.readback, identity.gamma_ramp) == ("screen", "buffer", "unknown")
        assert identity.awake.startswith("not kept awake")
        show(screen, field((1, 128, 254)))
        assert eye.only_code(0, 0, 1280, 720) == (1, 128, 254)
        show(screen, Patch("checkerboard", grey(255), columns=5, rows=3))
    finally:
        screen.close()
    stranger = WindowScreen([*command, "--monitor", "B-2"], environment=x24.environment)
    try:
        with pytest.raises(WrongScreen, match="no screen 'B-2'; there is: screen"):
            stranger.identify()
    finally:
        stranger.close()


@pytest.mark.screen
def test_a_window_that_is_asked_to_close_says_so_and_goes(
    x_victim: XServer, open_window: OpenWindow, connect: Connect
) -> None:
    screen, client = open_window(x_victim), connect(x_victim)
    show(screen, field(grey(9)))
    (window,) = client.windows()
    client.ask_to_close(window)
    with pytest.raises(ScreenLost, match="operator closed the window; resume to open it again"):
        for _ in range(200):
            show(screen, field(grey(9)))
