"""The daemon's side of a window process: request, wait no longer than the deadline, decide, kill when it hangs.

For the real window and the simulated one alike; the messages are in `window_protocol.py`.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from benchd.clock import Deadline, real_now_s
from benchd.errors import ScreenLost
from benchd.patch.lines import LineBuffer, LineTooLong, end_process, read_some, write_all
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

OPENS_WITHIN_S = 20.0
ENDS_WITHIN_S = 2.0
GONE_WITHIN_S = 0.5
TAIL_BYTES = 4096


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
        self._errors = tempfile.TemporaryFile(prefix="benchd-window-")  # noqa: SIM115 - closed by close()
        try:
            self._process = subprocess.Popen(
                list(command),
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=self._errors,
                env=None if environment is None else dict(environment),
                bufsize=0,
                start_new_session=True,  # Ctrl-C in the terminal is for the daemon to answer
            )
        except OSError as error:
            self._errors.close()
            raise ScreenLost(f"the window process can't be started ({command[0]}: {error.strerror})") from error
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._stdin, self._stdout = self._process.stdin, self._process.stdout
        self._in, self._out = self._stdin.fileno(), self._stdout.fileno()
        os.set_blocking(self._in, False)
        self._buffer = LineBuffer()
        self._lines: deque[bytes] = deque()
        self._seq = 0
        self._identity: ScreenIdentity | None = None
        self._event = self._lost = ""

    @property
    def pid(self) -> int:
        """The window's process."""
        return self._process.pid

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
        if self._errors.closed:
            return
        end_process(self._process, ENDS_WITHIN_S)
        self._errors.close()
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
            if not write_all(self._in, question, deadline):
                raise self._give_up(f"the window did not take the question {what} in time and was killed")
        except (BrokenPipeError, ConnectionResetError):
            raise self._gone(deadline) from None
        while True:
            line = self._line(deadline)
            if line is None:
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
        while not self._lines:
            data = read_some(self._out, deadline)
            if data is None:
                return None
            if not data:
                raise self._gone(deadline)
            try:
                self._lines.extend(self._buffer.feed(data))
            except LineTooLong as error:
                raise self._give_up(f"the window does not use this protocol: {error}") from error
        return self._lines.popleft()

    def _gone(self, deadline: Deadline) -> ScreenLost:
        """The stream ended: report why, from the last event, the exit status and the last output."""
        self._read_last_event(deadline)
        try:
            code = self._process.wait(GONE_WITHIN_S)
            how = f"was killed by signal {-code}" if code < 0 else f"ended with status {code}"
        except subprocess.TimeoutExpired:
            how = "closed its output"
        words = self._event or self._tail()
        return self._give_up(f"the window process {how}" + (f": {words}" if words else ""))

    def _read_last_event(self, deadline: Deadline) -> None:
        """After a broken pipe, what the window sent before it ended is still unread."""
        try:
            while data := read_some(self._out, deadline):
                self._lines.extend(self._buffer.feed(data))
            for line in self._lines:
                message = decode(line)
                self._event = str(message.get("text") or self._event)
        except (NotThisProtocol, LineTooLong):
            return

    def _tail(self) -> str:
        """The last line that the window process wrote to standard error."""
        size = self._errors.seek(0, os.SEEK_END)
        self._errors.seek(max(0, size - TAIL_BYTES))
        lines = self._errors.read().decode("utf-8", "replace").strip().splitlines()
        return lines[-1].strip()[:200] if lines else ""

    def _give_up(self, text: str) -> ScreenLost:
        """Kill the process, remember why, and give the error to raise."""
        self._process.kill()
        self._process.wait()
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
