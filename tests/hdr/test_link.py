"""The link to a window on another machine: who may use it, what a stranger can do, and what a lost link means."""

from __future__ import annotations

import contextlib
import json
import os
import socket
import stat
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchd.clock import Deadline
from benchd.errors import InputError, ScreenLost
from benchd.patch import listen
from benchd.patch.far import connect, far_command, split_address
from benchd.patch.link import (
    NotTrusted,
    Seal,
    make_secret,
    new_challenge,
    proof,
    read_secret,
    session_key,
)
from benchd.patch.listen import MAX_GUESTS, Listener
from benchd.patch.model import Patch, field, grey
from benchd.patch.window_screen import WindowScreen
from tests.polling import comes_true

# A window of pure Python: answers hello and show as the protocol says, draws nothing.
PAPER = """
import json, sys
for line in sys.stdin:
    asked = json.loads(line)
    if asked["op"] == "hello":
        identity = {"name": "PAPER-1", "width": 640, "height": 360, "x": 0, "y": 0, "bits": 10, "readback": "none",
            "renderer": "pen", "awake": "no", "simulated": False}
        answer = {"identity": identity}
    elif asked["rects"][-1][4] == 7:
        sys.exit(3)
    else:
        answer = {"width": 640, "height": 360, "screen": "PAPER-1", "bits": 10, "readback": "none", "pixels": []}
    print(json.dumps({"seq": asked["seq"], "ok": True, **answer}), flush=True)
open(sys.argv[1], "a").write("black\\n")
"""


class Far:
    """A far machine in a thread."""

    def __init__(self, folder: Path, signal: str | None = None) -> None:
        self.token, self.ends = folder / "window.token", folder / "ends.txt"
        if not self.token.exists():
            make_secret(self.token)
        self.said: list[str] = []
        command = [sys.executable, "-c", PAPER, str(self.ends)]
        self.listener = Listener("127.0.0.1:0", read_secret(self.token), command, signal, self.said.append)
        self.address = f"127.0.0.1:{self.listener.port}"
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def _serve(self) -> None:
        try:
            self.listener.run()
        except OSError:
            return

    def screen(self, token: Path | None = None) -> WindowScreen:
        return WindowScreen(far_command(self.address, str(token or self.token)))

    def close(self) -> None:
        # A thread in accept() is not woken by a close: knock once.
        self.listener._socket.shutdown(socket.SHUT_RDWR)
        self.listener.close()
        self._thread.join(60.0)
        assert not self._thread.is_alive()


@pytest.fixture
def far(tmp_path: Path) -> Iterator[Far]:
    machine = Far(tmp_path, "pq")
    yield machine
    machine.close()


def shown(screen: WindowScreen, level: int) -> None:
    screen.show(field(grey(level), 10), Deadline.after(60.0))


def test_a_run_shows_patches_there_and_the_signal_is_what_that_machine_says(far: Far) -> None:
    screen = far.screen()
    identity = screen.identify()
    assert (identity.name, identity.bits, identity.signal) == ("PAPER-1", 10, "pq")
    assert "far machine" in identity.signal_by
    shown(screen, 512)
    screen.show(Patch("window", grey(900), 10, grey(0), 10.0, transfer="pq"), Deadline.after(60.0))
    screen.close()


def wait_for(said: list[str], text: str) -> None:
    assert comes_true(lambda: any(text in one for one in said)), said


def test_the_window_is_black_and_gone_when_the_run_lets_go_and_new_for_the_next(far: Far) -> None:
    for count in (1, 2):
        screen = far.screen()
        screen.identify()
        screen.close()
        assert comes_true(lambda least=count: far.ends.exists() and far.ends.read_text().count("black") >= least)


def test_another_secret_is_turned_away_by_both(far: Far, tmp_path: Path) -> None:
    other = tmp_path / "other.token"
    make_secret(other)
    screen = far.screen(other)
    with pytest.raises(ScreenLost, match="does not have the secret"):
        screen.identify()
    screen.close()
    wait_for(far.said, "does not have the secret")


def test_a_far_machine_without_the_secret_is_not_used(tmp_path: Path) -> None:
    token = tmp_path / "t"
    make_secret(token)
    server = socket.create_server(("127.0.0.1", 0))
    heard: list[bytes] = []

    def impostor() -> None:
        connection, _ = server.accept()
        with connection:
            connection.sendall(json.dumps({"benchd_window": 1, "challenge": new_challenge()}).encode() + b"\n")
            heard.append(connection.recv(4096))
            connection.sendall(json.dumps({"proof": "0" * 64}).encode() + b"\n")
            connection.recv(4096)

    thread = threading.Thread(target=impostor)
    thread.start()
    with pytest.raises(ScreenLost, match="does not have the secret"):
        connect(f"127.0.0.1:{server.getsockname()[1]}", read_secret(token))
    thread.join(60.0)
    server.close()
    assert read_secret(token) not in heard[0]  # the secret itself never goes over the wire


def test_the_proof_of_one_side_is_no_proof_of_the_other() -> None:
    ours, theirs = new_challenge(), new_challenge()
    assert proof(b"s" * 32, "run", ours, theirs) != proof(b"s" * 32, "window", ours, theirs)
    assert proof(b"s" * 32, "run", ours, theirs) != proof(b"s" * 32, "run", theirs, ours)


