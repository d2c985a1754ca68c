"""A damaged log: what of it is sound, written to a new file that opens and resumes.

A sound line keeps its content and gets a new sequence number. Where lines are missing a `fault` record
marks it, and a `done` record whose patch or readings are no longer all there is left out, so that its step is
measured again instead of resting on fewer readings than the plan has.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from benchd.clock import Clock
from benchd.errors import LogRefused, NotALog
from benchd.run.log import journal
from benchd.run.log.records import Record


@dataclass(frozen=True, slots=True)
class Salvaged:
    """What `salvage` did, in counts of lines."""

    kept: int = 0
    damaged: int = 0
    undone: int = 0  # `done` and `ended` records left out since their readings are gone


def sound_records(path: Path) -> Iterator[Record | int]:
    """Every sound record of a log, and the number of each line that is not."""
    with path.open("rb") as stream:
        for number, line in enumerate(stream, start=1):
            line = journal.as_written(line)
            try:
                yield journal.decode(line) if journal.is_sound(line) else number
            except ValueError:
                yield number


def salvage(source: Path, target: Path, clock: Clock, session: str) -> Salvaged:
    """Write the sound records of ``source`` to the new file ``target``.

    Raises `NotALog` for what never was one, `LogRefused` when the first line (which holds the plan) is lost,
    `InputError` when ``target`` exists or can't be made, `JournalError` when it can't be written.
    """
    try:
        records = sound_records(source)
        first = next(records, 0)
    except OSError as error:
        raise journal.unreadable(source, error) from None
    if not journal.may_be_a_log(source):
        raise NotALog(str(source), empty=not source.stat().st_size)
    if isinstance(first, int) or first.kind != "started":
        raise LogRefused(
            str(source),
            1,
            "the first line holds the plan and is lost; what remains can't be tied to a plan, so nothing was written",
        )
    with closing(journal.create(target, clock, session)) as out:
        return _copy(first, records, out, source.name)


def _copy(first: Record, records: Iterator[Record | int], out: journal.Journal, source: str) -> Salvaged:
    kept, damaged, undone = 1, 0, 0
    out.copy(first)
    readings: dict[tuple[str, int], int] = {}
    shown: set[tuple[str, int]] = set()
    expected, marked = first.seq + 1, False

    def mark(text: str) -> None:
        out.append("fault", body={"error": "Salvaged", "text": text, "then": "again"})

    for item in records:
        if isinstance(item, int):
            marked, damaged = True, damaged + 1
            mark(f"line {item} of {source} was damaged and is left out")
            continue
        if item.seq > expected and not marked:
            damaged += item.seq - expected
            mark(f"records {expected} to {item.seq - 1} of {source} are missing")
        expected, marked = item.seq + 1, False
        key = (item.step, item.attempt)
        if item.kind == "reading":
            readings[key] = readings.get(key, 0) + 1
        if item.kind == "settled":
            readings[key] = 0
        if item.kind == "shown":
            shown.add(key)
        whole = key in shown and readings.get(key, 0) == item.body.get("readings")
        if (item.kind == "done" and not whole) or (item.kind == "ended" and (undone or damaged)):
            undone += 1
        else:
            out.copy(item)
            kept += 1
    return Salvaged(kept, damaged, undone)
