"""A meter behind a child process with a protocol of JSON lines: ten lines of any language bridge any kit.

    {"id":1,"op":"identify"}
        -> {"id":1,"model":"..","serial_number":"..","firmware":"..","simulated":false}
    {"id":2,"op":"read","integration_s":0.5}              (null: the meter chooses)
        -> {"id":2,"X":95.0,"Y":100.0,"Z":108.9,"status":"ok","integration_s":0.5}
        -> {"id":2,"error":"one sentence"}

X, Y, Z are in cd/m2 for the CIE 1931 2-degree observer, or null where the status is under or over.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from benchd.clock import Deadline, real_now_s
from benchd.errors import (
    MeterError,
    MeterGarbled,
    MeterHalfAnswer,
    MeterLost,
    MeterRefused,
    MeterSilent,
    MeterWrongUnit,
    WrongMeter,
)
from benchd.instruments.answers import possible
from benchd.instruments.child import Child, ChildFailed, ChildTrouble
from benchd.instruments.hold import Hold
from benchd.instruments.meter import XYZ, MeterIdentity, Reading, ReadRequest, Status

_IDENTIFY_WITHIN_S = 20.0
_ERRORS: dict[ChildTrouble, type[MeterError]] = {
    ChildTrouble.GONE: MeterLost,
    ChildTrouble.SILENT: MeterSilent,
    ChildTrouble.HALF: MeterHalfAnswer,
    ChildTrouble.GARBLED: MeterGarbled,
}


class CommandMeter:
    """A meter bridged by ``command``; the constructor starts and identifies it. Raises a `MeterError`.

    ``now_s``: the bench's time, which a reading's ``elapsed_s`` is measured in.
    """

    def __init__(
        self,
        command: Sequence[str],
        *,
        floor_cd_m2: float | None = None,
        ceiling_cd_m2: float | None = None,
        identify_within_s: float = _IDENTIFY_WITHIN_S,
        now_s: Callable[[], float] = real_now_s,
    ) -> None:
        self._now_s, self._identify_within_s = now_s, identify_within_s
        self._range_cd_m2 = (floor_cd_m2, ceiling_cd_m2)
        self._hold: Hold | None = None
        self.identity: MeterIdentity | None = None
        try:
            self._child = Child(command)
        except ChildFailed as failed:
            raise MeterLost(f"the meter's bridge {failed}") from None
        try:
            self.identity = self.identify()
            self._hold = Hold(self.identity.model, self.identity.serial_number)
        except BaseException:
            self.close()
            raise

    def identify(self) -> MeterIdentity:
        """Identify it again. Raises `WrongMeter` when another meter answers than the one that was opened."""
        answer = self._ask("identify", {}, Deadline.after(self._identify_within_s))
        low, high = self._range_cd_m2
        found = MeterIdentity(
            model=self._text(answer, "model"),
            serial_number=self._text(answer, "serial_number"),
            firmware=self._text(answer, "firmware", needed=False),
            driver="command",
            address=self._child.name,
            simulated=answer.get("simulated") is True,
            floor_cd_m2=low,
            ceiling_cd_m2=high,
            calibrated=self._text(answer, "calibrated", needed=False) or None,
        )
        if self.identity is not None and not found.same_meter(self.identity):
            raise WrongMeter(
                f"meter {found.model} {found.serial_number} answers through '{self._child.name}' where "
                f"{self.identity.model} {self.identity.serial_number} was opened; connect that one again and resume"
            )
        return found

    def read(self, request: ReadRequest, deadline: Deadline) -> Reading:
        started_s = self._now_s()
        answer = self._ask("read", {"integration_s": request.integration_s}, deadline)
        elapsed_s = self._now_s() - started_s
        if (status := answer.get("status", "ok")) not in [known.value for known in Status]:
            raise self._garbled(answer, f"'status' must be one of {', '.join(Status)}")
        if (unit := answer.get("unit", "cd/m2")) != "cd/m2":
            raise MeterWrongUnit(
                f"the meter's bridge '{self._child.name}' answered in {unit!r}; it must answer in cd/m2",
                received=_line(answer),
            )
        xyz = self._xyz(answer, Status(status))
        integration_s = self._number(answer, "integration_s") if answer.get("integration_s") is not None else None
        return Reading(xyz, Status(status), integration_s, _line(answer).decode(), elapsed_s)

    def close(self) -> None:
        self._child.close()
        if self._hold is not None:
            self._hold.release()

    def _ask(self, op: str, fields: Mapping[str, object], deadline: Deadline) -> dict[str, Any]:
        try:
            answer = self._child.ask(op, fields, deadline)
        except ChildFailed as failed:
            raise _ERRORS[failed.trouble](
                f"the meter's bridge {failed}; look at the meter and its bridge",
                sent=failed.sent,
                received=failed.received,
            ) from None
        if "error" in answer:
            raise MeterRefused(f"the meter refused {op!r}: {answer['error']}", received=_line(answer))
        return answer

    def _xyz(self, answer: dict[str, Any], status: Status) -> XYZ | None:
        none = [name for name in ("X", "Y", "Z") if answer.get(name) is None]
        if none and status in (Status.UNDER, Status.OVER):
            return None
        if none:
            raise self._garbled(answer, f"{', '.join(none)} is missing")
        xyz = (self._number(answer, "X"), self._number(answer, "Y"), self._number(answer, "Z"))
        if not possible(xyz, self._range_cd_m2[0]):
            raise self._garbled(answer, "no light can be that")
        return xyz

    def _number(self, answer: dict[str, Any], name: str) -> float:
        value = answer[name]
        if type(value) not in (int, float) or not math.isfinite(value):
            raise self._garbled(answer, f"{name!r} must be a number")
        return float(value)

    def _text(self, answer: dict[str, Any], name: str, *, needed: bool = True) -> str:
        value = answer.get(name, "" if not needed else None)
        if not isinstance(value, str) or (needed and not value.strip()):
            raise self._garbled(answer, f"{name!r} must be text")
        return value.strip()

    def _garbled(self, answer: dict[str, Any], why: str) -> MeterGarbled:
        text = (
            f"the meter's bridge '{self._child.name}' answered {_line(answer).decode()}, but {why}; correct the bridge"
        )
        return MeterGarbled(text, received=_line(answer))


def _line(answer: dict[str, Any]) -> bytes:
    return json.dumps(answer, separators=(",", ":")).encode("ascii")
