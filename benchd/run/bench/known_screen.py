"""Refuses a plan that the bench can't run, by what its screen reports, or reported when it was last open.

At a submission, before a run and once its screen is open. What a screen reported is kept for checks that open nothing:
one small file a bench, in the user's state folder. It holds for the screen that the bench profile names now: with
another screen or another companion in the profile, nothing is known.
"""

from __future__ import annotations

import hashlib
import json
import os
from contextlib import suppress
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from benchd.clock import wall_label
from benchd.errors import InputError, PlanUnfit
from benchd.plan.bench_fit import correction_fault, fit
from benchd.user_folders import state_folder

if TYPE_CHECKING:
    from benchd.patch.screen import ScreenIdentity
    from benchd.plan.plan import Plan
    from benchd.profile.bench import Bench
    from benchd.run.job import BenchJob


class KnownScreen(NamedTuple):
    """A screen's report, and when it was made (wall-clock label)."""

    identity: ScreenIdentity
    seen: str


def known_screen(bench: Bench) -> KnownScreen | None:
    """What is known of the screen of ``bench``; None where it was never open, or is another one."""
    try:
        found = json.loads(_path(bench).read_bytes())
        if found["profile"] != _profile(bench):
            return None
        from benchd.patch.screen import ScreenIdentity  # before it was open once, nothing is known

        return KnownScreen(ScreenIdentity(**found["screen"]), str(found["seen"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None


def keep_known_screen(bench: Bench, screen: ScreenIdentity) -> None:
    """Keep what ``screen`` reported. A folder that can't be written costs that knowledge only."""
    path = _path(bench)
    fresh = path.with_name(f".{path.name}.{os.getpid()}")
    body = {"profile": _profile(bench), "seen": wall_label(), "screen": asdict(screen)}
    with suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        with fresh.open("w", encoding="utf-8") as stream:
            json.dump(body, stream)
            stream.flush()
            os.fsync(stream.fileno())
        fresh.replace(path)


def _path(bench: Bench) -> Path:
    return state_folder() / bench.bench / "screen.json"


def _profile(bench: Bench) -> str:
    """A digest of what decides which screen is opened."""
    text = json.dumps([bench.screen.model_dump(mode="json"), [one.model_dump() for one in bench.companions]])
    return hashlib.sha256(text.encode()).hexdigest()


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
    if (known := known_screen(bench.bench)) is None:
        return refuse_unfit(plan, bench)
    name = f"{known.identity.name} (last opened {known.seen[:16]}Z; benchd doctor --bench {bench.bench.bench} opens it)"
    return refuse_unfit(plan, bench, replace(known.identity, name=name))


def refuse_correction(job: BenchJob) -> None:
    """Raises `InputError` when a run must not begin with the bench's correction, as far as the files show."""
    if job.correction is not None and (unfit := correction_fault(job.bench, job.correction, wall_label()[:10])):
        raise InputError(unfit)
