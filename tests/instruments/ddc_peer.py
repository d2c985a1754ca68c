"""A display's control channel for tests: a Unix socket with somebody who answers messages with bytes."""

from __future__ import annotations

import socket
import threading
from collections.abc import Callable
from pathlib import Path

from sim.ddc import DdcDisplay
from sim.faults import Troubles, parse_trouble
from sim.inprocess import SceneClock, scene_of
from sim.scene import Scene

Hear = Callable[[bytes], list[bytes]]


class Channel:
    """Answers on ``path`` until the block ends; ``heard`` is every message that came, as it came."""

    def __init__(self, path: Path, hear: Hear) -> None:
        self.path, self.heard = path, list[bytes]()
        self._hear = hear
        self._listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self._listener.bind(str(path))
        self._listener.listen(4)
        self._open: list[socket.socket] = []
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def __enter__(self) -> Channel:
        return self

    def __exit__(self, *exc_info: object) -> None:
        self.path.unlink(missing_ok=True)
        for one in (self._listener, *self._open):
            one.shutdown(socket.SHUT_RDWR) if one in self._open else None
        # Wake the listener: closing it alone does not end an accept.
        self._listener.shutdown(socket.SHUT_RDWR)
        self._thread.join(5.0)
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
            except OSError:
                pass
            self._open.remove(connection)
            connection.close()


class SimulatedDisplay(Channel):
    """The simulated office display behind its bytes, on scene time. SIMULATED."""

    def __init__(self, path: Path, *faults: str, name: str = "office-lcd") -> None:
        self.scene: Scene = scene_of(name, noise="none")
        self.clock = SceneClock(self.scene)
        self.display = DdcDisplay(self.scene, Troubles(tuple(parse_trouble(fault) for fault in faults)))
        super().__init__(path, self.display.hear)
