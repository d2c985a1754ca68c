"""Are the results of an interrupted run those of one that was not?

Whoever resumes puts the meter on its place anew, so what putting it there costs comes in once more between the steps
before and after: the uncertainty of a ratio of both is rightly larger, and its value is not touched. So two views of a
log are compared to the bit: all results as if the meter had stayed where it was, and the values as it went.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from benchd.analysis.analyse import analyse
from benchd.report.data.document import to_json
from benchd.report.data.log_reference import LogReference
from benchd.report.uncertain import FIELDS
from benchd.run.log.journal import LogFile

PLACES = frozenset({"records"})
UNCERTAINTY = frozenset(FIELDS)


def without(keys: frozenset[str], part: Any) -> Any:
    """JSON without some keys, at any depth."""
    if isinstance(part, dict):
        return {key: without(keys, value) for key, value in part.items() if key not in keys}
    return [without(keys, one) for one in part] if isinstance(part, list) else part


def without_bounds(part: Any) -> Any:
    """JSON without the values of bounds: those are ends of intervals, which hold the placing too."""
    if isinstance(part, dict):
        kept = part if part.get("bound") is None else {key: one for key, one in part.items() if key != "value"}
        return {key: without_bounds(one) for key, one in kept.items()}
    return [without_bounds(one) for one in part] if isinstance(part, list) else part


def to_compare(log: Path) -> dict[str, Any]:
    """What two logs of the same light must have in common: equal to the bit where both views are."""
    records = list(LogFile(log).records())
    reference = LogReference("", "")
    stayed = to_json(analyse(one for one in records if one.kind != "moved"), reference)
    as_it_was = to_json(analyse(records), reference)
    return {
        "stayed": without(PLACES, {key: stayed[key] for key in ("blocks", "absent")}),
        "values": without_bounds(without(PLACES | UNCERTAINTY, {key: as_it_was[key] for key in ("blocks", "absent")})),
    }