def test_a_second_run_is_told_that_the_window_is_busy(far: Far, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("benchd.patch.far.RETRY_FOR_S", 0.0)
    first = far.screen()
    first.identify()
    with pytest.raises(ScreenLost, match="serves another run"):
        connect(far.address, read_secret(far.token))
    shown(first, 100)
    first.close()


def test_a_window_that_dies_is_a_screen_that_is_lost(far: Far) -> None:
    screen = far.screen()
    screen.identify()
    with pytest.raises(ScreenLost, match="link to the window"):
        shown(screen, 7)
    screen.close()
    again = far.screen()  # a new one, as a run that reopens its screen asks for
    assert again.identify().name == "PAPER-1"
    again.close()


@pytest.mark.parametrize(
    "words", [b"", b"GET / HTTP/1.1\r\n\r\n", b"{}\n", b"x" * 5000, b'{"challenge": 1, "proof": 2}\n']
)
def test_strangers_get_nothing_and_the_next_run_is_served(far: Far, words: bytes) -> None:
    host, port = split_address(far.address)
    answers = b""
    with socket.create_connection((host, port), 60.0) as stranger, contextlib.suppress(OSError):
        stranger.recv(4096)
        stranger.sendall(words)
        stranger.shutdown(socket.SHUT_WR)
        while data := stranger.recv(4096):
            answers += data
    assert b"identity" not in answers
    screen = far.screen()
    assert screen.identify().name == "PAPER-1"
    screen.close()


def test_strangers_who_say_nothing_keep_nobody_from_the_window(far: Far, monkeypatch: pytest.MonkeyPatch) -> None:
    strangers_s = 120.0  # long, so that nobody can take a slow machine for such a wait
    monkeypatch.setattr(listen, "HELLO_WITHIN_S", strangers_s)
    where = split_address(far.address)
    with contextlib.ExitStack() as strangers:
        for _ in range(MAX_GUESTS + 4):
            strangers.enter_context(socket.create_connection(where, 60.0))
        begun = Deadline.after(strangers_s)
        screen = far.screen()
        assert screen.identify().name == "PAPER-1"
        assert not begun.passed  # nobody waited for a stranger's time to run out
        shown(screen, 512)
        screen.close()
    wait_for(far.said, "it has waited longest")
    assert any("another run has the window" in one for one in far.said)


def test_a_port_that_is_taken_is_said_once(far: Far) -> None:
    with pytest.raises(InputError, match=r"\(address already in use\)"):
        Listener(far.address, b"x" * 32, ["true"], None, far.said.append)


def test_nobody_there_is_said(tmp_path: Path) -> None:
    token = tmp_path / "t"
    make_secret(token)
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    screen = WindowScreen(far_command(f"127.0.0.1:{port}", str(token)))
    with pytest.raises(ScreenLost, match="no window answers at"):
        screen.identify()
    screen.close()


# Lines under seal.


@given(st.lists(st.binary(max_size=80).filter(lambda line: b"\n" not in line), max_size=8))
def test_sealed_lines_come_out_as_they_went_in(lines: list[bytes]) -> None:
    key = session_key(b"s" * 32, new_challenge(), new_challenge())
    run, window = Seal(key, is_run=True), Seal(key, is_run=False)
    for line in lines:
        assert window.opened(run.sealed(line).rstrip(b"\n") if line else run.sealed(line)[:-1]) == line
        assert run.opened(window.sealed(line)[:-1]) == line


def test_a_changed_repeated_or_returned_line_is_not_trusted() -> None:
    key = b"k" * 32
    run, window = Seal(key, is_run=True), Seal(key, is_run=False)
    first, second = run.sealed(b"one")[:-1], run.sealed(b"two")[:-1]
    with pytest.raises(NotTrusted):
        Seal(key, is_run=False).opened(second)  # the first was left out
    assert window.opened(first) == b"one"
    with pytest.raises(NotTrusted):
        window.opened(first)  # repeated
    with pytest.raises(NotTrusted):
        Seal(key, is_run=True).opened(first)  # its own words sent back
    with pytest.raises(NotTrusted):
        Seal(key, is_run=False).opened(first[:-1] + b"x")


# Token files and addresses.


def test_a_token_file_is_its_owners_alone(tmp_path: Path) -> None:
    token = tmp_path / "deep" / "t"
    make_secret(token)
    assert stat.S_IMODE(token.stat().st_mode) == 0o600
    assert len(read_secret(token)) == 64
    os.chmod(token, 0o644)
    with pytest.raises(InputError, match="can be read by others"):
        read_secret(token)
    short = tmp_path / "short"
    short.write_text("abc")
    short.chmod(0o600)
    with pytest.raises(InputError, match="32 or more"):
        read_secret(short)
    with pytest.raises(InputError, match="can't be read"):
        read_secret(tmp_path / "none")


@pytest.mark.parametrize("address", ["far", ":1", "far:", "far:port", "far:70000"])
def test_an_address_that_is_none(address: str) -> None:
    with pytest.raises(InputError, match="write HOST:PORT"):
        split_address(address)


def test_addresses() -> None:
    assert split_address("[::1]:4850") == ("::1", 4850)
    assert split_address("far.example:0") == ("far.example", 0)
