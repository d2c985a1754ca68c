"""JSON lines to the simulated bench's socket: one question, one answer. Standard library only, quick to start."""

from __future__ import annotations

import json
import socket
import sys
from typing import Any

ANSWERS_WITHIN_S = 30.0


class BenchGone(Exception):
    """The simulated bench does not answer any more; the text gives the reason."""


class Relay:
    """A connection to ``bench.sock``. Raises `BenchGone`."""

    def __init__(self, path: str) -> None:
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self._socket.settimeout(ANSWERS_WITHIN_S)
        try:
            self._socket.connect(path)
        except OSError as error:
            raise BenchGone(f"no simulated bench answers at {path} ({error.strerror})") from None
        self._lines = self._socket.makefile("rb")

    @property
    def fd(self) -> int:
        """What to wait on: readable without a question means that the bench has gone."""
        return self._socket.fileno()

    def ask(self, question: dict[str, Any]) -> dict[str, Any]:
        """Send and await the answer."""
        try:
            self._socket.sendall(json.dumps(question).encode() + b"\n")
            answer = json.loads(self._lines.readline() or b"null")
        except (OSError, ValueError):
            answer = None
        if not isinstance(answer, dict):
            raise BenchGone("the simulated bench has gone; start the run again with: benchd resume LOG")
        return answer


def say(message: dict[str, Any]) -> None:
    """One JSON line on standard output, at once."""
    sys.stdout.write(json.dumps(message) + "\n")
    sys.stdout.flush()


def socket_argument(usage: str) -> tuple[str, dict[str, str]]:
    """``--socket PATH`` and further ``--name value`` pairs; ends the process with ``usage`` when it is missing.

    Without argparse, because a window must come up quickly.
    """
    words = sys.argv[1:]
    options = dict(zip(words[::2], words[1::2], strict=False))
    if len(words) % 2 or not all(name.startswith("--") for name in options) or "--socket" not in options:
        sys.stderr.write(f"usage: {usage}\n")
        raise SystemExit(2)
    return options.pop("--socket"), options
