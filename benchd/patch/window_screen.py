"""The daemon's side of a window process: request, wait no longer than the deadline, decide, kill when it hangs.

For the real window and the simulated one alike; the messages are in `window_protocol.py`.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from typing import Any

from benchd.clock import Deadline, real_now_s
from benchd.errors import ScreenLost
from benchd.patch.model import Patch
from benchd.patch.screen import ScreenIdentity, Shown, check_shown, probes_for
from benchd.patch.window_protocol import (
    ERRORS,
    NotThisProtocol,
    ShowRequest,
    decode,
    encode,
    read_answer,
    read_identity,
    show_message,
)
from benchd.pipes import LineChild, LineTooLong, end_process

OPENS_WITHIN_S = 20.0
ENDS_WITHIN_S = 2.0
GONE_WITHIN_S = 0.5


def window_command(monitor: str, bits: int) -> list[str]:
    """The command of the real window on ``monitor`` (an output's name or ``primary``)."""
    return [sys.executable, "-m", "benchd.patch.window", "--monitor", monitor, "--bits", str(bits)]


class WindowScreen:
    """A `Screen` in a child process.

    The process starts at once; whether it can show anything, the first `identify` or `show` finds. After
    `ScreenLost` the process is gone and every call raises `ScreenLost` again: make a new one. Make it in a
    thread that lives as long as the screen is needed: on Linux the window ends with the thread that made it.
    """

    def __init__(
        self, command: Sequence[str], *, environment: Mapping[str, str] | None = None, declared: str | None = None
    ) -> None:
        """Start ``command``; ``environment`` None means this process's own. Raises `ScreenLost`.

        ``declared``: the signal on the cable ("sdr", "pq", "hlg") where the operator states what a window can't detect.
        """
        self._declared = declared
        try:
            self._child = LineChild(command, environment)
        except OSError as error:
            raise ScreenLost(f"the window process can't be started ({command[0]}: {error.strerror})") from error
        self._seq = 0
        self._identity: ScreenIdentity | None = None
        self._event = self._lost = ""

    @property
    def pid(self) -> int:
        """The window's process."""
        return self._child.process.pid

    def identify(self) -> ScreenIdentity:
        """Which screen this is, read again. Raises a `ScreenError`."""
        return self._identify(Deadline.after(OPENS_WITHIN_S))

    def _identify(self, deadline: Deadline) -> ScreenIdentity:
        seq = self._next_seq()
        reply = self._ask(seq, encode({"seq": seq, "op": "hello"}), deadline, "to identify its screen")
        try:
            identity = read_identity(reply.get("identity"))
        except NotThisProtocol as error:
            raise self._give_up(f"the window's identity makes no sense: {error}") from error
        if self._declared is not None and self._declared != identity.signal:
            identity = replace(identity, signal=self._declared, signal_by="declared by the operator in the bench")
        self._identity = identity
        return identity

    def show(self, patch: Patch, deadline: Deadline) -> Shown:
        """Draw ``patch`` and read it back; to show the same patch again checks that nothing disturbed it.

        Raises a `ScreenError`; see `check_shown` for what makes a patch shown.
        """
        identity = self._identity or self._identify(deadline)
        rects = patch.rectangles(identity.width, identity.height)
        probes = probes_for(rects)
        began_s = real_now_s()
        seq = self._next_seq()
        question = show_message(seq, ShowRequest(patch.bits, rects, probes))
        reply = self._ask(seq, question, deadline, f"to show a {patch.kind}")
        try:
            answer = read_answer(reply, len(probes))
        except NotThisProtocol as error:
            raise self._give_up(f"the window's answer makes no sense: {error}") from error
        shown = replace(answer, probes=probes if answer.pixels else (), elapsed_s=real_now_s() - began_s)
        check_shown(patch, identity, shown)
        return shown

    def close(self) -> None:
        """End the window: its input ends, it shows black and leaves; killed when it does not. Never raises."""
        end_process(self._child.process, ENDS_WITHIN_S)
        self._lost = self._lost or "the window was closed; open it again"

    def _next_seq(self) -> int:
        self._seq += 1
        return self._seq

    def _ask(self, seq: int, question: bytes, deadline: Deadline, what: str) -> dict[str, Any]:
        """The answer with this ``seq``; answers to earlier questions are thrown away."""
        if self._lost:
            raise ScreenLost(self._lost)
        began_s = real_now_s()
        try:
            if not self._child.send(question, deadline):
                raise self._give_up(f"the window did not take the question {what} in time and was killed")
        except (BrokenPipeError, ConnectionResetError):
            raise self._gone(deadline) from None
        while True:
            if (line := self._line(deadline)) is None:
                waited_s = real_now_s() - began_s
                raise self._give_up(
                    f"the window was requested {what} and did not answer in {waited_s:.1f} s, so it was killed; "
                    "its display server may hang: check it and resume"
                )
            try:
                message = decode(line)
            except NotThisProtocol as error:
                raise self._give_up(f"the window does not use this protocol: {error}") from error
            if "event" in message:
                self._event = str(message.get("text") or message["event"])
                continue
            if message.get("seq") == seq or (message.get("seq") == 0 and not message.get("ok")):
                return self._accepted(message)

    def _accepted(self, message: dict[str, Any]) -> dict[str, Any]:
        if message.get("ok") is True:
            return message
        text = str(message.get("text") or "the window gave no reason")
        kind = ERRORS.get(str(message.get("error")), ScreenLost)
        if kind is ScreenLost:
            raise self._give_up(text)
        raise kind(text)

    def _line(self, deadline: Deadline) -> bytes | None:
        """The next line, None at the deadline. Raises `ScreenLost` at the end of the stream."""
        try:
            return self._child.receive(deadline)
        except EOFError:
            raise self._gone(deadline) from None
        except LineTooLong as error:
            raise self._give_up(f"the window does not use this protocol: {error}") from error

    def _gone(self, deadline: Deadline) -> ScreenLost:
        """The stream ended: report why, from the last event, the exit status and the last output."""
        # After a broken pipe, what the window sent before it ended is still unread.
        with suppress(EOFError, NotThisProtocol, LineTooLong):
            while line := self._child.receive(deadline):
                self._event = str(decode(line).get("text") or self._event)
        code = self._child.ending(GONE_WITHIN_S)
        how = f"was killed by signal {-code}" if code and code < 0 else f"ended with status {code}"
        words = self._event or next((line.strip()[:200] for line in reversed(self._child.errors())), "")
        how = "closed its output" if code is None else how
        return self._give_up(f"the window process {how}" + (f": {words}" if words else ""))

    def _give_up(self, text: str) -> ScreenLost:
        """Kill the process, remember why, and give the error to raise."""
        self._child.process.kill()
        self._child.process.wait()
        self._lost = text
        return ScreenLost(text)


def list_screens(environment: Mapping[str, str] | None = None) -> tuple[ScreenIdentity, ...]:
    """The screens that are switched on, read in a child process. Raises `ScreenLost` with the reason."""
    command = [sys.executable, "-m", "benchd.patch.window", "--list"]
    try:
        run = subprocess.run(
            command,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            timeout=OPENS_WITHIN_S,
            env=None if environment is None else dict(environment),
            check=False,
        )
    except subprocess.TimeoutExpired:
        raise ScreenLost(f"the display server did not answer in {OPENS_WITHIN_S:g} s; look at it") from None
    try:
        answer = json.loads(run.stdout)
        if "error" in answer:
            raise ScreenLost(str(answer["error"]))
        return tuple(read_identity(screen) for screen in answer["screens"])
    except (ValueError, KeyError, TypeError) as error:
        raise ScreenLost("the list of screens can't be read; is the window library installed?") from error
