"""A simulated serial meter on a real pseudo-terminal: real pyserial on the other side, any dialect.

In virtual time an answer comes at once and the scene advances by the meter's integration time; in real time it
comes after the integration has really passed. The meter does one thing after another: questions that come
while it is busy wait.
"""

from __future__ import annotations

import contextlib
import os
import tty
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from benchd.profile.dialect import Dialect
from sim.faults import SENSE_MEANING, FaultSchedule, InjectedFault
from sim.scene import Scene, SimulatedReading
from sim.speech import Nameplate, Question, Speech

WRONG_SERIAL_NUMBER = "SIM-9999"
LONGEST_LINE = 4096

After = Callable[[float, Callable[[], None]], None]
"""Calls back after so many seconds of real time."""


class Port:
    """The meter's end of a pseudo-terminal, published as a symbolic link with a name that stays."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._link: Path | None = None
        self._master = self._slave = -1

    @property
    def fd(self) -> int:
        """What to wait on; -1 while unplugged."""
        return self._master

    def plug(self, name: str) -> None:
        """Appear as ``folder/name``."""
        self._master, self._slave = os.openpty()
        # Our own handle of the far end keeps the pair open while no client has the port.
        tty.setraw(self._slave)
        os.set_blocking(self._master, False)
        self._link = self._folder / name
        fresh = self._folder / f".{name}.new"
        fresh.unlink(missing_ok=True)
        fresh.symlink_to(os.ttyname(self._slave))
        os.replace(fresh, self._link)

    def unplug(self) -> None:
        """Vanish: the client that has the port open finds it gone."""
        if self._master < 0:
            return
        if self._link is not None:
            self._link.unlink(missing_ok=True)
        os.close(self._slave)
        os.close(self._master)
        self._master = self._slave = -1

    def read(self) -> bytes:
        """What has come; empty when nothing has."""
        try:
            return os.read(self._master, 4096)
        except OSError:
            return b""

    def write(self, data: bytes) -> None:
        """Send; what is not read is lost once the line's buffer is full, as on a real cable."""
        if self._master >= 0:
            with contextlib.suppress(OSError):
                os.write(self._master, data)


