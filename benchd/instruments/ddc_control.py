"""A control of the display over its control channel: any VCP code, as a number or by names."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from benchd.clock import Clock, Deadline
from benchd.errors import ControlRefused
from benchd.instruments.control import SetOutcome, check_value, set_and_confirm
from benchd.profile.display_controls import ControlPart
from benchd.profile.reading.values import Setting

if TYPE_CHECKING:
    from benchd.instruments.ddc import DdcBus, Value


class DdcControl:
    """One VCP code. ``bus`` opens the channel when it is first needed."""

    def __init__(self, name: str, part: ControlPart, bus: Callable[[], DdcBus], clock: Clock) -> None:
        assert part.ddc is not None
        self.name, self.settle_s = name, part.settle_s
        self._part, self._code, self._bus, self._clock = part, part.ddc, bus, clock
        self._most: int | None = None

    def read(self, deadline: Deadline) -> Setting:
        """The name of the value where the bench has one for it, else the number."""
        return self._named(self._bus().get(self._code, deadline))

    def set(self, value: Setting, deadline: Deadline, *, restoring: bool = False) -> SetOutcome:
        """Refused before anything is sent when the profile does not allow it, or the display has no such value."""
        if not restoring:
            check_value(self.name, self._part, value)
        bus = self._bus()
        token = (self._part.values or {}).get(str(value), value)
        if not isinstance(token, int):
            raise ControlRefused(f"control {self.name} can't be set to {value!r}: the display takes whole numbers")

        def write() -> None:
            if self._part.values is None:
                self._check_range(token, deadline)
            bus.put(self._code, token, deadline)

        found, elapsed_s = set_and_confirm(
            self.name,
            value,
            write,
            lambda: self.read(deadline),
            within_s=self._part.within_s,
            clock=self._clock,
            deadline=deadline,
        )
        return SetOutcome(value, found, elapsed_s, "ddc")

    def describe(self, deadline: Deadline) -> str:
        """VCP code, present value and range."""
        value = self._bus().get(self._code, deadline)
        what = f"one of {', '.join(self._part.values)}" if self._part.values else f"0 to {value.maximum}"
        return f"is {self._named(value)} (VCP code {self._code}, {what})"

    def _check_range(self, token: int, deadline: Deadline) -> None:
        if self._most is None:
            self._most = self._bus().get(self._code, deadline).maximum
        if token > self._most:
            raise ControlRefused(
                f"control {self.name} can't be set to {token}: the display has 0 to {self._most}; correct the plan or "
                "'high' of the bench profile"
            )

    def _named(self, value: Value) -> Setting:
        # A control without an order has its value in the low byte; some displays leave a remainder in the high
        # one (VESA MCCS standard 2.2, from memory).
        for token in (value.current, value.current & 0xFF):
            for name, wanted in (self._part.values or {}).items():
                if wanted == token:
                    return name
        return value.current
