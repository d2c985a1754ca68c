"""Refuses a plan that the bench can't run: at a submission, before a run and once its screen is open."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from benchd.clock import wall_label
from benchd.errors import PlanUnfit
from benchd.plan.bench_fit import fit
from benchd.run.bench.known_screen import known_screen

if TYPE_CHECKING:
    from benchd.patch.screen import ScreenIdentity
    from benchd.plan.plan import Plan
    from benchd.run.job import BenchJob


def refuse_unfit(plan: Plan, bench: BenchJob, screen: ScreenIdentity | None = None) -> tuple[str, ...]:
    """What can't be known before the screen is open, a sentence each. Raises `PlanUnfit` with every reason.

    ``screen``: as it reports itself now; None: it is to be opened, and only the profile of the bench counts.
    """
    found = fit(plan, bench.bench, screen, bench.correction, wall_label()[:10])
    if found.refusals:
        raise PlanUnfit("; ".join(found.refusals))
    return found.unknown


def refuse_unfit_as_known(plan: Plan, bench: BenchJob) -> tuple[str, ...]:
    """`refuse_unfit` where nothing is opened: with the screen as it reported itself when it was last open."""
    known = known_screen(bench.bench)
    if known is None:
        return refuse_unfit(plan, bench)
    name = f"{known.identity.name} (last opened {known.seen[:16]}Z; benchd doctor --bench {bench.bench.bench} opens it)"
    return refuse_unfit(plan, bench, replace(known.identity, name=name))
