"""On how many units and placements of the meter headline figures rest, in words.

Neither the spread between units of a model nor that of placing the meter anew is in a figure of one run: a reader who
takes it for the model's must be able to see that.
"""

from __future__ import annotations

from benchd.analysis.results import Results, units
from benchd.report.words import count


def basis_words(*logs: Results) -> str:
    """``one unit, one placement``; of several logs ``3 units, one placement each`` or ``2 units, 5 runs``.

    Logs of one named sample are of one unit; each log without a name counts as a unit of its own. A resume places the
    meter anew, so that a log of several sessions has as many placements. Imported readings tell no placement.
    """
    number = units(logs)
    words = "one unit" if number == 1 else f"{number} units"
    if any(log.imported for log in logs):
        return f"{words}, placements not recorded"
    if len(logs) == 1:
        [log] = logs
        more = f"{log.sessions} placements (one a session)"
        return f"{words}, {more if log.sessions > 1 else 'one placement'}"
    alone = len(logs) == number and all(log.sessions == 1 for log in logs)
    return f"{words}, {'one placement each' if alone else count(len(logs), 'run')}"
