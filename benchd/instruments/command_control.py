"""Controls that a command or a person sets: what no control channel of the display reaches."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Sequence
from contextlib import suppress

from benchd.clock import Clock, Deadline
from benchd.errors import ControlAbsent, ControlError, ControlGarbled, ControlRefused, ControlSilent, OperatorNeeded
from benchd.instruments.control import Ask, By, Control, SetOutcome, check_value, set_and_confirm
from benchd.profile.display_controls import PLACE, ControlPart, Token
from benchd.profile.reading.values import Setting

_SHOWN = 200


class CommandControl:
    """Set by a command, read back by another where the bench names one.

    ``command`` and ``read`` are the words to run; exit status 0 means that it is done.
    """

    def __init__(
        self, name: str, part: ControlPart, command: Sequence[str], read: Sequence[str] | None, clock: Clock
    ) -> None:
        self.name, self.settle_s = name, part.settle_s
        self._part, self._command, self._read_command, self._clock = part, command, read, clock

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

    def set(self, value: Setting, deadline: Deadline, *, restoring: bool = False) -> SetOutcome:
        """Run the command, and read back until the value is there."""
        if not restoring:
            check_value(self.name, self._part, value)
        token = (self._part.values or {}).get(str(value), value)
        words = [word.replace(PLACE, _plain(token)) for word in self._command]
        if self._read_command is None:
            started_s = self._clock.now_s()
            run_once(self.name, words, deadline)
            return SetOutcome(value, None, self._clock.now_s() - started_s, "command")

        def read() -> Setting:
            found = self.read(deadline)
            assert found is not None
            return found

        found, elapsed_s = set_and_confirm(
            self.name,
            value,
            lambda: _nothing(run_once(self.name, words, deadline)),
            read,
            within_s=self._part.within_s,
            clock=self._clock,
            deadline=deadline,
        )
        return SetOutcome(value, found, elapsed_s, "command")

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


class PromptControl:
    """Set by the operator, on a prompt. It can't be read back."""

    def __init__(self, name: str, part: ControlPart, ask: Ask, clock: Clock) -> None:
        assert part.prompt is not None
        self.name, self.settle_s = name, part.settle_s
        self._part, self._prompt, self._ask, self._clock = part, part.prompt, ask, clock

    def read(self, deadline: Deadline) -> Setting | None:
        """Nothing: the run would have to prompt for what it can't check."""
        return None

    def set(self, value: Setting, deadline: Deadline, *, restoring: bool = False) -> SetOutcome:
        """Prompt for it, however long that takes. Raises `OperatorNeeded`."""
        if not restoring:
            check_value(self.name, self._part, value)
        started_s = self._clock.now_s()
        self._ask(self.sentence(value))
        return SetOutcome(value, None, self._clock.now_s() - started_s, "operator")

    def describe(self, deadline: Deadline) -> str:
        """Who sets it."""
        return f"set manually{_choices(self._part)}"

    def sentence(self, value: Setting) -> str:
        """What the operator is requested to do."""
        return self._prompt.replace(PLACE, _plain(value))


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
        raise ControlSilent(
            f"control {name}: {_named(words)} did not end in time and was ended; look why, and resume"
        ) from None
    if process.returncode != 0:
        last = errors.decode(errors="replace").strip().splitlines()[-1:]
        said = f"; its output: {last[0][:_SHOWN]}" if last else ""
        raise ControlRefused(
            f"control {name}: {_named(words)} ended with exit status {process.returncode}{said}; put that right "
            "and resume"
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


def _nothing(printed: str) -> None:
    """The output of a setting command is ignored."""