class PtyMeter:
    """The meter: reads lines, looks at the scene, answers. ``after`` runs its timers."""

    def __init__(
        self,
        scene: Scene,
        dialect: Dialect,
        folder: Path,
        *,
        virtual: bool,
        after: After,
        nameplate: Nameplate | None = None,
        troubles: FaultSchedule | None = None,
        on_plug: Callable[[], None] = lambda: None,
    ) -> None:
        self._scene, self._virtual, self._after, self._on_plug = scene, virtual, after, on_plug
        self._speech = Speech(dialect, nameplate or Nameplate())
        self._troubles = troubles or FaultSchedule()
        self._end_heard = dialect.line.end_sent.encode("ascii")
        self._end_said = dialect.line.end_answered.encode("ascii")
        self._port = Port(folder)
        self._heard = b""
        self._busy = self._stuck = False
        self._integration_s: float | None = None
        self._frozen = False
        self._last: SimulatedReading | None = None
        self._plugged = 0  # how often; a timer of an earlier plugging must not answer
        self._plug()

    @property
    def fd(self) -> int:
        """What to wait on; -1 while unplugged."""
        return self._port.fd

    def hear(self) -> None:
        """Take what has come on the line and answer what can be answered."""
        self._heard += self._port.read()
        self._work()

    def close(self) -> None:
        """Vanish for good."""
        self._port.unplug()

    def thaw(self) -> None:
        """The sensor measures again, if it did not."""
        self._frozen = False

    # one thing after another

    def _work(self) -> None:
        while not self._busy and self._end_heard in self._heard:
            line, _, self._heard = self._heard.partition(self._end_heard)
            self._handle(line)
        if len(self._heard) > LONGEST_LINE:
            self._heard = b""  # noise without an end

    def _handle(self, line: bytes) -> None:
        question = self._speech.understand(line.decode("ascii", "replace"))
        if question is None or self._stuck:
            return
        if self._speech.dialect.line.echo:
            self._port.write(line + self._end_heard)
        trouble = self._troubles.due(question.kind, self._scene.now_s)
        if trouble is not None and self._breaks_before(trouble):
            return
        if question.kind == "reading":
            self._read(question, trouble)
        elif question.kind == "identify":
            self._say(self._speech.identity(), trouble)
        else:
            if question.kind == "set_integration":
                self._integration_s = question.integration_s
            answer = self._speech.acknowledge(question)
            if answer is not None:
                self._say(answer, trouble)

    def _breaks_before(self, trouble: InjectedFault) -> bool:
        """Troubles that change the meter itself; true when it is silent."""
        if trouble.what == "stuck":
            self._stuck = True
        elif trouble.what == "unplug":
            self._unplug_for(trouble.seconds)
        elif trouble.what == "wrong_meter":
            plate = self._speech.nameplate
            self._speech.nameplate = replace(plate, serial_number=WRONG_SERIAL_NUMBER)
        return trouble.what in ("stuck", "unplug")

    def _read(self, question: Question, trouble: InjectedFault | None) -> None:
        asked_s = question.integration_s if question.tells_time else self._integration_s or question.integration_s
        if self._virtual:
            self._tell(self._scene.take(asked_s), trouble)
            return
        start_s = self._scene.now_s
        duration_s = self._scene.choose_integration_s() if asked_s is None else asked_s
        self._later(duration_s, lambda: self._tell(self._scene.measure(start_s, duration_s), trouble))

    def _tell(self, taken: SimulatedReading, trouble: InjectedFault | None) -> None:
        unit, what = None, trouble.what if trouble is not None else ""
        if what in ("frozen", "thawed"):
            self._frozen = what == "frozen"
        if self._frozen and self._last is not None:
            taken = self._last
        elif what == "under":
            taken = SimulatedReading((0.0, 0.0, 0.0), "under", taken.integration_s)
        elif what == "over":
            ceiling = self._scene.sensor.ceiling_cd_m2
            taken = SimulatedReading((ceiling, ceiling, ceiling), "over", taken.integration_s)
        self._last = taken
        if trouble is not None and trouble.what == "wrong_unit":
            unit = self._speech.other_unit()
            if not self._speech.tells_unit:
                self._speech.unit = unit
        self._say(self._speech.reading(taken, unit), trouble)

    def _say(self, answer: str, trouble: InjectedFault | None) -> None:
        data = answer.encode("ascii", "replace") + self._end_said
        what = trouble.what if trouble is not None else ""
        if trouble is None or what in ("wrong_unit", "wrong_meter", *SENSE_MEANING):
            self._port.write(data)
        elif what == "half":
            self._port.write(data[: max(1, (len(data) - len(self._end_said)) // 2)])
        elif what == "garbled":
            self._port.write(bytes(0x21 + (byte * 7 + 13) % 94 for byte in data[:-1]) + self._end_said)
        elif what == "duplicate":
            self._port.write(data + data)
        elif what == "error":
            self._port.write(self._speech.error(trouble.value).encode("ascii", "replace") + self._end_said)
        elif what == "late":
            self._later(trouble.seconds, lambda: self._port.write(data))

    def _later(self, seconds: float, action: Callable[[], None]) -> None:
        """Busy for so long, then ``action``, then the questions that have waited."""
        self._busy = True
        plugged = self._plugged

        def wake() -> None:
            if plugged == self._plugged and self._port.fd >= 0:
                self._busy = False
                action()
                self._work()

        self._after(seconds, wake)

    # the cable

    def _plug(self) -> None:
        self._plugged += 1
        self._port.plug("meter" if self._plugged == 1 else f"meter-{self._plugged}")
        self._heard = b""
        self._busy = self._stuck = False
        self._integration_s = None
        self._on_plug()

    def _unplug_for(self, seconds: float) -> None:
        self._port.unplug()
        self._on_plug()
        self._after(seconds, self._plug)
