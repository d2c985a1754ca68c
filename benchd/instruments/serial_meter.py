"""Any meter with a protocol of ASCII lines over a serial port, described by a dialect; and how it is found."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from glob import glob

from benchd.clock import Deadline, real_now_s
from benchd.errors import MeterBusy, MeterError, MeterLost, MeterRefused, WrongMeter
from benchd.instruments.answers import understand
from benchd.instruments.conversation import Conversation, Groups
from benchd.instruments.hold import Hold
from benchd.instruments.meter import MeterIdentity, Reading, ReadRequest
from benchd.instruments.wire import Wire, ports
from benchd.profile.dialect import Dialect, fill


def open_wire(dialect: Dialect, port: str) -> Wire:
    """The port, set as in the dialect."""
    end = dialect.line.end_answered.encode("ascii")
    return Wire(port, dialect.port, line_end=end, max_bytes=dialect.line.max_bytes)


class SerialMeter:
    """One opened meter; the constructor opens, starts up, identifies and locks it. Raises a `MeterError`.

    ``private``: no other process can reach this port (it lies in the private folder of a run), so that its
    identity needs no lock; two simulated benches may then carry the same nameplate at the same time.
    ``now_s``: the bench's time, which a reading's ``elapsed_s`` is measured in.
    """

    def __init__(
        self,
        dialect: Dialect,
        port: str,
        *,
        simulated: bool = False,
        private: bool = False,
        now_s: Callable[[], float] = real_now_s,
    ) -> None:
        self._dialect, self._now_s, self._simulated = dialect, now_s, simulated
        self._set_integration_s: float | None = None
        self._integration_known = False
        self._hold: Hold | None = None
        self._wire = open_wire(dialect, port)
        try:
            self._talk = Conversation(dialect, self._wire)
            self.identity = self._who(self._talk.get_ready() or self._talk.who())
            if not private:
                self._hold = Hold(self.identity.model, self.identity.serial_number)
        except BaseException:
            self.close()
            raise

    def identify(self) -> MeterIdentity:
        """Identify it again. Raises `WrongMeter` when another meter answers than the one that was opened."""
        return self._same(self._talk.who())

    def read(self, request: ReadRequest, deadline: Deadline) -> Reading:
        """One reading; gives up when by the dialect no answer will come, and at ``deadline`` in any case."""
        measure = self._dialect.measure
        asked_s = self._allowed(request.integration_s)
        values = self._dialect.integration_values(asked_s)
        if (groups := self._talk.get_ready(deadline)) is not None:
            self._same(groups)
            self._integration_known = False
        self._set_integration(asked_s, values, deadline)
        question = fill(measure.send, values)
        within_s = self._dialect.answer_within_s(asked_s)
        started_s = self._now_s()
        answer = self._talk.ask(question, within_s, deadline)
        elapsed_s = self._now_s() - started_s
        with self._talk.bytes_text():
            understood = understand(self._dialect, question, answer)
        if (groups := self._talk.confirm(question, answer, within_s, deadline)) is not None:
            self._same(groups)
        integration_s = understood.integration_s if understood.integration_s is not None else asked_s
        return Reading(understood.xyz, understood.status, integration_s, answer, elapsed_s)

    def close(self) -> None:
        self._wire.close()
        if self._hold is not None:
            self._hold.release()

    def _allowed(self, integration_s: float | None) -> float | None:
        limits = self._dialect.integration
        # A meter that takes no integration time decides by itself; then the log holds no integration time of the plan.
        if integration_s is None or limits is None:
            return None
        if not limits.low_s <= integration_s <= limits.high_s:
            raise MeterRefused(
                f"an integration time of {integration_s:g} s is requested, but dialect {self._dialect.meter} allows "
                f"{limits.low_s:g} to {limits.high_s:g} s; change it in the plan"
            )
        return integration_s

    def _set_integration(self, integration_s: float | None, values: dict[str, str | float], deadline: Deadline) -> None:
        setting = self._dialect.measure.set_integration
        if setting is None or (self._integration_known and self._set_integration_s == integration_s):
            return
        self._integration_known = False
        self._talk.set(setting, values, deadline)
        self._set_integration_s, self._integration_known = integration_s, True

    def _who(self, groups: Groups) -> MeterIdentity:
        low, high = self._dialect.range_cd_m2 or (None, None)
        return MeterIdentity(
            model=(groups.get("model") or "").strip(),
            serial_number=(groups.get("serial") or "").strip(),
            firmware=(groups.get("firmware") or "").strip(),
            driver=f"serial:{self._dialect.meter}",
            address=self._wire.port,
            simulated=self._simulated,
            floor_cd_m2=low,
            ceiling_cd_m2=high,
            calibrated=groups.get("calibrated"),
        )

    def _same(self, groups: Groups) -> MeterIdentity:
        found = self._who(groups)
        if not found.same_meter(self.identity):
            raise WrongMeter(
                f"meter {found.model} {found.serial_number} answers at {self._wire.port} where "
                f"{self.identity.model} {self.identity.serial_number} was opened; connect that one again and resume"
            )
        return found


def open_serial_meter(
    dialect: Dialect,
    port: str,
    candidates: Sequence[str] = (),
    serial_number: str | None = None,
    usb: str | None = None,
    *,
    model: str | None = None,
    simulated: bool = False,
    private: bool = False,
    now_s: Callable[[], float] = real_now_s,
) -> SerialMeter:
    """Open the meter with this serial number (None: any) and model, wherever it is.

    ``port`` is tried first unless it is ``auto``; then every port that matches ``candidates`` (globs) or the
    adapter ``usb`` ("1234:abcd"). So a meter is found again when its adapter comes back under another name.
    Raises `WrongMeter` when only other meters answer, `MeterBusy` when the meter is held, else the error of the
    only port, or `MeterLost` with all that was tried.
    """
    names = _ports_to_ask(port, candidates, usb)
    wanted = " ".join(part for part in (model or ("any model" if serial_number else None), serial_number) if part)
    failed: list[tuple[str, MeterError]] = []
    others: list[MeterIdentity] = []
    for name in names:
        try:
            meter = SerialMeter(dialect, name, simulated=simulated, private=private, now_s=now_s)
        except MeterError as error:
            failed.append((name, error))
            continue
        found = meter.identity
        if serial_number in (None, found.serial_number) and model in (None, found.model):
            return meter
        meter.close()
        others.append(found)
    if others:
        answered = ", ".join(f"{other.model} {other.serial_number} at {other.address}" for other in others)
        raise WrongMeter(
            f"looked for meter {wanted}, but {answered} answered; connect the right one, or change the bench"
        )
    for _, failure in failed:
        if isinstance(failure, MeterBusy) or len(failed) == 1:
            raise failure
    tried = "; ".join(f"{name}: {failure}" for name, failure in failed)
    raise MeterLost(
        f"no meter of dialect {dialect.meter} answers. Tried {tried}"
        if tried
        else f"no serial port matches {_searched(port, candidates, usb)}; plug the meter in, or correct the bench"
    )


def _ports_to_ask(port: str, candidates: Sequence[str], usb: str | None) -> list[str]:
    """Each port once, whatever links lead to it."""
    names = [] if port == "auto" else [port]
    for pattern in candidates:
        names += sorted(glob(pattern))
    if usb is not None:
        names += [found.name for found in ports() if found.usb == usb.lower()]
    unique: dict[str, str] = {}
    for name in names:
        unique.setdefault(os.path.realpath(name), name)
    return list(unique.values())


def _searched(port: str, candidates: Sequence[str], usb: str | None) -> str:
    parts = [*candidates, *([f"USB adapter {usb}"] if usb else [])]
    return ", ".join(parts) or f"'{port}' (a bench with port: auto also needs 'candidates' or 'usb')"
