"""What is called when a job pauses, fails or completes: a command, a web address of this machine, or both.

They run beside the sequencer, one after the other, each for a limited time. Whatever goes wrong with them
is written to the service's log and to nothing else.
"""

from __future__ import annotations

import json
import logging
import os
import queue
import re
import signal
import socket
import subprocess
import threading
from collections.abc import Mapping, Sequence
from contextlib import suppress
from urllib.parse import urlsplit

from benchd.clock import Deadline, wall_label
from benchd.daemon.job_control import Job
from benchd.errors import InputError

WITHIN_S = 30.0
MAX_WAITING = 100
LOOPBACK = {"127.0.0.1": "127.0.0.1", "localhost": "127.0.0.1", "::1": "::1"}

Message = Mapping[str, object]

logger = logging.getLogger("benchd.service")


def message(event: str, bench: str, job: Job, why: str, simulated: bool) -> Message:
    """What a hook receives: flat, and with one sentence for a person."""
    text = f"{'SIMULATED ' if simulated else ''}job {job.id} ({job.submission.sample or 'not named'}): {event}"
    return {
        "event": event,
        "text": f"{text}: {why}" if why else text,
        "wall": wall_label(),
        "bench": bench,
        "simulated": simulated,
        "job": job.id,
        "plan": job.plan_label,
        "sample": job.submission.sample,
        "note": job.submission.note,
        "log": job.log,
        "steps": job.steps,
        "steps_done": job.steps_done,
        "move_to": job.move_to,
        "why": why,
    }


class Hooks:
    """Calls ``command`` with the message as JSON on its stdin, and sends it to ``address`` as a POST.

    Raises `InputError` for an address that is not on this machine.
    """

    def __init__(self, command: Sequence[str] = (), address: str = "", within_s: float = WITHIN_S) -> None:
        self._command, self._address, self._within_s = list(command), address, within_s
        self._target = _local(address) if address else None
        self._waiting: queue.Queue[Message | None] = queue.Queue(MAX_WAITING)
        self._over = False
        self._thread: threading.Thread | None = None
        if self._command or self._target:
            self._thread = threading.Thread(target=self._work, name="hooks", daemon=True)
            self._thread.start()

    def call(self, message: Message) -> None:
        """Queue the message for the hooks; returns at once and never raises."""
        if self._thread is None:
            return
        try:
            self._waiting.put_nowait(message)
        except queue.Full:
            logger.warning("hook left out: too many wait", extra={"facts": {"about": message.get("event")}})

    def close(self) -> None:
        """Wait for those under way, as long as two may take; the rest is given up."""
        if self._thread is None:
            return
        with suppress(queue.Full):
            self._waiting.put_nowait(None)
        self._thread.join(2 * self._within_s)
        self._over = True
        self._thread = None

    def _work(self) -> None:
        while not self._over and (message := self._waiting.get()) is not None:
            text = json.dumps(message, ensure_ascii=False).encode()
            if self._command:
                self._run(text)
            if self._target:
                self._post(self._target, text)

    def _run(self, text: bytes) -> None:
        name = self._command[0]
        try:
            process = subprocess.Popen(
                self._command,
                stdin=subprocess.PIPE,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.PIPE,
                start_new_session=True,  # so that what it started in turn can be ended with it
            )
        except OSError as error:
            self._failed(name, f"can't be started ({error.strerror or error})")
            return
        with process:
            try:
                _, said = process.communicate(text, self._within_s)
            except subprocess.TimeoutExpired:
                os.killpg(process.pid, signal.SIGKILL)
                self._failed(name, f"was not done within {self._within_s:g} s and was ended")
                return
        if process.returncode:
            end = said[-300:].decode(errors="replace").strip() or "no output"
            self._failed(name, f"ended with exit status {process.returncode}: {end}")

    def _post(self, target: tuple[str, int, str], text: bytes) -> None:
        host, port, path = target
        head = (
            f"POST {path} HTTP/1.1\r\nHost: {host if ':' not in host else f'[{host}]'}:{port}\r\n"
            f"Content-Type: application/json\r\nContent-Length: {len(text)}\r\nConnection: close\r\n\r\n"
        )
        deadline = Deadline.after(self._within_s)
        answer = b""
        try:
            with socket.create_connection((host, port), self._within_s) as link:
                link.sendall(head.encode() + text)
                while b"\n" not in answer and not deadline.passed:
                    link.settimeout(max(0.01, deadline.left_s))
                    if not (more := link.recv(1024)):
                        break
                    answer += more
        except OSError as error:
            self._failed(self._address, f"did not answer ({error.strerror or error})")
            return
        if (found := re.match(rb"HTTP/1\.[01] ([0-9]{3})", answer)) is None:
            self._failed(self._address, f"answered {answer[:40]!r}, which is not HTTP")
        elif int(found[1]) >= 300:  # another address that it names is not followed
            self._failed(self._address, f"answered with status {int(found[1])}")

    def _failed(self, what: str, why: str) -> None:
        logger.warning("hook failed", extra={"facts": {"hook": what, "why": why}})


def _local(address: str) -> tuple[str, int, str]:
    """Host, port and path of an address of this machine. The name is not looked up: it could point elsewhere."""
    try:
        parts = urlsplit(address)
        host, port = LOOPBACK.get(parts.hostname or ""), parts.port or 80
    except ValueError:
        host, port, parts = None, 0, urlsplit("")
    if parts.scheme != "http" or host is None or parts.username or not address.isascii() or not address.isprintable():
        raise InputError(
            f"the address {address!r} is not one of this machine; use http://127.0.0.1:PORT/PATH "
            "(a command can notify other machines)"
        )
    return host, port, (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
