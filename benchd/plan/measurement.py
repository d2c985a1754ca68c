"""What a measurement gives a plan: its keys, its steps, and what a log keeps of its block."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from benchd.errors import BenchdError
from benchd.measurements import registry
from benchd.plan.blocks import Block, BlockBody
from benchd.plan.plan import Plan, SignalRule
from benchd.plan.step import At, Step
from benchd.profile.profile_store import ProfileStore
from benchd.profile.reading.base import Path

Files = Mapping[str, str]
"""The text of every file that a plan names, by its name there, and of the profiles it needs (``spaces/srgb``)."""


def needs_no_profile(plan: Plan, block: Block) -> Iterator[tuple[Path, ProfileStore, str]]:
    """A block that names no other profile."""
    return iter(())


@dataclass(frozen=True, slots=True)
class PlanPart:
    """One kind of measurement, on the side of the plan.

    ``model``     its keys; the first line of its docstring states what is measured
    ``steps``     (plan, block, files, where the meter stands before it) -> its steps
    ``describe``  what a log keeps of the block for analysis, beside its name and kind
    ``example``   the smallest block that measures something, as YAML reads it
    ``signal``    whether a plan with a signal may have it
    ``profiles``  the profiles that it names: where in the block (a path of keys), which store, which name
    ``roles``     instruments that it needs
    ``undone``    checks of `benchd.testing` that are known to fail -> the reason; one that passes is a fault
    """

    model: type[BlockBody]
    steps: Callable[[Plan, Block, Files, At], Iterator[Step]]
    describe: Callable[[Plan, Block, Files], dict[str, Any]]
    example: Mapping[str, Any]
    signal: SignalRule = "sdr"
    profiles: Callable[[Plan, Block], Iterator[tuple[Path, ProfileStore, str]]] = needs_no_profile
    roles: tuple[str, ...] = ("meter",)
    undone: Mapping[str, str] = field(default_factory=dict)


def plan_part(kind: str) -> PlanPart:
    """The plan side of a kind; an installed one raises `PackageError` where its own code fails."""
    found: PlanPart = registry.part(kind, "plan")
    if registry.is_built_in(kind):
        return found
    own: dict[str, Any] = {name: _guarded(kind, getattr(found, name)) for name in ("steps", "describe", "profiles")}
    return replace(found, **own)


def _guarded(kind: str, function: Callable[..., Any]) -> Callable[..., Any]:
    def called(*arguments: Any) -> Any:
        try:
            made = function(*arguments)
            return list(made) if isinstance(made, Iterator) else made
        except BenchdError:
            raise
        except Exception as error:
            raise registry.broken(kind, error) from error

    return called
