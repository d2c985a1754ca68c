"""Results to stdout or into a file."""

from __future__ import annotations

import json
import os
import sys

from benchd.command.messages import say
from benchd.errors import InputError


def print_json(value: object) -> None:
    """``value`` and a line end. Finite numbers only, so that every reader can parse it."""
    sys.stdout.write(json.dumps(value, ensure_ascii=False, allow_nan=False, indent=1) + "\n")


def write_text(text: str, output: str, what: str = "Written") -> None:
    """A text into a file, whole or not at all, or to stdout (``-``). Raises `InputError` when it can't be written."""
    if output == "-":
        sys.stdout.write(text)
        return
    from benchd.command.show.not_a_log import not_a_log  # it reads logs; what prints alone need not wait for that

    path = not_a_log(output)
    aside = path.with_name(f".{path.name}.part")
    try:
        aside.write_text(text, encoding="utf-8")
        os.replace(aside, path)
    except OSError as error:
        aside.unlink(missing_ok=True)
        raise InputError(f"{path} can't be written: {(error.strerror or 'unknown reason').lower()}") from None
    say(f"{what}: {path}")
