"""The operator was to act, the light did not follow, and nobody confirmed it: the results carry the doubt.

Whether the light followed is decided when it is read (`benchd.run.operator_checks`), since the operator can act then.
"""

from __future__ import annotations

from math import inf

from benchd.analysis.log.log_data import LogData
from benchd.analysis.results import Doubt

NOT_CONFIRMED = {
    "setting": "nobody confirmed that it was set",
    "move": "nobody confirmed that the meter was moved",
}


def operator_doubts(survey: LogData) -> tuple[Doubt, ...]:
    """Every request that was not confirmed and still stands, with the steps in doubt."""
    found = []
    for seq, body in survey.confirmations.values():
        if body["answer"] != "none":
            continue
        about = str(body["about"])
        steps = [step for step in body["steps"] if step in survey.measured]
        if about == "setting":  # what was read until the display was set again stands with it
            until = min((one.seq for one in survey.settings if one.seq > seq), default=inf)
            later = [one for one in survey.measured.values() if one.records and seq < one.records[0][0] < until]
            steps += [one.step for one in later if one.step not in steps]
        if steps:
            text = f"{body['note']}, and {NOT_CONFIRMED[about]}"
            found.append(Doubt(about, text, tuple(steps)))
    return tuple(found)
