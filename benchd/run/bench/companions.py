"""Companions of a bench: processes that are started before its parts are opened and end with it."""

from __future__ import annotations

import json
import os
import select
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

from benchd.clock import Deadline
from benchd.errors import BenchdError


class BenchNotReady(BenchdError):
    """A part of the bench did not answer, so nothing was started."""


def full_command(command: Sequence[str], scratch: Path) -> list[str]:
    """A command of a bench profile: ``python`` is this interpreter, ``{scratch}`` the private folder."""
    words = [word.replace("{scratch}", str(scratch)) for word in command]
    return [sys.executable, *words[1:]] if words[0] == "python" else words


def start_companion(
    command: list[str], ready_within_s: float, errors_to: Path
) -> tuple[subprocess.Popen[bytes], dict[str, object]]:
    """Start a companion and wait for its ready line, which is returned too.

    Raises `BenchNotReady` with the end of its errors.
    """
    with errors_to.open("wb") as errors:
        try:
            process = subprocess.Popen(
                command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=errors, start_new_session=True
            )
        except OSError as error:
            raise BenchNotReady(f"the companion {command[0]!r} can't be started ({error.strerror})") from None
    assert process.stdout is not None
    deadline = Deadline.after(ready_within_s)
    text = b""
    while b"\n" not in text:
        readable, _, _ = select.select([process.stdout], [], [], deadline.left_s)
        more = os.read(process.stdout.fileno(), 4096) if readable else b""
        if not more:
            end_companion(process)
            tail = errors_to.read_text(errors="replace").strip().splitlines()[-1:] or ["no output"]
            what = "ended before it was ready" if readable else f"was not ready within {ready_within_s:g} s"
            raise BenchNotReady(f"the companion {' '.join(command[:4])} … {what}: {tail[0]}")
        text += more
    try:
        ready = json.loads(text.partition(b"\n")[0])
    except ValueError:
        ready = {}
    if not isinstance(ready, dict) or not ready.get("ready"):
        end_companion(process)
        raise BenchNotReady(f"the companion {' '.join(command[:4])} … printed {text[:80]!r} instead of being ready")
    return process, ready


def end_companion(process: subprocess.Popen[bytes]) -> None:
    """A companion ends when its stdin closes; one that does not is killed."""
    for stream in (process.stdin, process.stdout):
        if stream is not None:
            stream.close()
    try:
        process.wait(timeout=3.0)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
