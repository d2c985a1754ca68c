"""A display's control channel for tests: a Unix socket with somebody who answers messages with bytes."""

from __future__ import annotations

import contextlib
import select
import socket
import threading
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from unittest.mock import patch

from benchd.clock import Deadline
from benchd.instruments import ddc
from sim.ddc import DdcDisplay
from sim.faults import FaultSchedule, parse_trouble
from sim.inprocess import SceneClock, scene_of
from sim.scene import Scene

Hear = Callable[[bytes], list[bytes]]
STUCK_AFTER_S = 30.0


class Channel:
    """Answers on ``path`` until the block ends; ``heard`` is every message that came, as it came.

    Whoever waits for an answer meanwhile gets it however late this thread is woken, and hears that there is none as
    soon as this thread has heard the question and has nothing to say.
    """

    def __init__(self, path: Path, hear: Hear) -> None:
        self.path, self.heard = path, list[bytes]()
        self._sent = self._done = 0  # messages to here, and those that were answered
        self._patches = contextlib.ExitStack()
        self._hear = hear
        self._listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self._listener.bind(str(path))
        self._listener.listen(4)
        self._open: list[socket.socket] = []
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def __enter__(self) -> Channel:
        send = ddc.SocketLink._send

        def counted(link: ddc.SocketLink, data: bytes) -> None:
            send(link, data)
            self._sent += 1

        self._patches.enter_context(patch.object(ddc.SocketLink, "_send", counted))
        self._patches.enter_context(patch.object(ddc, "select", SimpleNamespace(select=self._select)))
        return self

    def _select(
        self, reading: list[socket.socket], writing: list[int], failing: list[int], wait_s: float
    ) -> tuple[list[socket.socket], list[int], list[int]]:
        """As the system's; what is waited for is the end of the answer, and not the end of a time."""
        stuck = Deadline.after(STUCK_AFTER_S if wait_s else 0.0)
        while True:
            done = self._done == self._sent
            ready = select.select(reading, writing, failing, 0.0 if done else 0.001)
            if ready[0] or done or stuck.passed:
                return ready

    def __exit__(self, *exc_info: object) -> None:
        self._patches.close()
        self.path.unlink(missing_ok=True)
        for one in (self._listener, *self._open):
            one.shutdown(socket.SHUT_RDWR) if one in self._open else None
        # Wake the listener: closing it alone does not end an accept.
        self._listener.shutdown(socket.SHUT_RDWR)
        self._thread.join(STUCK_AFTER_S)
        self._listener.close()

    def _serve(self) -> None:
        while True:
            try:
                connection, _ = self._listener.accept()
            except OSError:
                return
            self._open.append(connection)
            try:
                rest = b""
                while data := connection.recv(4096):
                    rest += data
                    while len(rest) >= 2 and len(rest) >= (size := (rest[1] & 0x7F) + 3):
                        message, rest = rest[:size], rest[size:]
                        self.heard.append(message)
                        for answer in self._hear(message):
                            connection.sendall(answer)
                        self._done += 1
            except OSError:
                pass
            self._open.remove(connection)
            connection.close()


class SimulatedDisplay(Channel):
    """The simulated office display behind its bytes, on scene time. SIMULATED."""

    def __init__(self, path: Path, *faults: str, name: str = "office-lcd") -> None:
        self.scene: Scene = scene_of(name, noise="none")
        self.clock = SceneClock(self.scene)
        self.display = DdcDisplay(self.scene, FaultSchedule(tuple(parse_trouble(fault) for fault in faults)))
        super().__init__(path, self.display.hear)
