"""Are two results the same? For a run that was made again from recorded readings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from benchd.report.data import Json, item_name

COMPARED = ("schema", "sample", "plan", "target", "readings", "warm_up", "blocks", "absent", "sweep", "drift")
"""Where results must agree. The rest says when, with what and from which log they were had."""

_IGNORED = frozenset(
    {
        *("records", "simulated", "minutes", "session", "segments"),
        *("faults", "control_faults", "by_hand", "not_read_back", "not_restored"),
    }
)
"""Within them: places in the log and the clock; and, of a sweep, what happened on the way."""


def difference(first: Json, second: Json) -> list[str]:
    """What differs, as ``path: value here, value there``; empty when the results are identical.

    Values must be equal to the last bit. The reference to the log, the sequence numbers of records, the
    clock and the identities of the parts are left out.
    """
    found: list[str] = []
    for key in COMPARED:
        found += _compare(key, first.get(key), second.get(key))
    return found


def _compare(path: str, first: Any, second: Any) -> Iterator[str]:
    if isinstance(first, Mapping) and isinstance(second, Mapping):
        for key in (*first, *(key for key in second if key not in first)):
            if key in _IGNORED:
                continue
            if key not in first or key not in second:
                yield f"{path}/{key}: only in the {'first' if key in first else 'second'}"
            else:
                yield from _compare(f"{path}/{key}", first[key], second[key])
    elif isinstance(first, list) and isinstance(second, list):
        if len(first) != len(second):
            yield f"{path}: {len(first)} items, {len(second)} items"
        for index, (one, other) in enumerate(zip(first, second, strict=False)):
            yield from _compare(f"{path}/{item_name(one, index)}", one, other)
    elif first != second:
        yield f"{path}: {first}, {second}"
