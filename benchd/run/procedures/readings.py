"""A count of readings, after the patch has settled."""

from __future__ import annotations

from benchd.plan.step import Step
from benchd.run.rig import Performed, StepRig


def perform(step: Step, rig: StepRig) -> Performed:
    """Show, settle, read as often as the plan states."""
    rig.show()
    rig.sleep(step.settle_s)
    readings = [rig.read_rested(step, number) for number in range(1, step.readings + 1)]
    return Performed({"readings": len(readings)}, readings)
