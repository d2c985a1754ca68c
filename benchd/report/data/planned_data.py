"""A plan before it runs as data, for scripts: the shape ``benchd.planned/2``.

::

    {"schema": "benchd.planned/2", "plan": name, "bench": name, "simulated": bool, "notice": "SIMULATED" or "",
     "faults": [],
     "steps": count, "readings": count, "moves": count,
     "warm_up": {"minimum_s": number, "maximum_s": number},
     "time": {"minimum_s": number, "maximum_s": number, "operator_s": number},
       warm-up included; operator_s: from the first move or setting that the operator makes after the first step
       to the last
     "manual_blocks": [name of block, ...],   in which the operator moves the meter
     "manual_settings": count,                how often the operator sets a control of the display
     "cautions": [sentence, ...],
     "blocks": [{"block": name, "kind": name, "steps": count, "readings": count, "moves": count, "time_s": number}],
     "list": null or, with --steps, in the order of the run
       [{"step": id, "block": name, "kind": "measure" or "warm_up", "patch": {kind, code, bits, surround, ...},
         "place": name, "at": [x, y] fractions of the screen, "move": bool, "settings": {control: value},
         "set": {control: value} that is set before it,
         "readings": count, "settle_s": number, "integration_s": number or null, "dark": bool,
         "repeatability_percent": number or null, "at_most_s": number or null, "series_s": number or null}]}

``readings`` of a step that is read to a precision or over time is what is supposed; 0 of the warm-up. A plan with
faults gives only ``schema``, ``plan`` as it was asked for, and
``"faults": [{"file": path, "line": 1..., "column": 1..., "text": sentence}]``. Times are seconds of bench time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from benchd.errors import Fault
from benchd.report.words import SIMULATED

if TYPE_CHECKING:
    from benchd.plan.estimate import Estimate
    from benchd.plan.run_order import Before
    from benchd.plan.step import Step

SCHEMA = "benchd.planned/2"

Json = dict[str, Any]


def planned_json(
    estimate: Estimate,
    *,
    plan: str,
    bench: str,
    simulated: bool,
    cautions: Sequence[str],
    steps: Sequence[Step] | None,
    before: Sequence[Before] = (),
) -> Json:
    """The plan as data; ``steps`` None leaves the list out. Arguments as of `terminal.planned.render_plan`."""
    every = None if steps is None else [_step(*one) for one in zip(steps, before, strict=True)]
    return {
        "schema": SCHEMA,
        "plan": plan,
        "bench": bench,
        "simulated": simulated,
        "notice": SIMULATED if simulated else "",
        "faults": [],
        "steps": estimate.steps,
        "readings": estimate.readings,
        "moves": estimate.moves,
        "warm_up": {
            "minimum_s": estimate.warm_up_minimum_s,
            "maximum_s": estimate.warm_up_maximum_s,
            "consecutive_s": estimate.consecutive_s,
        },
        "time": {"minimum_s": estimate.minimum_s, "maximum_s": estimate.maximum_s, "operator_s": estimate.operator_s},
        "manual_blocks": list(estimate.manual_blocks),
        "manual_settings": estimate.manual_settings,
        "cautions": list(cautions),
        "blocks": [
            {
                "block": block.name,
                "kind": block.kind,
                "steps": block.steps,
                "readings": block.readings,
                "moves": block.moves,
                "time_s": block.seconds,
            }
            for block in estimate.blocks
        ],
        "list": every,
    }


def faults_json(plan: str, faults: Sequence[Fault]) -> Json:
    """Why there is no such plan."""
    return {"schema": SCHEMA, "plan": plan, "faults": [fault._asdict() for fault in faults]}


def _step(step: Step, before: Before) -> Json:
    precision, series = step.precision, step.series
    return {
        "step": step.id,
        "block": step.block,
        "kind": step.kind,
        "patch": asdict(step.patch),
        "place": step.place,
        "at": list(step.at),
        "move": before.moved,
        "settings": dict(step.settings),
        "set": dict(before.settings),
        "readings": 0 if step.kind == "warm_up" else step.readings,
        "settle_s": step.settle_s,
        "integration_s": step.integration_s,
        "dark": step.dark,
        "repeatability_percent": None if precision is None else 100.0 * precision.repeatability,
        "at_most_s": None if precision is None else precision.at_most_s,
        "series_s": None if series is None else series.for_s,
    }
