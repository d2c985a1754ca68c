"""The only user of time. Bench time is for waits and the log; deadlines on I/O are always real time.

Bench time may be virtual (a simulated bench skips its waits); then ``Clock.virtual`` is true and the
log says so. A pseudo-terminal can't follow virtual time, so a wait for an *answer* is always real.
"""

from __future__ import annotations

import json
import os
import select
import time
from datetime import UTC, date, datetime, timedelta
from datetime import time as time_of_day
from typing import NamedTuple, Protocol

from benchd.errors import CompanionLost


class Deadline(NamedTuple):
    """A moment of real (monotonic) time after which an answer is no longer awaited."""

    at_s: float

    @classmethod
    def after(cls, seconds: float) -> Deadline:
        """The moment ``seconds`` from now."""
        return cls(time.monotonic() + seconds)

    @property
    def left_s(self) -> float:
        """Seconds left, never negative."""
        return max(0.0, self.at_s - time.monotonic())

    @property
    def passed(self) -> bool:
        """True once the moment is over."""
        return time.monotonic() >= self.at_s


class StopRequest:
    """Set once, by a signal or by another thread; every wait watches it.

    A pipe and no lock: a signal handler that waited for a lock could wait for the very thread that it
    interrupted.
    """

    def __init__(self) -> None:
        self.reason = ""
        self._asked = False
        self._pipe: tuple[int, int] | None = None  # made by the first wait

    def set(self, reason: str) -> None:
        """Request a pause of the run; the first reason is kept."""
        if not self._asked:
            self.reason = reason
            self._asked = True
            if self._pipe is not None:
                os.write(self._pipe[1], b"!")

    @property
    def asked(self) -> bool:
        """True once a stop was requested."""
        return self._asked

    def wait(self, seconds: float) -> bool:
        """Wait at most ``seconds`` of real time; true when a stop is requested."""
        if self._pipe is None:
            self._pipe = os.pipe()
        if not self._asked:  # a request after this shows on the pipe
            select.select([self._pipe[0]], [], [], max(0.0, seconds))
        return self._asked

    def __del__(self) -> None:
        if self._pipe is not None:
            for descriptor in self._pipe:
                os.close(descriptor)


class Clock(Protocol):
    """Bench time."""

    virtual: bool

    def now_s(self) -> float:
        """Seconds of bench time since an arbitrary start; never goes back."""

    def wall(self) -> str:
        """A wall-clock label, ISO 8601 in UTC; a label only, never used in arithmetic."""
        return wall_label()

    def sleep(self, seconds: float, stop: StopRequest) -> None:
        """Let ``seconds`` of bench time pass; returns early when ``stop`` is set."""


def wall_label() -> str:
    """Now, as ISO 8601 in UTC with milliseconds."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def wall_s() -> float:
    """Now as seconds since 1970 UTC. It may be stepped: an earlier value may be wrong by then."""
    return time.time()


def moment_s(text: str) -> float:
    """``2026-03-02T18:00:00Z`` as seconds since 1970 UTC. Raises ValueError without an offset or a Z."""
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None:
        raise ValueError("a moment needs its offset from UTC, or Z")
    return moment.timestamp()


def is_moment(text: str) -> bool:
    """Is it a date, with a time of day or without, or a year or a month of one, in ISO 8601?"""
    try:
        datetime.fromisoformat(text + "2000-01-01"[len(text) :] if len(text) in (4, 7) else text)
    except ValueError:
        return False
    return True


def seconds_since(label: str) -> float:
    """Seconds of wall-clock time since ``label`` was made; 0 where the label can't be read or lies ahead.

    Good for one thing only: to detect a long gap between two sessions. Wall clocks are set and step.
    """
    try:
        return max(0.0, (datetime.now(UTC) - datetime.fromisoformat(label)).total_seconds())
    except ValueError:
        return 0.0


def moment_from(text: str) -> str:
    """A moment with its offset: ``18:00`` is the next one of local time, a moment without offset is local.

    Raises ValueError.
    """
    if len(text) == 5:
        now = datetime.now().astimezone()
        at = time_of_day.fromisoformat(text)
        moment = datetime.combine(now.date(), at).astimezone()
        if moment <= now:
            moment = datetime.combine(now.date() + timedelta(days=1), at).astimezone()
    else:
        moment = datetime.fromisoformat(text).astimezone()
    return moment.isoformat(timespec="seconds")


def day_after(day: str, days: int) -> str:
    """``2026-03-02`` and so many days more."""
    return (date.fromisoformat(day) + timedelta(days=days)).isoformat()


def file_stamp() -> str:
    """Now in UTC, fit for a file name: ``2026-03-02T181203``."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H%M%S")


