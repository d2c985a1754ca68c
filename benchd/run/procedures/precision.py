"""Readings until a repeatability is reached; the adaptive reading decides how long and how many."""

from __future__ import annotations

from functools import partial

from benchd.plan.step import Step
from benchd.run.rig import Performed, StepRig


def perform(step: Step, rig: StepRig) -> Performed:
    """The patch before it as the lead-in, since a patch settles from what was shown before; then show and read."""
    lead_in = rig.adaptive.lead_in(rig.index)
    if lead_in is not None and lead_in[0] != rig.on_screen:
        rig.put(lead_in[0])
        rig.sleep(lead_in[1])
    rig.show()
    settled = partial(rig.record, "settled")
    readings, more = rig.adaptive.read(step, rig.index, rig.read_rested, settled, rig.sleep)
    is_settled = bool(more.get("precision", {}).get("settled", True))
    return Performed({"readings": len(readings), **more}, readings, settled=is_settled)
