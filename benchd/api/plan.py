"""What ``plan.py`` of a measurement is made of: the model of its block, and the ways to lay steps."""

from pydantic import Field

from benchd.patch.model import Code, Patch, field, grey, max_code
from benchd.plan.blocks import Block, BlockBody, twice
from benchd.plan.layout import (
    GridCell,
    at_place,
    black_white,
    level_code,
    level_name,
    ordered,
    serpentine,
    step,
    window,
)
from benchd.plan.measurement import Files, PlanPart
from benchd.plan.plan import Plan, SignalRule
from benchd.plan.step import CENTRE, At, Labels, Step
from benchd.profile.reading.base import ProfileModel, Wrong

# fmt: off
__all__ = [
    "CENTRE", "At", "Block", "BlockBody", "Code", "Field", "Files", "GridCell", "Labels", "Patch", "Plan",
    "PlanPart", "ProfileModel", "SignalRule", "Step", "Wrong", "at_place", "black_white", "field", "grey",
    "level_code", "level_name", "max_code", "ordered", "serpentine", "step", "twice", "window",
]