def real_now_s() -> float:
    """Real monotonic seconds, for measuring the software itself."""
    return time.monotonic()


class RealClock(Clock):
    """Time as it passes."""

    virtual = False

    def now_s(self) -> float:
        return time.monotonic()

    def sleep(self, seconds: float, stop: StopRequest) -> None:
        if seconds > 0:
            stop.wait(seconds)


class VirtualClock(Clock):
    """Time that passes only in `sleep`, or is set: for tests and for the replay of a log."""

    virtual = True

    def __init__(self, start_s: float = 0.0) -> None:
        self._now_s = start_s

    def now_s(self) -> float:
        return self._now_s

    def sleep(self, seconds: float, stop: StopRequest) -> None:
        if seconds > 0 and not stop.asked:
            self._now_s += seconds

    def set(self, now_s: float) -> None:
        """It is ``now_s``, which may lie before: each session of a log has its own time."""
        self._now_s = now_s


def _shared_seconds(path: str) -> memoryview[float] | None:
    """The double in the file ``path``, as it changes; None without such a file."""
    import mmap  # for virtual time only

    try:
        with open(path, "rb") as file:
            return memoryview(mmap.mmap(file.fileno(), 8, access=mmap.ACCESS_READ)).cast("d")
    except (OSError, ValueError):
        return None


class CompanionClock(Clock):
    """Virtual time kept by a companion process, read over a Unix socket as JSON lines.

    To ``{"op": "now"}`` or ``{"op": "advance", "s": 0.6}`` the companion answers ``{"now_s": 12.5}``.
    The simulated scene is such a companion: it advances its own time while its meter integrates.

    A companion may also keep ``now_s`` in a file beside its socket, named as that with ``.now`` behind it: eight
    bytes, one double in the machine's byte order, updated before every answer of the companion. The time is then read
    from it, since a run needs it several times in each step; without the file it is requested over the socket.
    """

    virtual = True

    def __init__(self, path: str) -> None:
        import socket  # few runs need it

        self._shared = _shared_seconds(f"{path}.now")
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self._socket.settimeout(10.0)
        self._socket.connect(path)
        self._lines = self._socket.makefile("rb")
        self._now_s = 0.0

    def _ask(self, question: dict[str, object]) -> float:
        try:
            self._socket.sendall(json.dumps(question).encode() + b"\n")
            self._now_s = float(json.loads(self._lines.readline())["now_s"])
        except (OSError, ValueError, KeyError, TypeError):
            raise CompanionLost(
                "the companion that keeps the bench's time does not answer any more; start it again by a resume"
            ) from None
        return self._now_s

    def now_s(self) -> float:
        """The companion's time; once it has ended, its last time: what follows must still go into the log."""
        if self._shared is not None:
            return float(self._shared[0])
        try:
            return self._ask({"op": "now"})
        except CompanionLost:
            return self._now_s

    def sleep(self, seconds: float, stop: StopRequest) -> None:
        """Raises `CompanionLost`."""
        if seconds > 0 and not stop.asked:
            self._ask({"op": "advance", "s": seconds})

    def close(self) -> None:
        """Let go of the companion."""
        if self._shared is not None:
            self._now_s, self._shared = self._shared[0], None
        self._lines.close()
        self._socket.close()
