"""The other end of a serial port for tests, and the time on its line.

`Peer` hands every line that arrives to a function, which says what to send back and when. The pseudo-terminal is
real, and so are pyserial and the driver on it. Time is not: while a peer is there, the deadlines of benchd follow
`LineTime`, which passes only while somebody waits on a line, and then at once. So an answer that is due before a
deadline comes before it however loaded the machine is, silence costs nothing, and every story is told alike.
"""

from __future__ import annotations

import contextlib
import fcntl
import heapq
import os
import select
import struct
import termios
import threading
import time
import tty
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from types import SimpleNamespace
from unittest.mock import patch

import serial

import benchd.clock
from benchd.instruments import wire

Answers = Iterable[tuple[float, bytes]]
"""(seconds after the question, bytes)"""

STUCK_AFTER_S = 30.0
"""Of real time: bytes on a pseudo-terminal do come, sooner or later."""
QUEUE = 4095
"""Bytes that a terminal holds for whoever has it open; the rest waits behind them."""


class LineTime:
    """Seconds on the lines of all peers; a wait on a line lets it pass up to what comes next, or up to its end."""

    def __init__(self) -> None:
        self.now_s = 1000.0
        self.peers: list[Peer] = []
        self._patches = contextlib.ExitStack()

    def add(self, peer: Peer) -> None:
        """The first peer takes over the time."""
        if not self.peers:
            clock = SimpleNamespace(monotonic=lambda: self.now_s, time=time.time)
            for where, name, instead in (
                (benchd.clock, "time", clock),
                (wire, "select", SimpleNamespace(select=self.select)),
                (wire, "_WRITE_WITHIN_S", STUCK_AFTER_S),  # which the library counts in real time
                (wire.Wire, "send", self._counting(wire.Wire.send)),
                (serial.Serial, "read", self._taking(serial.Serial.read)),
                (serial.Serial, "_reset_input_buffer", self._forgetting(serial.Serial._reset_input_buffer)),
            ):
                self._patches.enter_context(patch.object(where, name, instead))
        self.peers.append(peer)

    def remove(self, peer: Peer) -> None:
        """With the last peer goes the time."""
        self.peers.remove(peer)
        if not self.peers:
            self._patches.close()

    def let_pass(self, seconds: float) -> None:
        """Let time pass on the lines while nobody listens; what is due meanwhile is sent."""
        self.select([], [], [], seconds)

    def select(
        self, reading: list[int], writing: list[int], failing: list[int], wait_s: float
    ) -> tuple[list[int], list[int], list[int]]:
        """As the system's, on the time of the lines."""
        end_s = self.now_s + wait_s
        while True:
            for peer in list(self.peers):
                peer.hear()
            for peer in list(self.peers):
                peer.say_what_is_due()
            ready = select.select(reading, writing, failing, 0.0)
            if any(ready):
                return ready
            due_s = min((peer.next_due_s for peer in self.peers), default=end_s)
            if due_s > end_s:
                self.now_s = end_s
                return [], [], []
            self.now_s = max(self.now_s, due_s)

    def _at(self, port: str) -> Peer | None:
        name = os.path.realpath(port)
        return next((peer for peer in self.peers if peer.plugged and peer.tty == name), None)

    def _counting(self, send: Callable[[wire.Wire, bytes], None]) -> Callable[[wire.Wire, bytes], None]:
        def counted(line: wire.Wire, data: bytes) -> None:
            send(line, data)
            if (peer := self._at(line.port)) is not None:
                peer.on_its_way += len(data)

        return counted

    def _taking(self, read: Callable[..., bytes]) -> Callable[..., bytes]:
        def taken(port: serial.Serial, size: int = 1) -> bytes:
            data = read(port, size)
            if (peer := self._at(str(port.port))) is not None:
                peer.unread = max(0, peer.unread - len(data))
                peer.arrive()
            return data

        return taken

    def _forgetting(self, reset: Callable[..., None]) -> Callable[..., None]:
        def forgotten(port: serial.Serial) -> None:
            reset(port)
            if (peer := self._at(str(port.port))) is not None:
                peer.unread = 0

        return forgotten


