"""Messages to the service manager: ready, what goes on, still alive, stopping (the sd_notify protocol).

"Still alive" is sent only by the thread of the sequencer, when it got on: after an event, or between the
slices of a wait whose end is known. A thread that only counts time would go on sending it while the
sequencer hangs, and then the service would not be restarted.
"""

from __future__ import annotations

import os
import socket
from collections.abc import Callable, Mapping

from benchd.clock import Deadline, StopRequest, real_now_s

SLICE_S = 5.0
STATUS_EVERY_S = 2.0


class Notifier:
    """Datagrams to the socket that the service manager names; without one, nothing happens.

    A message that can't be sent is lost: the manager's trouble must not become the run's.
    """

    def __init__(self, address: str = "", watchdog_s: float = 0.0, now_s: Callable[[], float] = real_now_s) -> None:
        self._address = f"\0{address[1:]}" if address.startswith("@") else address
        self._every_s, self._now_s = watchdog_s / 4.0, now_s
        self._alive_s = self._status_s = -1e9
        self._status = ""

    @property
    def slice_s(self) -> float:
        """The longest wait between two signs of life, so that a manager with little patience gets them in time."""
        return min(SLICE_S, self._every_s) if self._every_s > 0 else SLICE_S

    @classmethod
    def from_environment(cls, environment: Mapping[str, str] = os.environ) -> Notifier:
        """As the manager sets them: ``NOTIFY_SOCKET``, ``WATCHDOG_USEC`` and ``WATCHDOG_PID``."""
        try:
            watchdog_s = int(environment.get("WATCHDOG_USEC", "0")) / 1e6
        except ValueError:
            watchdog_s = 0.0
        if environment.get("WATCHDOG_PID", str(os.getpid())) != str(os.getpid()):
            watchdog_s = 0.0
        return cls(environment.get("NOTIFY_SOCKET", ""), watchdog_s)

    def ready(self) -> None:
        """The socket answers and the queue is read."""
        self._send("READY=1")

    def stopping(self) -> None:
        """The service is on its way out."""
        self._send("STOPPING=1")

    def status(self, text: str) -> None:
        """One line of status, which the manager shows."""
        now_s = self._now_s()
        if text != self._status and now_s - self._status_s >= STATUS_EVERY_S:
            self._status, self._status_s = text, now_s
            self._send("STATUS=" + " ".join(text.split()))

    def alive(self) -> None:
        """The sequencer got on. Sent at most four times in the manager's time."""
        now_s = self._now_s()
        if self._every_s > 0 and now_s - self._alive_s >= self._every_s:
            self._alive_s = now_s
            self._send("WATCHDOG=1")

    def _send(self, text: str) -> None:
        if not self._address:
            return
        try:
            with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as out:
                out.setblocking(False)
                out.sendto(text.encode(), self._address)
        except OSError:
            return


class WatchedStop(StopRequest):
    """A stop request whose waits send a sign of life: they are bounded, and their end is known."""

    def __init__(self, alive: Callable[[], None], slice_s: float = SLICE_S) -> None:
        super().__init__()
        self._alive, self._slice_s = alive, slice_s

    def wait(self, seconds: float) -> bool:
        """Wait at most ``seconds`` of real time; true when a stop is requested."""
        deadline = Deadline.after(seconds)
        while not super().wait(min(self._slice_s, deadline.left_s)):
            self._alive()
            if deadline.passed:
                return False
        return True
