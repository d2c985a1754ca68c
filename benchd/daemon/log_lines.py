"""The service's own log: a line an event to stderr, as JSON or as text for a terminal."""

from __future__ import annotations

import json
import logging
import sys
from collections.abc import Mapping
from typing import Literal

from benchd.clock import wall_label


def set_up(form: Literal["json", "text"], level: str) -> None:
    """From here on, what `benchd.service` logs goes to stderr, and so do warnings of others."""
    # A reader of stderr that went away must not stop a run, nor fill stderr with complaints about itself.
    logging.raiseExceptions = False
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(_Json() if form == "json" else _Text())
    root = logging.getLogger()
    root.handlers[:] = [handler]
    root.setLevel(logging.WARNING)
    logging.getLogger("benchd").setLevel(level.upper())


class _Json(logging.Formatter):
    def format(self, record: logging.LogRecord) -> str:
        line = {"wall": wall_label(), "level": record.levelname.lower(), "event": record.getMessage(), **_facts(record)}
        if record.exc_info:
            line["traceback"] = self.formatException(record.exc_info)
        return json.dumps(line, ensure_ascii=False, default=str)


class _Text(logging.Formatter):
    def format(self, record: logging.LogRecord) -> str:
        facts = "  ".join(f"{name}: {value}" for name, value in _facts(record).items() if value not in ("", None))
        line = f"{wall_label()} {record.levelname.lower():7} {record.getMessage()}"
        trace = f"\n{self.formatException(record.exc_info)}" if record.exc_info else ""
        return (f"{line}  {facts}" if facts else line) + trace


def _facts(record: logging.LogRecord) -> Mapping[str, object]:
    facts = getattr(record, "facts", {})
    return facts if isinstance(facts, Mapping) else {}
