"""Are two results the same? For a run that was made again from recorded readings."""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator, Mapping
from typing import Any

from benchd.report.data.document import Json, item_name

COMPARED = ("schema", "sample", "plan", "target", "readings", "warm_up", "blocks", "absent", "sweep", "drift")
"""Where results must agree. The rest says when, with what and from which log they were had."""
REPLAYED = (
    *COMPARED,
    "sessions",
    "steps",
    "later_warm_ups",
    "uncertainty",
    "compensation",
    "offsets",
    "precision",
    "doubts",
)
"""Where the results of a log and of its replay must agree, too."""

APART = frozenset({"records", "simulated", "faults", "control_faults", "set_manually", "not_read_back", "not_restored"})
"""Within them: places in the log, and what went wrong on the way."""
CLOCK = frozenset({"minutes", "session", "segments"})
"""What two runs of one plan have of their own."""


def difference(
    first: Json, second: Json, keys: Iterable[str] = COMPARED, ignored: Container[str] = APART | CLOCK
) -> list[str]:
    """What differs under ``keys``, as ``path: value here, value there``; empty when the results are identical.

    Values must be equal to the last bit. The reference to the log and the identities of the parts are left out, and
    what is ``ignored`` at any depth.
    """
    found: list[str] = []
    for key in keys:
        found += _compare(key, first.get(key), second.get(key), ignored)
    return found


def _compare(path: str, first: Any, second: Any, ignored: Container[str]) -> Iterator[str]:
    if isinstance(first, Mapping) and isinstance(second, Mapping):
        for key in (*first, *(key for key in second if key not in first)):
            if key in ignored:
                continue
            if key not in first or key not in second:
                yield f"{path}/{key}: only in the {'first' if key in first else 'second'}"
            else:
                yield from _compare(f"{path}/{key}", first[key], second[key], ignored)
    elif isinstance(first, list) and isinstance(second, list):
        if len(first) != len(second):
            yield f"{path}: {len(first)} items, {len(second)} items"
        for index, (one, other) in enumerate(zip(first, second, strict=False)):
            yield from _compare(f"{path}/{item_name(one, index)}", one, other, ignored)
    elif first != second:
        yield f"{path}: {first}, {second}"
