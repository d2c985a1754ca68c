"""The controls of a bench, opened: each by its name, all behind one protocol.

Nothing is queried before a control is first read or set, so that a display without a control channel can still be
measured by a plan that sweeps nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import TYPE_CHECKING, NamedTuple

from benchd.clock import Clock, Deadline
from benchd.errors import ControlAbsent, ControlError
from benchd.instruments.command_control import CommandControl, ElseManual, PromptControl
from benchd.instruments.control import Ask, Control, no_operator_to_set
from benchd.profile.display_controls import ControlPart, DdcPart

if TYPE_CHECKING:
    from benchd.instruments.ddc import DdcBus

InScratch = Callable[[str], str]
"""Puts the private folder of a run into a text of the profile."""


class ControlAnswer(NamedTuple):
    """What one control, or the control channel itself, answered; for the operator."""

    name: str
    ok: bool
    text: str


class OpenControls(Mapping[str, Control]):
    """The controls by name. Close it after use; closing restores nothing."""

    def __init__(self, controls: Mapping[str, Control], bus: LazyBus | None) -> None:
        self._controls, self._bus = dict(controls), bus

    def __getitem__(self, name: str) -> Control:
        return self._controls[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._controls)

    def __len__(self) -> int:
        return len(self._controls)

    def named(self, name: str) -> Control:
        """The control of that name. Raises `ControlAbsent`."""
        if name not in self._controls:
            known = ", ".join(self._controls) or "none"
            raise ControlAbsent(
                f"the bench has no control {name!r}; it has: {known}. Add it to 'controls' of the bench"
            )
        return self._controls[name]

    def describe(self, within_s: float = 10.0) -> tuple[ControlAnswer, ...]:
        """What the control channel and every control answer now; never raises a `ControlError`."""
        answers = []
        if self._bus is not None:
            bus = self._bus
            answers.append(_answer("ddc", lambda: bus.get().describe(Deadline.after(within_s))))
        for name, control in self._controls.items():
            answers.append(_answer(name, lambda control=control: control.describe(Deadline.after(within_s))))  # type: ignore[misc]
        return tuple(answers)

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
        from benchd.instruments.ddc_control import DdcControl

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


def _answer(name: str, describe: Callable[[], str]) -> ControlAnswer:
    try:
        return ControlAnswer(name, True, describe())
    except ControlError as error:
        return ControlAnswer(name, False, str(error))
