"""The daemon's side against children that do one thing wrong: named errors, kept deadlines, no process left."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from benchd.clock import Deadline
from benchd.errors import PixelMismatch, ScreenDisturbed, ScreenError, ScreenLost, WrongScreen
from benchd.patch.model import Patch, field, grey
from benchd.patch.window_screen import WindowScreen, window_command
from tests.imports import loaded_with

CHILD = Path(__file__).parent / "faulty_window.py"
WHITE = field(grey(255))
DEAF = """
import json, sys, time
identity = {"name": "A-1", "width": 4000, "height": 3000, "x": 0, "y": 0, "bits": 8, "readback": "none",
            "renderer": "none", "awake": "no", "simulated": True}
print(json.dumps({"seq": json.loads(sys.stdin.buffer.raw.read(4096))["seq"], "ok": True, "identity": identity}))
sys.stdout.flush()
time.sleep(60)
"""
Opener = Callable[..., WindowScreen]


@pytest.fixture
def open_child() -> Iterator[Opener]:
    opened: list[WindowScreen] = []

    def opener(*arguments: str) -> WindowScreen:
        opened.append(WindowScreen([sys.executable, "-S", str(CHILD), *arguments]))
        opened[-1].identify()
        return opened[-1]

    yield opener
    for screen in opened:
        screen.close()


def running(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


def test_a_good_child_shows_what_is_asked(open_child: Opener) -> None:
    screen = open_child("none")
    identity = screen.identify()
    assert (identity.name, identity.simulated, identity.gamma_ramp) == ("A-1", True, "unknown")
    shown = screen.show(Patch("checkerboard", grey(255)), Deadline.after(60))
    assert (shown.width, shown.height, shown.screen, shown.bits) == (64, 48, "A-1", 8)
    assert set(shown.pixels) == {grey(0), grey(255)}
    assert len(shown.pixels) == len(shown.probes)
    assert 0 < shown.elapsed_s < 60


def test_the_first_show_asks_for_the_identity_itself() -> None:
    screen = WindowScreen([sys.executable, "-S", str(CHILD), "none"])
    try:
        assert screen.show(WHITE, Deadline.after(60)).screen == "A-1"
    finally:
        screen.close()


@pytest.mark.parametrize("way", ["earlier-answer-first", "trickle"])
def test_answers_are_matched_by_number_and_put_together(open_child: Opener, way: str) -> None:
    screen = open_child(way)
    for code in range(5):
        assert set(screen.show(field(grey(code)), Deadline.after(60)).pixels) == {grey(code)}


@pytest.mark.parametrize("way", ["silent", "half", "drip"])
def test_no_answer_costs_the_deadline_and_the_child(open_child: Opener, way: str) -> None:
    screen = open_child(way)
    began_s = time.monotonic()
    with pytest.raises(ScreenLost, match=r"requested to show a field and did not answer in \d+\.\d s"):
        screen.show(WHITE, Deadline.after(0.2))
    assert 0.2 <= time.monotonic() - began_s < 30.0
    assert not running(screen.pid)
    with pytest.raises(ScreenLost, match="did not answer"):
        screen.show(WHITE, Deadline.after(60))


@pytest.mark.parametrize(
    ("way", "error", "words"),
    [
        ("endless", ScreenLost, "does not use this protocol: a line of more than"),
        ("garbage", ScreenLost, "does not use this protocol"),
        ("few-pixels", ScreenLost, "answer makes no sense: 5 pixels were requested and 4 came"),
        ("wrong-pixel", PixelMismatch, r"reads \(1, 2, 3\) where \(255, 255, 255\) was sent"),
        ("other-screen", WrongScreen, "on screen 'B-2', but the run began on 'A-1'"),
        ("disturbed", ScreenDisturbed, "it was disturbed"),
        ("wrong_screen", WrongScreen, "it was wrong_screen"),
        ("refused", ScreenLost, "it was refused"),
        ("lost", ScreenLost, "it was lost"),
        ("strange", ScreenLost, "it was strange"),
        ("exit", ScreenLost, "ended with status 3: something broke here"),
        ("event-exit", ScreenLost, "ended with status 70: the display server :7 went away"),
        ("closes-output", ScreenLost, "the window process closed its output"),
    ],
)
def test_every_fault_has_its_error(open_child: Opener, way: str, error: type[ScreenError], words: str) -> None:
    screen = open_child(way)
    with pytest.raises(ScreenError, match=words) as caught:
        screen.show(WHITE, Deadline.after(60))
    assert type(caught.value) is error
    assert "\n" not in str(caught.value)
    assert running(screen.pid) == (error is not ScreenLost)


def test_a_child_that_stops_reading_costs_the_deadline() -> None:
    deaf = WindowScreen([sys.executable, "-S", "-c", DEAF])
    try:
        deaf.identify()
        # More than a pipe holds: already the question can't be delivered.
        board = Patch("checkerboard", grey(255), columns=100, rows=100)
        began_s = time.monotonic()
        with pytest.raises(ScreenLost, match="did not take the question to show a checkerboard in time"):
            deaf.show(board, Deadline.after(0.5))
        assert time.monotonic() - began_s < 30.0
        assert not running(deaf.pid)
    finally:
        deaf.close()


def test_a_command_that_does_not_exist_is_named() -> None:
    with pytest.raises(ScreenLost, match=r"can't be started .*no-such-window: No such file"):
        WindowScreen(["/nowhere/no-such-window"])


def test_a_child_that_dies_at_once_leaves_its_last_words() -> None:
    screen = WindowScreen([sys.executable, "-S", "-c", "raise SystemExit('no pictures today')"])
    try:
        with pytest.raises(ScreenLost, match="ended with status 1: no pictures today"):
            screen.identify()
    finally:
        screen.close()


def test_closing_ends_the_input_and_waits(tmp_path: Path) -> None:
    note = tmp_path / "note"
    screen = WindowScreen([sys.executable, "-S", str(CHILD), "none", str(note)])
    screen.identify()
    screen.close()
    assert note.read_text() == "saw the end"
    assert not running(screen.pid)
    with pytest.raises(ScreenLost, match="was closed"):
        screen.identify()


def test_an_interrupt_in_the_terminal_does_not_reach_the_child(open_child: Opener) -> None:
    screen = open_child("none")
    assert os.getpgid(screen.pid) != os.getpgid(0)


def test_no_descriptor_is_left_behind() -> None:
    def descriptors() -> int:
        return len(os.listdir("/proc/self/fd"))

    before = descriptors()
    for _ in range(3):
        screen = WindowScreen([sys.executable, "-S", str(CHILD), "exit"])
        with pytest.raises(ScreenLost):
            screen.show(WHITE, Deadline.after(60))
        screen.close()
    assert descriptors() == before


def test_the_real_window_has_its_command() -> None:
    assert window_command("HDMI-1", 10)[1:] == ["-m", "benchd.patch.window", "--monitor", "HDMI-1", "--bits", "10"]


def test_the_daemons_side_does_not_import_the_window_library() -> None:
    assert not {"pyglet", "numpy"} & loaded_with("benchd.patch.window_screen")
