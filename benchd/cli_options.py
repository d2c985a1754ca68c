"""Options of before, and the answer with their new name."""

from __future__ import annotations

from collections.abc import Sequence

from benchd.errors import InputError

_CSV, _PARQUET = "--format csv", "--format parquet --output FILE"
RENAMED: dict[str, dict[str, str]] = {
    "results": {"--csv": _CSV, "--parquet": _PARQUET, "--colour-text": "--format colour-text"},
    "library": {"--csv": f"{_CSV} --output FILE", "--parquet": _PARQUET, "--force": "--yes"},
    "replay": {"--keep": "--log FILE"},
    "correct": {
        "--out": "--output FILE",
        "--csv": "benchd correct NAME PAIRS.csv",
        "--logs": "benchd correct NAME REFERENCE.log METER.log",
    },
    "repeat": {"--folder": "--logs DIR"},
}
"""Of a command: the options of before, and what each is now."""


def refuse_renamed(words: Sequence[str]) -> None:
    """Answer an option of before with its new name. Raises `InputError`."""
    renamed = RENAMED.get(words[0], {}) if words else {}
    for word in words[1:]:
        option = word.partition("=")[0]
        if option in renamed:
            raise InputError(f"{option} is now called: {renamed[option]}")
