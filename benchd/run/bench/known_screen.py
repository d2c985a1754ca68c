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
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from benchd.clock import wall_label
from benchd.errors import BenchdError, InputError, PlanUnfit, SweepUnfit
from benchd.local_time import local_time
from benchd.plan.bench_fit import ScreenReport, correction_fault, fit
from benchd.plan.plan_store import placed
from benchd.profile import profile_store
from benchd.profile.reading.base import Wrong
from benchd.user_folders import state_folder

if TYPE_CHECKING:
    from benchd.patch.screen import ScreenIdentity
    from benchd.plan.plan import Plan
    from benchd.profile.bench import Bench
    from benchd.run.job import BenchJob, Document


class KnownScreen(NamedTuple):
    """What a screen reported of itself, as far as a plan depends on it, and when (wall-clock label)."""

    name: str
    signal: str
    bits: int
    refresh_hz: float
    seen: str


def known_screen(bench: Bench) -> KnownScreen | None:
    """What is known of the screen of ``bench``; None where it was never open, or is another one."""
    try:
        found = json.loads(_path(bench).read_bytes())
        if found["profile"] != _profile(bench):
            return None
        return KnownScreen(**{key: found["screen"][key] for key in KnownScreen._fields[:-1]}, seen=str(found["seen"]))
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
    parts = bench.model_dump(mode="json", include={"screen", "companions"})
    return hashlib.sha256(json.dumps([parts["screen"], parts["companions"]]).encode()).hexdigest()


def refuse_unfit(plan: Plan, bench: BenchJob, source: Document, screen: ScreenReport | None = None) -> tuple[str, ...]:
    """What can't be known before the screen is open, a sentence each.

    ``source``: the text of the plan; ``screen``: as it reports itself now; None: it is to be opened, and only the
    profile of the bench counts. Raises `SweepUnfit` for a sweep that the bench can't set, with the places in the plan;
    else `PlanUnfit` with every reason. Both name the benches here that can run it.
    """
    found = fit(plan, bench.bench, screen, bench.correction, wall_label()[:10])
    if found.fits:
        return found.unknown
    name, can = bench.bench.bench, benches_for(plan)
    if not found.of_sweep:
        reasons = "; ".join(found.refusals)
        raise PlanUnfit(f"{name} can't run {plan.plan}: {reasons}. Benches here that can: {can or 'none'}")
    head = "; ".join(found.refusals)
    # Where no bench can set the sweep, it is the plan that is wrong.
    head += f"{'; ' if head and can else ''}{f'benches here that can: {can}' if can else ''}"
    at_large = [Wrong((), f"{name} can't run {plan.plan}: {head}")] if head else []
    raise SweepUnfit(placed((*at_large, *found.of_sweep), source.text, source.file))


def benches_for(plan: Plan) -> str:
    """Benches of the working folder, then simulated ones, that can run ``plan`` as far as is known of their screens.

    Empty where none can. The others that come with benchd are patterns for a bench of one's own.
    """
    from benchd.run.job import bench_job  # for a refusal only

    shipped = profile_store.profiles_folder().resolve()
    real: list[str] = []
    simulated: list[str] = []
    for name in profile_store.names("benches"):
        with suppress(BenchdError):
            job = bench_job(name)
            own = not Path(job.documents["bench"].file).resolve().is_relative_to(shipped)
            found = fit(plan, job.bench, known_screen(job.bench), job.correction, wall_label()[:10])
            if (own or job.bench.is_simulated) and found.fits:
                (simulated if job.bench.is_simulated else real).append(name)
    marked = [f"SIMULATED: {', '.join(simulated)}"] if simulated else []
    return "; ".join([*([", ".join(real)] if real else []), *marked])


def refuse_unfit_as_known(plan: Plan, bench: BenchJob, source: Document) -> tuple[str, ...]:
    """`refuse_unfit` where nothing is opened: with the screen as it reported itself when it was last open."""
    if (known := known_screen(bench.bench)) is None:
        return refuse_unfit(plan, bench, source)
    name = f"{known.name} (last opened {local_time(known.seen)}; benchd doctor --bench {bench.bench.bench} opens it)"
    return refuse_unfit(plan, bench, source, known._replace(name=name))


def refuse_correction(job: BenchJob) -> None:
    """Raises `InputError` when a run must not begin with the bench's correction, as far as the files show."""
    if job.correction is not None and (unfit := correction_fault(job.bench, job.correction, wall_label()[:10])):
        raise InputError(unfit)
