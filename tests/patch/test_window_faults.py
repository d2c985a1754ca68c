"""The real window and everything that can happen to it: each ends in a right picture or a named error."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import textwrap
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from benchd.clock import Deadline
from benchd.errors import PixelMismatch, ScreenDisturbed, ScreenLost, WrongScreen
from benchd.patch.model import Patch, field, grey
from benchd.patch.window_screen import WindowScreen, list_screens, window_command
from tests.patch.conftest import OpenWindow, show
from tests.patch.x_client import XClient
from tests.patch.x_server import XServer
from tests.polling import comes_true

pytestmark = pytest.mark.screen

WIDTH, HEIGHT = 1280, 720
WHITE = field(grey(255))
RED = field((255, 0, 0))
Connect = Callable[[XServer], XClient]


@pytest.fixture
def eye(x24: XServer, connect: Connect) -> XClient:
    return connect(x24)


def gone(pid: int) -> bool:
    """True when no such process runs any more (one that nobody has waited for is not running)."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] in "ZX"
    except FileNotFoundError:
        return True


def test_a_killed_window_is_lost_and_a_new_one_works(x24: XServer, open_window: OpenWindow, eye: XClient) -> None:
    first = open_window(x24)
    show(first, WHITE)
    os.kill(first.pid, signal.SIGKILL)
    with pytest.raises(ScreenLost, match="was killed by signal 9"):
        show(first, RED)
    with pytest.raises(ScreenLost, match="was killed by signal 9"):
        first.identify()
    second = open_window(x24)
    show(second, RED)
    assert eye.only_code(0, 0, WIDTH, HEIGHT) == (255, 0, 0)


def test_a_dead_display_server_is_named(x_victim: XServer, open_window: OpenWindow) -> None:
    screen = open_window(x_victim)
    show(screen, WHITE)
    x_victim.kill()
    with pytest.raises(ScreenLost, match=f"the display server {x_victim.name} went away"):  # and not silence
        show(screen, RED)
    assert gone(screen.pid)


def test_a_frozen_display_server_costs_no_more_than_the_deadline(
    x_victim: XServer, open_window: OpenWindow, connect: Connect
) -> None:
    screen, eye = open_window(x_victim), connect(x_victim)
    show(screen, WHITE)
    x_victim.freeze()
    began_s = time.monotonic()
    with pytest.raises(ScreenLost, match=r"did not answer in \d+\.\d s, so it was killed; its display server may hang"):
        screen.show(RED, Deadline.after(0.3))
    assert 0.3 <= time.monotonic() - began_s < 30.0
    assert gone(screen.pid)
    x_victim.thaw()
    # The killed window's last wish must not be taken for the picture of the next one.
    second = open_window(x_victim)
    show(second, field((1, 2, 3)))
    assert eye.only_code(0, 0, 640, 360) == (1, 2, 3)


def test_no_display_server_is_said_so(x24: XServer) -> None:
    for display, words in ((None, "DISPLAY is not set"), (":32767", "nothing answers at DISPLAY=:32767")):
        environment = {k: v for k, v in x24.environment.items() if k != "DISPLAY"}
        if display:
            environment["DISPLAY"] = display
        screen = WindowScreen(window_command("primary", 8), environment=environment)
        try:
            with pytest.raises(ScreenLost, match=words):
                screen.identify()
        finally:
            screen.close()
        with pytest.raises(ScreenLost, match=words):
            list_screens(environment)


def test_an_unknown_output_is_refused_with_the_known_ones(x24: XServer, open_window: OpenWindow) -> None:
    with pytest.raises(WrongScreen, match="no screen 'HDMI-9' that is switched on; there is: screen"):
        open_window(x24, "HDMI-9")


@pytest.mark.parametrize("place", [(0, 0, WIDTH, HEIGHT), (900, 500, 40, 30)], ids=["all", "a corner"])
def test_a_covered_window_is_noticed_and_right_again_once_uncovered(
    x24: XServer, open_window: OpenWindow, eye: XClient, place: tuple[int, int, int, int]
) -> None:
    screen = open_window(x24)
    show(screen, WHITE)
    cover = eye.cover(*place)
    with pytest.raises(ScreenDisturbed, match="covered by something; clear the screen"):
        show(screen, RED)
    eye.uncover(cover)
    show(screen, RED)
    assert eye.only_code(0, 0, WIDTH, HEIGHT) == (255, 0, 0)


def test_the_picture_comes_back_after_a_cover_between_two_questions(
    x24: XServer, open_window: OpenWindow, eye: XClient
) -> None:
    screen = open_window(x24)
    show(screen, RED)
    eye.uncover(eye.cover(100, 100, 300, 200, "blue"))
    assert comes_true(lambda: eye.only_code(0, 0, WIDTH, HEIGHT) == (255, 0, 0))
    # A reading taken meanwhile is spoilt, and to show the same patch again tells.
    with pytest.raises(ScreenDisturbed, match="partly covered while the patch was shown"):
        show(screen, RED)
    show(screen, RED)
    show(screen, RED)


