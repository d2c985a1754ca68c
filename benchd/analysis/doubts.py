"""Doubts that results carry: what the operator did not confirm, and where intervals are known to fall short.

Whether the light followed an operator's act is decided when it is read (`benchd.run.operator_checks`), since the
operator can act then. Where it did not, the results carry the doubt; of a setting also when the operator confirmed it,
since a key is pressed easily and the figures of two settings are then the same. So do they where a condition was
given otherwise than a part of the bench answered: one of the two is wrong, or what was measured is not what was meant.

Where intervals fall short is data: a world of the coverage study (`tests/coverage`, table in
`tests/coverage/COVERAGE.md`) in which the intervals of a family of figures hold less than stated, or are wider than
need be. A log that shows such a world carries it as a doubt of the steps concerned, in text, data and verdicts. What is
mended is taken out here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from math import inf
from typing import Any, NamedTuple

from benchd.analysis.log.log_data import LogData
from benchd.analysis.log.step_data import StepData
from benchd.analysis.meter_model.beat import Flicker
from benchd.analysis.results import Doubt
from benchd.measuring_conditions import CONDITIONS_VERSION, contradictions
from benchd.run.log.records import WARM_UP, conditions_in

ANSWERED = {
    ("setting", "none"): "nobody answered whether it was set",
    ("setting", "yes"): "the operator confirmed that it was set",
    ("move", "none"): "nobody answered whether the meter was moved",
}
"""What was in doubt and the answer -> its words. A confirmed move is no doubt: on an even screen the light stays."""


def operator_doubts(log_data: LogData) -> tuple[Doubt, ...]:
    """Every request that still stands and was not confirmed, or only by a key, with the steps in doubt."""
    found = []
    for seq, body in log_data.confirmations.values():
        about = str(body["about"])
        words = ANSWERED.get((about, str(body["answer"])))
        if words is None:
            continue
        steps = [step for step in body["steps"] if step in log_data.measured]
        if about == "setting":  # what was read until the display was set again stands with it
            until = min((one.seq for one in log_data.settings if one.seq > seq), default=inf)
            later = [one for one in log_data.measured.values() if one.records and seq < one.records[0][0] < until]
            steps += [one.step for one in later if one.step not in steps]
        if steps:
            found.append(Doubt(about, f"{body['note']}, and {words}", tuple(steps)))
    return tuple(found)


def condition_doubts(log_data: LogData, head: Mapping[str, Any]) -> tuple[Doubt, ...]:
    """Every condition that was given otherwise than a part of the bench had it, in any session, with all steps."""
    bodies = [dict(body) for body in (head, *(body for _, body in log_data.conditions_later))]
    kept = [one for one in bodies if (one.get("conditions") or {}).get("version") == CONDITIONS_VERSION]
    said = dict.fromkeys(one.text for body in kept for one in contradictions(conditions_in(body)))
    steps = tuple(step for step in log_data.measured if not step.startswith(WARM_UP))
    return tuple(Doubt("condition", text, steps) for text in said if steps)


ABOUT = "coverage"
AGREEING_DOF = 7.5
"""Worth of the law of noise for one step, in degrees of freedom, below which steps vary as with heavy tails: in the
study 2 to 7 of Student's t with 2 degrees of freedom, 20 and more of Gaussian noise."""
ENOUGH_DOF = 100
"""Degrees of freedom of a log from which on that is no chance."""


class Shortfall(NamedTuple):
    """One world: what a log shows of it, what falls short there, and the steps of a log that show it."""

    shows: str
    short: str
    steps: Callable[[LogData], list[str]]


def _as_heavy_tails(log_data: LogData) -> list[str]:
    noise, head = log_data.metrology.noise, log_data.started.body if log_data.started else {}
    own = [
        one
        for step, one in log_data.measured.items()
        if one.covariance is not None and step not in log_data.series and not step.startswith(WARM_UP)
    ]
    if Flicker.of(head) != Flicker():  # what makes them unlike is known, and a source of its own
        return []
    if noise is None or noise.dof > AGREEING_DOF or sum(one.figures - 1 for one in own) < ENOUGH_DOF:
        return []
    return [one.step for one in own]


def _of_kinds(log_data: LogData, *kinds: str) -> list[StepData]:
    """The steps of the blocks of these kinds."""
    head = log_data.started.body if log_data.started else {}
    names = {str(block["name"]) for block in head.get("blocks") or () if block["kind"] in kinds}
    return [one for one in log_data.measured.values() if one.block in names]


def _read_twice(log_data: LogData) -> list[str]:
    steps = _of_kinds(log_data, "grayscale", "uniformity")
    return [one.step for one in steps if one.figures == 2 and one.step not in log_data.precisions]


def _read_to_a_repeatability(log_data: LogData) -> list[str]:
    return [one.step for one in _of_kinds(log_data, "grayscale", "uniformity") if one.step in log_data.precisions]


def _dark_on_a_drifting_light(log_data: LogData) -> list[str]:
    cells = [one for one in _of_kinds(log_data, "contrast") if one.labels.get("kind") == "checkerboard"]
    steps = [one for one in cells if one.influences]
    if not steps:
        return []
    from benchd.analysis.drift.compensation import OF_BLACK  # of compensated logs only

    return [one.step for one in steps if any(source.name == OF_BLACK for source, _ in one.influences)]


KNOWN = (
    Shortfall(
        shows="two readings of each patch",
        short="95 % intervals of non-uniformity, fitted gamma and the median colour difference held the truth in "
        "92.6 to 92.9 % of cases",
        steps=_read_twice,
    ),
    Shortfall(
        shows="greys or places read to a repeatability",
        short="95 % intervals of mean and median colour differences (few greys) and of the deviations of places (slow "
        "panels) held the truth in about 92 % of cases; those of black, on slow panels, were up to 1.35 times as wide "
        "as need be",
        steps=_read_to_a_repeatability,
    ),
    Shortfall(
        shows="black that may follow the drift of a compensated light, or not",
        short="checkerboard contrasts had intervals 1.6 times as wide as need be",
        steps=_dark_on_a_drifting_light,
    ),
    Shortfall(
        shows="standard deviations of steps of like light differ as with heavy tails (readings far off the others)",
        short="ratios of luminances (contrast, uniformity, gamma) had intervals up to 1.5 times as wide as need be",
        steps=_as_heavy_tails,
    ),
)


def coverage_doubts(log_data: LogData) -> tuple[Doubt, ...]:
    """A doubt for each known shortfall that the log shows, with its steps."""
    found = []
    for known in KNOWN:
        if steps := known.steps(log_data):
            text = f"{known.shows}: in trials with simulated displays, {known.short}"
            found.append(Doubt(ABOUT, text, tuple(steps)))
    return tuple(found)
