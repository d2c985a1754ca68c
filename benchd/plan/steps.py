"""Plan -> steps. Deterministic: the same plan text gives the same steps, ids and digest, always.

Order. Blocks stand as the plan lists them. Within a block:

- a place is gone to once: all patches of a place follow each other, and the places go row by row, there and
  back (serpentine), because the operator moves the meter; the place where the meter stands already comes first (the
  centre at the start of a plan), so that moves are fewest;
- at one place, ``order: shuffled`` (seeded) turns drift into noise instead of a shape; ``order: listed`` keeps
  the plan's order, and where places follow each other turns it round at every other place, so that the
  screen changes less; ``order: there_and_back`` goes from dark to bright and back, each patch once (the seed says on
  which way), so that steps are small and drift does not go with brightness;
- a block of only black and white shows black first: an emissive panel may keep white for a while.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from benchd.patch.model import field, grey, max_code
from benchd.plan.blocks import Block, ReadingSettings
from benchd.plan.layout import level_code
from benchd.plan.measurement import plan_part
from benchd.plan.offset_readings import offset_entries, with_offset_readings
from benchd.plan.plan import Plan, Reference, treatment
from benchd.plan.step import CENTRE, IMPLIED, Step
from benchd.plan.sweep import Point, included, label, points

WARM_UP_PERCENT = 50.0
REFERENCE = "reference"
READING_S, DARK_READING_S = 0.6, 2.0  # planned time of a reading when the meter decides


def expand(plan: Plan, files: Mapping[str, str]) -> tuple[Step, ...]:
    """The steps of ``plan``. ``files``: the text of every CSV file that it names (`Plan.files`), by that name.

    Raises `ProfileError` for a fault in a CSV file and KeyError for a file that is not there.
    """
    steps: list[Step] = []
    if plan.warm_up.limits is not None:
        patch = field(grey(level_code(WARM_UP_PERCENT, plan.bits)), plan.bits)
        steps.append(Step("warm-up", "", "warm_up", patch, {}, readings=1, settle_s=0.0))
    here = CENTRE
    for point in sweep_points(plan):
        own: list[Step] = []
        for block in _blocks_at(plan, point):
            own.extend(plan_part(block.kind).steps(plan, block, files, here))
            here = own[-1].at
        steps.extend(_at_point(step, point) for step in _with_references(plan, own))
    steps = list(with_offset_readings(steps, plan.dark_offset, plan.ambient, plan.bits))
    if plan.signal is not None:  # codes are on its scale
        steps = [replace(step, patch=replace(step.patch, transfer=plan.signal.transfer)) for step in steps]
    return tuple(steps)


def sweep_points(plan: Plan) -> tuple[Point, ...]:
    """The points of the plan's sweep in the order in which they are measured; one empty one without a sweep."""
    return points(plan.sweep, plan.skip, plan.only)


def _blocks_at(plan: Plan, point: Point) -> list[Block]:
    return [block for block in plan.blocks if included(point, block.body.skip, block.body.only)]


def _at_point(step: Step, point: Point) -> Step:
    if not point:
        return step
    prefix = label(point)
    return replace(step, id=f"{prefix}/{step.id}", block=f"{prefix}/{step.block}", settings=point)


def _with_references(plan: Plan, steps: Sequence[Step]) -> Iterator[Step]:
    """Reference readings put in where the planned time since the last one is over and the meter is at the centre."""
    if plan.reference is None:
        yield from steps
        return
    due_s, since_s, number = plan.reference.every_min * 60.0, math.inf, 0
    for step in steps:
        if since_s >= due_s and step.at == CENTRE:
            number, since_s = number + 1, 0.0
            yield _reference(plan, plan.reference, number)
        yield step
        reading_s = step.integration_s or (DARK_READING_S if step.dark else READING_S)
        since_s += step.settle_s + step.readings * reading_s
    if number and plan.reference.compensate:
        # What came after the last one lies between two of them as well.
        yield _reference(plan, plan.reference, number + 1)


def _reference(plan: Plan, reference: Reference, number: int) -> Step:
    code = grey(level_code(reference.percent, plan.bits))
    treated = treatment(plan, ReadingSettings(), code, max_code(plan.bits))
    return treated.step(f"{REFERENCE}/{number}", REFERENCE, field(code, plan.bits), {"number": number})


def describe(plan: Plan, files: Mapping[str, str]) -> list[dict[str, Any]]:
    """The blocks as a log keeps them, for analysis: name, kind, and what must be there to be complete."""
    entries: list[dict[str, Any]] = []
    for point in sweep_points(plan):
        at_point = [
            {"name": block.name, "kind": block.kind, **plan_part(block.kind).describe(plan, block, files)}
            for block in _blocks_at(plan, point)
        ]
        if plan.reference is not None and at_point:
            at_point.append({"name": REFERENCE, "kind": REFERENCE, **plan.reference.model_dump(exclude={"every_min"})})
        for entry in at_point:
            if point:
                entry |= {"base": entry["name"], "settings": dict(point)}
                entry["name"] = f"{label(point)}/{entry['name']}"
        entries.extend(at_point)
    return [*entries, *offset_entries(plan.dark_offset, plan.ambient, plan.subtract)]


def digest(steps: Sequence[Step]) -> str:
    """SHA-256 (hex) of the steps as canonical JSON: the same for the same steps, on every machine."""
    plain = [
        [
            *(step.id, step.block, step.kind, step.labels, step.place, step.at),
            *(step.readings, step.settle_s, step.integration_s, step.dark),
            *(step.patch.kind, step.patch.code, step.patch.bits, step.patch.surround, step.patch.area_percent),
            *(step.patch.columns, step.patch.rows, step.patch.inverse, step.patch.at),
            *step.settings,
            *(step.series or ()),
            *(step.precision or ()),
            *(() if step.procedure in IMPLIED else (step.procedure,)),
            *(() if step.patch.transfer == "sdr" else (step.patch.transfer,)),
        ]
        for step in steps
    ]
    text = json.dumps(plain, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def settings(plan: Plan) -> dict[str, Any]:
    """The plan-wide settings as a log keeps them."""
    keys = ("settle_s", "dark_settle_s", "readings", "dark_readings", "order", "seed", "bits")
    signal: dict[str, Any] = {} if plan.signal is None else {"signal": plan.signal.described()}
    if plan.repeatability is not None:
        signal |= {"repeatability": plan.repeatability, "reading_time_at_most_s": plan.reading_time_at_most_s}
    headline = {"headline": list(plan.headline)} if plan.headline else {}
    return {key: getattr(plan, key) for key in keys} | signal | headline
