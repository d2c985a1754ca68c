"""Time that a companion keeps: what follows when the companion goes."""

from __future__ import annotations

import json
import socket
import threading
from pathlib import Path

import pytest

from benchd.clock import CompanionClock, StopRequest
from benchd.errors import CompanionLost


def companion(path: Path, answers: int, last: bytes) -> threading.Thread:
    """Answers so many questions with 1, 2, 3 ... s, then says ``last`` and goes."""
    listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    listener.bind(str(path))
    listener.listen(1)

    def serve() -> None:
        with listener, listener.accept()[0] as line, line.makefile("rb") as questions:
            for number in range(answers):
                questions.readline()
                line.sendall(json.dumps({"now_s": number + 1.0}).encode() + b"\n")
            questions.readline()
            line.sendall(last)

    thread = threading.Thread(target=serve)
    thread.start()
    return thread


@pytest.mark.parametrize("last", [b"", b"nonsense\n", b"{}\n"])
def test_a_companion_that_goes_stops_waits_but_not_the_log(tmp_path: Path, last: bytes) -> None:
    thread = companion(tmp_path / "bench.sock", 2, last)
    clock = CompanionClock(str(tmp_path / "bench.sock"))
    try:
        assert clock.now_s() == 1.0
        clock.sleep(0.5, StopRequest())
        with pytest.raises(CompanionLost, match="resume"):
            clock.sleep(0.5, StopRequest())
        assert clock.now_s() == 2.0, "what it told last, so that the pause can still be recorded"
    finally:
        clock.close()
        thread.join()
