"""Starts the simulated bench for a test, and speaks to its socket and its port."""

from __future__ import annotations

import contextlib
import json
import os
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import serial

from tests.polling import comes_true

ROOT = Path(__file__).resolve().parent.parent.parent
METERS = ROOT / "profiles" / "meters"
# A pseudo-terminal carries whole bytes: asked for 7 bits and parity, it refuses whenever nothing else changes.
PORTS: dict[str, dict[str, Any]] = {
    "terse-line": {"baudrate": 9600},
    "plain-488": {"baudrate": 115200, "stopbits": 2, "rtscts": True},
}
IDENTIFY = {"terse-line": b"ID?\r", "plain-488": b"*IDN?\n"}
ANSWERS_WITHIN_S = 60.0
"""What is awaited comes, and is not waited for longer than that takes; so this may be long."""
READ = {"terse-line": b"M0\r", "plain-488": b"READ:XYZ?;:SYST:ERR?\n"}


class Companion:
    """A running simulated bench."""

    def __init__(self, process: subprocess.Popen[bytes], folder: Path, ready: dict[str, Any]) -> None:
        self.process, self.folder, self.ready = process, folder, ready
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self._socket.settimeout(ANSWERS_WITHIN_S)
        self._socket.connect(str(folder / "bench.sock"))
        self._lines = self._socket.makefile("rb")

    def ask(self, op: str, **fields: Any) -> dict[str, Any]:
        return self.ask_line(json.dumps({"op": op, **fields}).encode())

    def ask_line(self, line: bytes) -> dict[str, Any]:
        self._socket.sendall(line + b"\n")
        answer = json.loads(self._lines.readline())
        assert isinstance(answer, dict)
        return answer

    def show(self, red: int, green: int, blue: int) -> None:
        rects = [[0, 0, 1920, 1080, red, green, blue]]
        assert self.ask("patch", width=1920, height=1080, bits=8, rects=rects)["ok"]

    def port(self, dialect: str, name: str = "meter", timeout_s: float = ANSWERS_WITHIN_S) -> serial.Serial:
        return serial.Serial(
            str(self.folder / name), timeout=timeout_s, write_timeout=ANSWERS_WITHIN_S, exclusive=True, **PORTS[dialect]
        )

    def wait_for(self, name: str, within_s: float = ANSWERS_WITHIN_S) -> None:
        assert comes_true((self.folder / name).exists, within_s), f"{name} did not appear"

    def let_go(self) -> None:
        self._lines.close()
        self._socket.close()


@contextlib.contextmanager
def companion(
    folder: Path, dialect: str, *extra: str, display: str = "office-lcd", environment: dict[str, str] | None = None
) -> Iterator[Companion]:
    """A simulated bench for the length of a test; it must end by itself and leave nothing behind."""
    command = [sys.executable, "-m", "sim.bench", "--display", display]
    command += ["--dialect", str(METERS / f"{dialect}.yaml"), "--folder", str(folder), *extra]
    process = subprocess.Popen(
        command, cwd=ROOT, env={**os.environ, **(environment or {})}, stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    assert process.stdin is not None
    assert process.stdout is not None
    try:
        bench = Companion(process, folder, json.loads(process.stdout.readline()))
        try:
            yield bench
        finally:
            bench.let_go()
        process.stdin.close()
        assert process.wait(timeout=ANSWERS_WITHIN_S) == 0
        assert list(folder.glob("*")) == []
    finally:
        for stream in (process.stdin, process.stdout):
            with contextlib.suppress(OSError):
                stream.close()
        if process.poll() is None:
            process.kill()
            process.wait()