def test_a_confirmation_does_not_mend_what_it_is_to_find(x24: XServer, open_window: OpenWindow, eye: XClient) -> None:
    """Pixels overwritten in the window itself: nothing covers it and no event tells, only the pixels do."""
    screen = open_window(x24)
    x, y = WIDTH // 2, HEIGHT // 2  # a probe of every patch
    for patch in (RED, Patch("checkerboard", grey(255))):
        show(screen, patch)
        show(screen, patch)
        eye.scribble(x, y, 3, 3)
        with pytest.raises(ScreenDisturbed, match="the picture changed while the patch was shown"):
            show(screen, patch)
        assert eye.only_code(0, 0, WIDTH, HEIGHT) == (0, 0, 0), "an error is black"
        show(screen, patch)
        assert eye.grab(x, y, 1, 1).tolist() == [[list(patch.code)]]


def test_a_confirmation_paints_nothing(x24: XServer, open_window: OpenWindow, eye: XClient) -> None:
    screen = open_window(x24)
    show(screen, RED)
    eye.scribble(300, 300, 5, 5)  # where no probe looks
    show(screen, RED)
    assert eye.grab(302, 302, 1, 1).tolist() == [[[1, 2, 3]]]
    show(screen, WHITE)
    assert eye.only_code(0, 0, WIDTH, HEIGHT) == (255, 255, 255)


@pytest.mark.parametrize("place", [(0, 0, 400, 300), (50, 0, WIDTH, HEIGHT)], ids=["resized", "moved"])
def test_a_moved_or_resized_window_is_noticed_and_put_back(
    x24: XServer, open_window: OpenWindow, eye: XClient, place: tuple[int, int, int, int]
) -> None:
    before = set(eye.windows())
    screen = open_window(x24)
    (window,) = set(eye.windows()) - before
    show(screen, WHITE)
    eye.place(window, *place)
    with pytest.raises(ScreenDisturbed, match="something moved or resized it"):
        show(screen, RED)
    show(screen, Patch("checkerboard", grey(255), surround=grey(7)))
    seen = eye.grab(0, 0, WIDTH, HEIGHT)
    assert (seen[0, 0] == 255).all()
    assert (seen[-1, 0] == 7).all()
    assert (seen[-1, -1] == 255).all()


# The witness in the window process is made to lie: after so many looks it tells the truth.
LIES = """
import sys
from benchd.patch import window
honest, looks = window.X11Desktop.pixels, 0
window.APPEARS_WITHIN_S = float(sys.argv.pop(1))
def pixels(self, points, lies=int(sys.argv.pop(1))):
    global looks
    looks += 1
    seen = honest(self, points)
    return seen if looks > lies else tuple((9, 9, 9) for _ in seen)
window.X11Desktop.pixels = pixels
sys.exit(window.main(sys.argv[1:]))
"""


def test_wrong_pixels_are_an_error_and_the_screen_goes_black(x24: XServer, eye: XClient) -> None:
    screen = WindowScreen([sys.executable, "-c", LIES, "0.3", "100000"], environment=x24.environment)
    try:
        with pytest.raises(PixelMismatch, match=r"reads \(9, 9, 9\) where \(255, 255, 255\) was sent"):
            show(screen, WHITE)
        assert eye.only_code(0, 0, WIDTH, HEIGHT) == (0, 0, 0)
    finally:
        screen.close()


def test_a_picture_that_appears_a_little_late_is_waited_for(x24: XServer, eye: XClient) -> None:
    screen = WindowScreen([sys.executable, "-c", LIES, "30", "5"], environment=x24.environment)
    try:
        show(screen, WHITE)
        assert eye.only_code(0, 0, WIDTH, HEIGHT) == (255, 255, 255)
    finally:
        screen.close()


def test_a_destroyed_window_is_lost(x24: XServer, open_window: OpenWindow, eye: XClient) -> None:
    before = set(eye.windows())
    screen = open_window(x24)
    (window,) = set(eye.windows()) - before
    eye.uncover(window)
    with pytest.raises(ScreenLost, match="closed by another program"):
        show(screen, RED)


def test_closing_leaves_no_process_and_no_window(x24: XServer, open_window: OpenWindow, eye: XClient) -> None:
    before = set(eye.windows())
    screen = open_window(x24)
    show(screen, WHITE)
    screen.close()
    screen.close()
    assert gone(screen.pid)
    assert comes_true(lambda: set(eye.windows()) == before)
    with pytest.raises(ScreenLost, match="the window was closed"):
        show(screen, WHITE)


PARENT = """
import sys
from benchd.patch.window_screen import WindowScreen, window_command
screen = WindowScreen(window_command("primary", 8))
screen.identify()
print(screen.pid, flush=True)
sys.stdin.read()
"""


@pytest.mark.parametrize("frozen", [False, True], ids=["idle", "stuck in a frozen server"])
def test_the_window_ends_with_a_killed_daemon(x_victim: XServer, frozen: bool) -> None:
    parent = subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(PARENT)],
        env=x_victim.environment,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    assert parent.stdin is not None
    assert parent.stdout is not None
    try:
        pid = int(parent.stdout.readline())
        if frozen:
            x_victim.freeze()
        assert not gone(pid)
    finally:
        parent.kill()
        parent.wait()
        parent.stdin.close()
        parent.stdout.close()
    assert comes_true(lambda: gone(pid))


def test_the_screen_is_kept_awake(x_victim: XServer, open_window: OpenWindow, connect: Connect) -> None:
    eye = connect(x_victim)
    x_victim.run("xset", "s", "1", "1")
    assert comes_true(eye.blanked), "the server blanks after a second when nobody prevents it"
    screen = open_window(x_victim)
    assert screen.identify().awake == "the display server's blanking is suspended"
    assert not eye.blanked()
    assert not comes_true(eye.blanked, 2.0)
