"""Colours against a space in a plan: their keys and their steps."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from benchd.measurements.colours.keys import BLACK, WHITE, Colours
from benchd.measurements.colours.listed import of_what, space_fields, wanted
from benchd.patch.model import grey, max_code
from benchd.plan.blocks import Block
from benchd.plan.layout import level_code, ordered, step, window
from benchd.plan.measurement import Files, PlanPart
from benchd.plan.plan import Plan
from benchd.plan.step import At, Step
from benchd.profile.colour_codes import ColourSpace
from benchd.profile.profile_store import ProfileStore
from benchd.profile.reading.base import Path


def steps(plan: Plan, block: Block, files: Files, here: At) -> Iterator[Step]:
    """The steps of a list of colours: white, black where the curve needs it, and every colour."""
    colours: Colours = block.body
    surround = grey(level_code(colours.surround_percent, plan.bits))
    space = ColourSpace(space_fields(plan, colours, files))
    listed = [(one.name, one.code) for one in wanted(plan, block, colours, files)]
    listed += [(WHITE, grey(max_code(plan.bits)))]
    if space.curve == "bt1886":
        listed.append((BLACK, grey(0)))
    for name, code in ordered(plan, block, listed, key=lambda item: item[0]):
        patch = window(code, plan.bits, colours.area_percent, surround)
        yield step(plan, block, name, patch, {"name": name}, patch.code)


def describe(plan: Plan, block: Block, files: Files) -> dict[str, Any]:
    """What a log keeps of a list of colours: each with its codes and the colour that was wanted."""
    colours: Colours = block.body
    words, source = of_what(plan, colours, files)
    return {
        "list": words,
        "source": source,
        "space": space_fields(plan, colours, files),
        "aim": colours.aim,
        "white": colours.white,
        "adaptation": colours.adaptation,
        "also": list(colours.also),
        "bits": plan.bits,
        "area_percent": colours.area_percent,
        "surround_percent": colours.surround_percent,
        "patches": [
            {"name": one.name, "code": list(one.code), "aim": list(one.aim), "outside": one.outside}
            for one in wanted(plan, block, colours, files)
        ],
    }


def _profiles(plan: Plan, block: Block) -> Iterator[tuple[Path, ProfileStore, str]]:
    """The chart, and the space that makes the codes: its own or the plan's target."""
    colours: Colours = block.body
    if colours.chart is not None:
        yield ("chart",), "charts", colours.chart
    if colours.space is not None:
        yield ("space",), "spaces", colours.space
    else:
        yield (), "targets", plan.target


PART = PlanPart(Colours, steps, describe, example={"saturations": [100]}, profiles=_profiles)
