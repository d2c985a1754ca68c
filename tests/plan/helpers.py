"""Short ways to a plan. Every plan in these tests is invented."""

from __future__ import annotations

from collections.abc import Callable, Mapping

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


def plan_from(text: str) -> Plan:
    """A plan from the whole of its text."""
    return load_plan(text, "p.yaml", no_file)


def steps_from(text: str) -> tuple[Step, ...]:
    """Its steps."""
    return expand(plan_from(text), {})


def steps_of(blocks: str, head: str = HEAD, files: Mapping[str, str] | None = None) -> tuple[Step, ...]:
    """Its steps."""
    return expand(plan_of(blocks, head, files), files or {})


def refusal(load: Callable[..., object], *given: object, **named: object) -> ProfileError:
    """The error by which ``load`` refuses what it is given."""
    with pytest.raises(ProfileError) as caught:
        load(*given, **named)
    return caught.value


def faults(text: str, files: Mapping[str, str] | None = None) -> list[str]:
    """The lines that the operator sees for a faulty plan."""
    reader = no_file if files is None else files.__getitem__
    return str(refusal(load_plan, text, "night.yaml", reader)).splitlines()
