"""The recorded conditions of a run as names and texts: value, where it is from, what disagrees, and what is missing."""

from __future__ import annotations

from benchd.analysis.log.conditions_log import RecordedCondition, StatedCondition
from benchd.analysis.results import Results
from benchd.measuring_conditions import KINDS_OF_CONDITION, Value, value_words

NOT_RECORDED = "not recorded"


def recorded_rows(results: Results) -> list[tuple[str, str]]:
    """A row for each condition that is recorded, and one that names those that are not."""
    rows = [(one.words, condition_text(one)) for one in results.conditions if one.value is not None or one.changes]
    known = {name for name, _ in rows}
    missing = dict.fromkeys(one.words for one in results.conditions if one.words not in known)
    return rows + ([(NOT_RECORDED, ", ".join(missing))] if missing else [])


def recorded_words(results: Results) -> str:
    """All of them on one line."""
    rows = recorded_rows(results)
    known = ", ".join(f"{name} {text}" for name, text in rows if name != NOT_RECORDED)
    missing = "".join(f"{NOT_RECORDED}: {text}" for name, text in rows if name == NOT_RECORDED)
    return "; ".join(filter(None, (known, missing)))


def changed_conditions(results: Results) -> list[str]:
    """What must not be missed of them: one that a later session found otherwise, a calibration that was over."""
    known = [one for one in results.conditions if one.value is not None]
    noted = [f"{one.words} {one.text}: {one.note}" for one in known if one.note]
    return noted + [
        f"{one.words} was not the same in all sessions: {condition_text(one)}" for one in known if one.changes
    ]


def condition_text(one: RecordedCondition) -> str:
    """``60 Hz (screen)``, ``standard (display; plan: warm; session 2: cool, operator)``, ``not recorded``."""
    if one.value is None and not one.changes:
        return NOT_RECORDED
    about = [] if one.value is None else [_from(one)]
    about += [f"{_from(other)}: {_words(one, other.value)}" for other in one.others]
    about += [f"session {change.session}: {_words(one, change.value)}, {change.source}" for change in one.changes]
    about += [one.note] if one.note else []
    return f"{one.text or NOT_RECORDED} ({'; '.join(about)})"


def _from(one: RecordedCondition | StatedCondition) -> str:
    return f"{one.source}{f', entered {one.when}' if one.when else ''}"


def _words(one: RecordedCondition, value: Value) -> str:
    return value_words(KINDS_OF_CONDITION[one.key], value)
