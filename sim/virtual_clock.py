"""The scene's virtual time in a file: eight bytes next to the socket, a double in this machine's byte order."""

from __future__ import annotations

import mmap
from pathlib import Path

from sim.scene import Scene

ENDING = ".now"
"""After the name of the socket; `benchd.clock.CompanionClock` looks there."""


class VirtualTimeFile:
    """``FOLDER/bench.sock.now``: seconds of scene time as one double in native order, right before every answer."""

    def __init__(self, socket: Path, scene: Scene) -> None:
        self._path = socket.with_name(socket.name + ENDING)
        self._path.unlink(missing_ok=True)  # so that no reader of an earlier one sees it shrink
        self._path.write_bytes(bytes(8))
        with self._path.open("r+b") as file:
            self._map = mmap.mmap(file.fileno(), 8)
        self._seconds = memoryview(self._map).cast("d")
        self.tell(scene.now_s)
        scene.on_time = self.tell

    def tell(self, now_s: float) -> None:
        """It is ``now_s``. One store of eight bytes: no reader sees half of it."""
        self._seconds[0] = now_s

    def close(self) -> None:
        """Take the file away; who still maps it keeps the last time."""
        self._path.unlink(missing_ok=True)
