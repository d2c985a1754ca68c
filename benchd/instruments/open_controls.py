"""The controls of a bench, opened: each by its name, all behind one protocol; and the ways in which each is set.

A control is set by the display's control channel (any VCP code), by a command, or by a person. Nothing is queried
before a control is first read or set, so that a display without a control channel can still be measured by a plan that
sweeps nothing.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from typing import TYPE_CHECKING, NamedTuple

from benchd.clock import Clock, Deadline
from benchd.errors import ControlAbsent, ControlError, ControlGarbled, ControlRefused, ControlSilent, OperatorNeeded
from benchd.instruments.control import Ask, By, Control, PartControl, SetOutcome, no_operator_to_set
from benchd.profile.display import PLACE, ControlPart, DdcPart, Token
from benchd.profile.reading.values import Setting

if TYPE_CHECKING:
    from benchd.instruments.ddc import DdcBus
if TYPE_CHECKING:
    from benchd.instruments.ddc import DdcBus, Value


class DdcControl(PartControl):
    """One VCP code. ``bus`` opens the channel when it is first needed."""

    by = "ddc"

    def __init__(self, name: str, part: ControlPart, bus: Callable[[], DdcBus], clock: Clock) -> None:
        super().__init__(name, part, clock)
        assert part.ddc is not None
        self._code, self._bus = part.ddc, bus
        self._most: int | None = None

    def read(self, deadline: Deadline) -> Setting:
        """The name of the value where the bench has one for it, else the number."""
        return self._named(self._bus().get(self._code, deadline))

    def write(self, value: Setting, deadline: Deadline) -> None:
        """Refused before anything is sent when the display has no such value."""
        token = (self._part.values or {}).get(str(value), value)
        if not isinstance(token, int):
            raise ControlRefused(f"control {self.name} can't be set to {value!r}: the display takes whole numbers")
        if self._part.values is None:
            self._check_range(token, deadline)
        self._bus().put(self._code, token, deadline)

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


_SHOWN = 200


class CommandControl(PartControl):
    """Set by a command, read back by another where the bench names one.

    ``command`` and ``read`` are the words to run; exit status 0 means that it is done.
    """

    by = "command"

    def __init__(
        self, name: str, part: ControlPart, command: Sequence[str], read: Sequence[str] | None, clock: Clock
    ) -> None:
        super().__init__(name, part, clock)
        self._command, self._read_command = command, read
        self.reads_back = read is not None

    def read(self, deadline: Deadline) -> Setting | None:
        """What the reading command prints, twice the same; None without such a command."""
        if self._read_command is None:
            return None
        first = self._printed(self._read_command, deadline)
        for _ in range(3):
            second = self._printed(self._read_command, deadline)
            if first == second:
                return second
            first = second
        raise ControlGarbled(
            f"control {self.name}: {_named(self._read_command)} prints another value each time (last {first!r}); "
            "let it print the present value only"
        )

    def write(self, value: Setting, deadline: Deadline) -> None:
        """Run the command; what it prints is ignored."""
        token = (self._part.values or {}).get(str(value), value)
        run_once(self.name, [word.replace(PLACE, _plain(token)) for word in self._command], deadline)

    def describe(self, deadline: Deadline) -> str:
        """The present value, where it can be read."""
        found = self.read(deadline)
        now = "can't be read" if found is None else f"is {found}"
        return f"{now}; set by {_named(self._command)}{_choices(self._part)}"

    def _printed(self, words: Sequence[str], deadline: Deadline) -> Setting:
        text = run_once(self.name, words, deadline).strip()
        if not text or "\n" in text:
            raise ControlGarbled(
                f"control {self.name}: {_named(words)} printed {text[:_SHOWN]!r}; it should print one line, the value"
            )
        return named(self._part, text)


class PromptControl(PartControl):
    """Set by the operator, on a prompt. It can't be read back."""

    by = "operator"
    reads_back = False

    def __init__(self, name: str, part: ControlPart, ask: Ask, clock: Clock) -> None:
        super().__init__(name, part, clock)
        self._ask = ask

    def read(self, deadline: Deadline) -> Setting | None:
        """Nothing: the run would have to prompt for what it can't check."""
        return None

    def write(self, value: Setting, deadline: Deadline) -> None:
        """Prompt for it, however long that takes. Raises `OperatorNeeded`."""
        assert self._part.prompt is not None
        self._ask(self._part.prompt.replace(PLACE, _plain(value)))

    def describe(self, deadline: Deadline) -> str:
        """Who sets it."""
        return f"set manually{_choices(self._part)}"


class ElseManual:
    """A control that the operator sets when the first way fails and an operator is present."""

    def __init__(self, first: Control, hand: PromptControl) -> None:
        self.name, self.settle_s = first.name, first.settle_s
        self._first, self._hand = first, hand
        self._set_by: By | None = None

    def read(self, deadline: Deadline) -> Setting | None:
        """As the first way reads it, unless the operator has set it since: then it can't be read."""
        return None if self._set_by == "operator" else self._first.read(deadline)

    def set(self, value: Setting, deadline: Deadline, *, restoring: bool = False) -> SetOutcome:
        """The first way; else manually, and the outcome has the reason. Raises the first error without an operator."""
        try:
            outcome = self._first.set(value, deadline, restoring=restoring)
        except ControlError as error:
            try:
                outcome = self._hand.set(value, deadline, restoring=restoring)
            except OperatorNeeded:
                raise error from None
            outcome = SetOutcome(value, None, outcome.elapsed_s, "operator", str(error))
        self._set_by = outcome.by
        return outcome

    def describe(self, deadline: Deadline) -> str:
        """As the first way describes it."""
        return f"{self._first.describe(deadline)}; manually when that fails"


