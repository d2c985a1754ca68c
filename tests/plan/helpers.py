"""Short ways to a plan. Every plan in these tests is invented."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from benchd.errors import ProfileError
from benchd.plan.plan import Plan
from benchd.plan.plan_store import load_plan
from benchd.plan.step import Step
from benchd.plan.steps import expand

HEAD = "plan: invented\nwarm_up: none\n"


def no_file(name: str) -> str:
    """The reader of a plan that has no files."""
    raise FileNotFoundError(2, "No such file or directory", name)


def plan_of(blocks: str, head: str = HEAD, files: Mapping[str, str] | None = None) -> Plan:
    """A plan with ``blocks`` as the text below ``blocks:``."""
    reader = no_file if files is None else files.__getitem__
    return load_plan(f"{head}blocks:\n{blocks}\n", "invented.yaml", reader)


def steps_of(blocks: str, head: str = HEAD, files: Mapping[str, str] | None = None) -> tuple[Step, ...]:
    """Its steps."""
    return expand(plan_of(blocks, head, files), files or {})


def faults(text: str, files: Mapping[str, str] | None = None) -> list[str]:
    """The lines that the operator sees for a faulty plan."""
    reader = no_file if files is None else files.__getitem__
    with pytest.raises(ProfileError) as caught:
        load_plan(text, "night.yaml", reader)
    return str(caught.value).splitlines()
