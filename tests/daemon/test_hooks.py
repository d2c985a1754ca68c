"""Hooks: told as JSON, ended in time, only on this machine, and never in the way of a run."""

from __future__ import annotations

import json
import re
import socket
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from benchd.clock import real_now_s
from benchd.daemon.hooks import Hooks, message
from benchd.daemon.job_control import Job, JobState
from benchd.errors import InputError
from tests.daemon.scene import House, quick

MESSAGE = {"event": "paused", "job": "j1", "why": "the meter's cable – ²"}


def python(program: str) -> list[str]:
    return [sys.executable, "-c", program]


def test_a_command_gets_the_message_on_its_stdin(tmp_path: Path) -> None:
    path = tmp_path / "told.json"
    hooks = Hooks(python(f"import sys; open({str(path)!r}, 'wb').write(sys.stdin.buffer.read())"))
    hooks.call(MESSAGE)
    hooks.close()
    assert json.loads(path.read_text()) == MESSAGE


@pytest.mark.parametrize(
    ("command", "said"),
    [
        (["/no/such/program"], "can't be started"),
        (python("import sys; sys.exit('no mail today')"), "exit status 1: no mail today"),
        (python("import time; time.sleep(60)"), "within 1 s"),
        (["sh", "-c", "sleep 61 & wait"], "within 1 s"),
        (python("import os; os.close(0)"), ""),
    ],
)
def test_a_command_that_fails_is_logged_and_nothing_else(
    caplog: pytest.LogCaptureFixture, command: list[str], said: str
) -> None:
    hangs = said == "within 1 s"
    began_s = real_now_s()
    hooks = Hooks(command, within_s=1.0 if hangs else 60.0)
    hooks.call(MESSAGE)
    hooks.close()
    assert real_now_s() - began_s < 30.0
    told = " ".join(str(getattr(record, "facts", "")) for record in caplog.records)
    assert said in told
    assert bool(said) == bool(caplog.records)


def test_too_many_messages_are_left_out_rather_than_waited_for() -> None:
    hooks = Hooks(python("import time; time.sleep(60)"), within_s=0.2)
    began_s = real_now_s()
    for _ in range(500):
        hooks.call(MESSAGE)
    assert real_now_s() - began_s < 30.0, "waited for, they would take 100 s"
    hooks.close()


@contextmanager
def web(answer: Callable[[socket.socket], None]) -> Iterator[tuple[int, list[bytes]]]:
    """A listener on loopback that notes each request and lets ``answer`` do the rest."""
    heard: list[bytes] = []
    with socket.create_server(("127.0.0.1", 0)) as server:

        def serve() -> None:
            while True:
                try:
                    connection, _ = server.accept()
                except OSError:
                    return
                with connection:
                    connection.settimeout(60)
                    text = b""
                    while b"\r\n\r\n" not in text or not text.endswith(b"}"):
                        more = connection.recv(65536)
                        assert more, f"only {text!r} came"
                        text += more
                    heard.append(text)
                    answer(connection)

        thread = threading.Thread(target=serve, daemon=True)
        thread.start()
        yield server.getsockname()[1], heard
        server.shutdown(socket.SHUT_RDWR)
    thread.join(60)


def test_an_address_of_this_machine_gets_a_post() -> None:
    with web(lambda link: link.sendall(b"HTTP/1.1 204 No Content\r\n\r\n")) as (port, heard):
        hooks = Hooks(address=f"http://localhost:{port}/bench?x=1")
        hooks.call(MESSAGE)
        hooks.close()
    head, _, body = heard[0].partition(b"\r\n\r\n")
    assert head.startswith(b"POST /bench?x=1 HTTP/1.1\r\nHost: 127.0.0.1:")
    assert f"Content-Length: {len(body)}".encode() in head
    assert json.loads(body) == MESSAGE


def drip(link: socket.socket) -> None:
    """Answers byte by byte, for ever."""
    try:
        while True:
            link.sendall(b"H")
            threading.Event().wait(0.05)
    except OSError:
        return


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        (lambda link: link.sendall(b"HTTP/1.1 302 Found\r\nLocation: http://example.org/\r\n\r\n"), "status 302"),
        (lambda link: link.sendall(b"HTTP/1.1 500 No\r\n\r\n"), "status 500"),
        (lambda link: link.sendall(b"220 hello\r\n"), "not HTTP"),
        (lambda link: None, "not HTTP"),
        (drip, "timed out|not HTTP"),
    ],
)
def test_an_address_that_fails_is_logged_and_nothing_else(
    caplog: pytest.LogCaptureFixture, answer: Callable[[socket.socket], None], said: str
) -> None:
    with web(answer) as (port, heard):
        hooks = Hooks(address=f"http://127.0.0.1:{port}/", within_s=0.5 if answer is drip else 60.0)
        hooks.call(MESSAGE)
        hooks.close()
    assert len(heard) == 1, "no other address is followed"
    assert re.search(said, " ".join(str(getattr(record, "facts", "")) for record in caplog.records))


def test_nobody_at_the_address_is_logged(caplog: pytest.LogCaptureFixture) -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
    hooks = Hooks(address=f"http://127.0.0.1:{port}/")
    hooks.call(MESSAGE)
    hooks.close()
    assert "did not answer" in str(getattr(caplog.records[0], "facts", ""))


@pytest.mark.parametrize(
    "address",
    [
        "http://example.org/",
        "http://192.168.1.7/",
        "http://localhost.example.org/",
        "http://127.0.0.1@example.org/",
        "http://someone@127.0.0.1/",
        "https://127.0.0.1/",
        "file:///etc/passwd",
        "http://127.0.0.1:99999/",
        "http://127.0.0.1/\r\nX: y",
        "127.0.0.1",
        "http://[::1",
    ],
)
def test_an_address_elsewhere_is_refused(address: str) -> None:
    with pytest.raises(InputError, match="not one of this machine"):
        Hooks(address=address)


def test_a_hook_that_hangs_does_not_hold_up_the_next_job(tmp_path: Path) -> None:
    house = House(tmp_path)
    ends = tmp_path / "ends"
    program = f"import pathlib, time\nwhile not pathlib.Path({str(ends)!r}).exists(): time.sleep(0.02)"
    house.service._hooks = Hooks(python(program), within_s=60.0)
    house.service.submit(quick())
    house.service.submit(quick())
    with house:
        house.wait_for(j1="complete", j2="complete")
        ends.touch()


def test_the_message_says_simulated_in_its_sentence() -> None:
    job = Job("j1", quick(sample="plover-27/1"), JobState.PAUSED, "2026-03-02T18:00:00Z", why="no answer")
    told = message("paused", "sim-office", job, job.why, simulated=True)
    assert told["text"] == "SIMULATED job j1 (plover-27/1): paused: no answer"
    assert json.loads(json.dumps(told)) == told
