"""What is listed of a plan before it runs is what the run does: steps, moves and settings, in their order."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.plan.estimate import estimate
from benchd.plan.run_order import before_each, run_order
from benchd.profile.timing import AnyBench
from tests.plan.helpers import plan_of
from tests.plan.helpers import steps_of as expanded
from tests.run.rig import ScriptedControl, ScriptedPositioner, ScriptedRig, run

BLOCKS = ("luminance: {}", "uniformity: {grid: 2x1, levels_percent: [100]}", "uniformity: {name: odd, grid: 1x3}")
HEADS = ("", "sweep: [{control: brightness, values: [20, 100]}]\n", "dark_offset: {}\n")


@settings(deadline=None, max_examples=15)
@given(
    blocks=st.lists(st.sampled_from(BLOCKS), min_size=1, unique=True),
    head=st.sampled_from(HEADS),
    by=st.sampled_from(["operator", "mover"]),
)
def test_a_run_does_what_the_plan_lists(blocks: list[str], head: str, by: str) -> None:
    head = f"plan: p\nwarm_up: none\n{head}"
    text = "\n".join(f"  - {block}" for block in blocks)
    manual = by == "operator"
    planned = expanded(text, head)
    steps = run_order(planned, manual_moves=manual)
    assert sorted(step.id for step in steps) == sorted(step.id for step in planned)
    assert run_order(steps, manual_moves=manual) == steps
    before = before_each(steps, manual_moves=manual)
    rig = ScriptedRig(positioner=ScriptedPositioner(by=by))
    rig.controls["brightness"] = ScriptedControl("brightness", 20, by="operator")
    with TemporaryDirectory() as folder:
        outcome, records = run(Path(folder) / "run.log", steps, rig)
    assert outcome.complete
    made = [(record.kind, record.step) for record in records if record.kind in ("set", "moved", "done")]
    listed: list[tuple[str, str]] = []
    for step, one in zip(steps, before, strict=True):
        listed += [("set", step.id)] * len(one.settings) + [("moved", step.id)] * one.moved + [("done", step.id)]
    if not manual and all(step.at == steps[0].at for step in steps):
        listed.insert(listed.index(("done", steps[0].id)), ("moved", steps[0].id))  # where a mover stands is not known
    assert made == listed
    found = estimate(planned, AnyBench().timing, plan_of(text, head), manual_moves=manual, set_manually=["brightness"])
    assert found.moves == sum(one.moved for one in before)
    assert found.manual_settings == sum(record.kind == "set" for record in records)
