"""The recorded conditions of a run, from its log: what counts, what else was stated, and what changed in a session."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from benchd.measuring_conditions import (
    CONDITIONS,
    CONDITIONS_VERSION,
    KINDS_OF_CONDITION,
    ConditionKind,
    Value,
    is_same,
    value_words,
)
from benchd.run.log.records import Body, conditions_in


@dataclass(frozen=True, slots=True)
class StatedCondition:
    """One statement of a condition: where it is from, and for what the operator entered earlier its day."""

    value: Value
    source: str
    when: str = ""


@dataclass(frozen=True, slots=True)
class ConditionChange:
    """What a condition was found to be by a later session, from 2."""

    session: int
    value: Value
    source: str


@dataclass(frozen=True, slots=True)
class RecordedCondition:
    """One condition. ``value`` is None, and ``source`` "", where it is not recorded.

    ``others``: statements that disagree with the one that counts; ``note``: what a reader must know of it, or "".
    """

    key: str
    words: str
    value: Value | None
    unit: str
    source: str
    when: str = ""
    others: tuple[StatedCondition, ...] = ()
    changes: tuple[ConditionChange, ...] = ()
    note: str = ""

    @property
    def text(self) -> str:
        """Value and unit; "" where it is not recorded."""
        return "" if self.value is None else value_words(KINDS_OF_CONDITION[self.key], self.value)

    @property
    def said(self) -> str:
        """``preset warm``, ``HDR off``; where only the signal is known, ``signal SDR``: HDR mode is the display's."""
        signal = self.text.removesuffix(" signal") if self.key == "hdr" else self.text
        return f"signal {signal}" if signal != self.text else f"{self.words} {self.text}"


def recorded_conditions(
    head: Mapping[str, Any], started: str, later: Sequence[tuple[int, Body]] = ()
) -> tuple[RecordedCondition, ...]:
    """All of them in their order; ``later``: session and body of each `resumed`; ``started``: the wall-clock label.

    A log of before they were recorded, or of a later version of them, has none.
    """
    kept = head.get("conditions") or {}
    readable = isinstance(kept, Mapping) and kept.get("version") == CONDITIONS_VERSION
    values = conditions_in(dict(head)) if readable else {}
    if not readable:
        later = ()
    return tuple(_recorded(kind, values.get(kind.key) or [], later, head, started) for kind in CONDITIONS)


def recorded_texts(conditions: Iterable[RecordedCondition]) -> dict[str, str]:
    """Those that are recorded, by their words: value and unit."""
    return {one.words: one.text for one in conditions if one.value is not None}


def _recorded(
    kind: ConditionKind,
    several: Sequence[Body],
    later: Sequence[tuple[int, Body]],
    head: Mapping[str, Any],
    started: str,
) -> RecordedCondition:
    changes: list[ConditionChange] = []
    for session, body in later:
        found = conditions_in(body).get(kind.key) or []
        earlier = changes[-1].value if changes else several[0]["value"] if several else None
        if found and (earlier is None or not is_same(found[0]["value"], earlier)):  # else only contradicted
            changes.append(ConditionChange(session, found[0]["value"], str(found[0]["source"])))
    stated = [StatedCondition(one["value"], str(one["source"]), str(one.get("when", ""))) for one in several]
    if not stated:
        return RecordedCondition(kind.key, kind.words, None, kind.unit, "", changes=tuple(changes))
    first, *rest = stated
    return RecordedCondition(
        *(kind.key, kind.words, first.value, kind.unit, first.source, first.when),
        others=tuple(one for one in rest if first.source != "swept" and not is_same(one.value, first.value)),
        changes=tuple(changes),
        note=_calibration_note(str(first.value), head, started) if kind.form == "date" else "",
    )


def _calibration_note(day: str, head: Mapping[str, Any], started: str) -> str:
    """Said of a calibration after the run, or of one that was over when the run began."""
    begun = started[:10]
    if day > begun:
        return f"after the run, which began on {begun}: the date or the clock is wrong"
    months = (head.get("conditions") or {}).get("calibration_interval_months")
    if not months:
        return ""
    year, month, rest = int(day[:4]), int(day[5:7]) + round(float(months)), day[7:]
    due = f"{year + (month - 1) // 12:04d}-{(month - 1) % 12 + 1:02d}{rest}"
    return f"due again after {float(months):g} months, before the run on {begun}" if due < begun else ""