LINE_TIME = LineTime()


class Peer:
    """Answers on a pseudo-terminal until the block ends. ``port`` is its name for whoever opens it."""

    def __init__(self, answer: Callable[[bytes], Answers], line_end: bytes, link: Path | None = None) -> None:
        self._answer, self._line_end = answer, line_end
        self._due: list[tuple[float, int, bytes]] = []
        self._count = 0
        self._heard = b""
        self.on_its_way = 0  # bytes that were sent to it and have not come yet
        self.unread = 0  # bytes that it sent and nobody has read
        self._master, self._slave = os.openpty()
        tty.setraw(self._slave)
        self.port = self.tty = os.ttyname(self._slave)
        self._link = link
        if link is not None:
            link.unlink(missing_ok=True)
            link.symlink_to(self.port)
            self.port = str(link)
        self._ended = self._elsewhere = False
        LINE_TIME.add(self)

    def __enter__(self) -> Peer:
        return self

    def __exit__(self, *exc_info: object) -> None:
        self.unplug()
        LINE_TIME.remove(self)

    def say(self, data: bytes, after_s: float = 0.0) -> None:
        """Send without being asked."""
        self._count += 1
        heapq.heappush(self._due, (LINE_TIME.now_s + after_s, self._count, data))

    def unplug(self) -> None:
        """Take the port away."""
        if not self._ended:
            self._ended = True
            self._due.clear()
            # The system may give the name of the terminal to the next one at once.
            if self._link is not None and self._link.is_symlink() and os.readlink(self._link) == self.tty:
                self._link.unlink()
            for descriptor in (self._slave, self._master):
                os.close(descriptor)

    @property
    def plugged(self) -> bool:
        """Until the port was taken away; another peer may then get its name."""
        return not self._ended

    @property
    def next_due_s(self) -> float:
        """When it will say something again, as far as it knows."""
        return self._due[0][0] if self._due else float("inf")

    def hear(self) -> None:
        """Take every byte that was sent to it, and decide what to answer."""
        while not self._ended and (self.on_its_way > 0 or select.select([self._master], [], [], 0.0)[0]):
            assert select.select([self._master], [], [], STUCK_AFTER_S)[0], "what was sent does not come"
            came = os.read(self._master, 4096)
            self.on_its_way = max(0, self.on_its_way - len(came))
            self._heard += came
            while self._line_end in self._heard:
                line, _, self._heard = self._heard.partition(self._line_end)
                for after_s, data in self._answer(line):
                    self.say(data, after_s)

    def say_what_is_due(self) -> None:
        """Send what is due now, and see that it comes."""
        while not self._ended and self.next_due_s <= LINE_TIME.now_s:
            _, _, data = heapq.heappop(self._due)
            os.write(self._master, data)
            if not self._elsewhere:
                self.unread += len(data)
                self.arrive()

    def arrive(self) -> None:
        """Wait until all that was sent can be read: the system hands it over in its own time."""
        until_s = time.monotonic() + STUCK_AFTER_S
        while not self._ended and self._readable() < min(self.unread, QUEUE):
            assert time.monotonic() < until_s, "what was said does not come"
            time.sleep(0.0001)

    def _readable(self) -> int:
        found: int = struct.unpack("i", fcntl.ioctl(self._slave, termios.FIONREAD, b"\0\0\0\0"))[0]
        return found

    @contextlib.contextmanager
    def serving(self) -> Iterator[None]:
        """It answers another process meanwhile, which has its own time, and does not tell what it has read."""
        ended = threading.Event()
        self._elsewhere = True

        def serve() -> None:
            while not ended.is_set():
                if select.select([self._master], [], [], 0.01)[0]:
                    LINE_TIME.select([], [], [], 0.0)

        thread = threading.Thread(target=serve)
        thread.start()
        try:
            yield
        finally:
            ended.set()
            thread.join()
            self._elsewhere = False