def run_once(name: str, words: Sequence[str], deadline: Deadline) -> str:
    """Run a command and return what it printed. Raises `ControlAbsent`, `ControlRefused` or `ControlSilent`."""
    full = [sys.executable, *words[1:]] if words[0] == "python" else list(words)
    try:
        process = subprocess.Popen(
            full, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True
        )
    except OSError as error:
        raise ControlAbsent(
            f"control {name}: {_named(words)} can't be started ({error.strerror}); correct the bench profile"
        ) from None
    try:
        out, errors = process.communicate(timeout=deadline.left_s)
    except subprocess.TimeoutExpired:
        with suppress(OSError):
            os.killpg(process.pid, signal.SIGKILL)  # with what it started itself
        process.communicate()
        raise ControlSilent(f"control {name}: {_named(words)} did not end in time and was ended; look why") from None
    if process.returncode != 0:
        last = errors.decode(errors="replace").strip().splitlines()[-1:]
        said = f"; its output: {last[0][:_SHOWN]}" if last else ""
        raise ControlRefused(
            f"control {name}: {_named(words)} ended with exit status {process.returncode}{said}; put that right"
        )
    return out.decode(errors="replace")


def named(part: ControlPart, token: Token) -> Setting:
    """What a display's token is called in the plan: a name of ``values``, a number, or the token itself."""
    for name, wanted in (part.values or {}).items():
        if str(wanted) == str(token):
            return name
    if isinstance(token, int):
        return token
    for kind in (int, float):
        with suppress(ValueError):
            return kind(token)
    return token


def _plain(value: Setting) -> str:
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def _named(words: Sequence[str]) -> str:
    return f"'{' '.join(words)[:_SHOWN]}'"


def _choices(part: ControlPart) -> str:
    if part.values is not None:
        return f" to one of {', '.join(part.values)}"
    return "" if part.low is None and part.high is None else f" to {part.low or 0} to {part.high}"


InScratch = Callable[[str], str]
"""Puts the private folder of a run into a text of the profile."""


class ControlAnswer(NamedTuple):
    """What one control, or the control channel itself, answered; for the operator."""

    name: str
    ok: bool
    text: str


FIRMWARE = 0xC9


class OpenControls(dict[str, Control]):
    """The controls by name. Close it after use; closing restores nothing."""

    def __init__(self, controls: Mapping[str, Control], bus: LazyBus | None) -> None:
        super().__init__(controls)
        self._bus = bus

    def describe(self, within_s: float = 10.0) -> tuple[ControlAnswer, ...]:
        """What the control channel and every control answer now; never raises a `ControlError`."""
        asked = [] if self._bus is None else [("ddc", self._bus.describe)]
        asked += [(name, control.describe) for name, control in self.items()]
        return tuple(_answer(name, describe, Deadline.after(within_s)) for name, describe in asked)

    def firmware(self, deadline: Deadline) -> str:
        """The level of the display's firmware, version and revision, such as ``1.4``; "" without a control channel.

        VCP code C9h after VESA MCCS 2.2 (from memory). Raises a `ControlError`, `ControlRefused` where it has none.
        """
        if self._bus is None:
            return ""
        level = self._bus.get().get(FIRMWARE, deadline).current
        return f"{level >> 8}.{level & 0xFF}"

    def close(self) -> None:
        """Let go of the control channel; never raises."""
        if self._bus is not None:
            self._bus.close()


class LazyBus:
    """The display's control channel, opened when it is first needed: the library behind it is not always."""

    def __init__(self, part: DdcPart, clock: Clock, in_scratch: InScratch) -> None:
        self._part, self._clock, self._in_scratch = part, clock, in_scratch
        self._bus: DdcBus | None = None

    def get(self) -> DdcBus:
        """The channel. Raises `ControlAbsent`."""
        if self._bus is None:
            from benchd.instruments.ddc import DdcBus, find_bus

            bus = self._in_scratch(self._part.bus)
            self._bus = DdcBus(find_bus(self._part.name) if bus == "auto" else bus, self._clock)
        return self._bus

    def describe(self, deadline: Deadline) -> str:
        """The display in words. Raises a `ControlError`."""
        return self.get().describe(deadline)

    def close(self) -> None:
        """Let go; never raises."""
        if self._bus is not None:
            self._bus.close()


def open_controls(
    parts: Mapping[str, ControlPart],
    ddc: DdcPart | None,
    clock: Clock,
    *,
    ask: Ask = no_operator_to_set,
    in_scratch: InScratch = str,
) -> OpenControls:
    """The controls of a bench profile (its ``controls`` and ``ddc``)."""
    bus = None if ddc is None else LazyBus(ddc, clock, in_scratch)
    return OpenControls({name: _control(name, part, bus, clock, ask, in_scratch) for name, part in parts.items()}, bus)


def _control(
    name: str, part: ControlPart, bus: LazyBus | None, clock: Clock, ask: Ask, in_scratch: InScratch
) -> Control:
    first: Control | None = None
    if part.ddc is not None:
        from benchd.instruments.open_controls import DdcControl

        assert bus is not None  # the bench model requires it
        first = DdcControl(name, part, bus.get, clock)
    elif part.command is not None:
        read = None if part.read is None else [in_scratch(word) for word in part.read]
        first = CommandControl(name, part, [in_scratch(word) for word in part.command], read, clock)
    if part.prompt is None:
        assert first is not None  # the bench model requires one of the three
        return first
    hand = PromptControl(name, part, ask, clock)
    return hand if first is None else ElseManual(first, hand)


def _answer(name: str, describe: Callable[[Deadline], str], deadline: Deadline) -> ControlAnswer:
    try:
        return ControlAnswer(name, True, describe(deadline))
    except ControlError as error:
        return ControlAnswer(name, False, str(error))
