"""Kill a run with SIGKILL after each of its records, resume it from the log, compare the results.

A program of its own: it forks, and that wants a process with one thread. ``python -m tests.run.kill_anywhere
PLAN FIRST LAST [EVERY]`` kills after the records FIRST to LAST (inclusive) of the plan, or after every EVERYth of
them, and prints one line for each record whose results differ, then a summary line.

Analysis is pure: what it reads of a log decides all results. So after each record that is compared, which is quick,
and the results themselves, figure by figure, after drawn ones.
"""

from __future__ import annotations

import os
import random
import re
import signal
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from benchd.analysis.analyse import analyse
from benchd.analysis.log.log_data import collect
from benchd.clock import StopRequest
from benchd.measurements import registry
from benchd.plan import steps as plan_steps
from benchd.report.data.document import to_json
from benchd.report.data.log_reference import LogReference
from benchd.report.terminal.compare_options import difference
from benchd.run.job import PlanJob, plan_job
from benchd.run.log import journal
from benchd.run.log.journal import LogFile
from benchd.run.log.records import RunState, advance
from benchd.run.rig import Outcome
from benchd.run.sequencer import Sequencer
from sim.inprocess import scene_of
from tests.run.scene_rig import SceneRig

ROOT = Path(__file__).resolve().parents[2]
KILL_EVERY = 97
"""Records between two kills of one run: more than the warm-up, the longest step, so that each session gets on."""


DRAWN = 12
"""Of how many killed runs the whole results are compared."""
_APART = ("session", "mono_ns", "read_ns", "records", "placing", "metrology")
"""Of a step: when it was read, where in the log, and how often the meter had been moved, which differ after a
resume; the metrology is compared once."""


def started(job: PlanJob, rig: SceneRig) -> dict[str, Any]:
    """A first record, as far as analysis reads it."""
    return {
        "plan": job.document._asdict(),
        "steps": len(job.steps),
        "steps_digest": plan_steps.digest(job.steps),
        "blocks": plan_steps.describe(job.plan, job.files),
        "measurements": registry.provenance(block.kind for block in job.plan.blocks),
        "target": job.target.normalised(),
        "settings": plan_steps.settings(job.plan),
        "sample": "kill",
        "note": "",
        **rig.identities(),
        "virtual_time": True,
        "versions": {},
    }


def session(job: PlanJob, path: Path, display: str, kill_after: int = 0) -> Outcome:
    """One session of a run; with ``kill_after`` this very process is killed once that record is on disk."""
    rig = SceneRig(scene_of(display))  # freshly started, as after a power cut
    if path.exists():
        out, state, _ = journal.reopen(path, rig.clock, "next")
        _arm(out, kill_after)
        advance(state, out.append("resumed"))
    else:
        out, state = journal.create(path, rig.clock, "first"), RunState()
        _arm(out, kill_after)
        advance(state, out.append("started", body=started(job, rig)))
    outcome = Sequencer(job.steps, state, rig, out, StopRequest(), job.plan.warm_up.limits).run()
    out.close()
    return outcome


def _arm(out: journal.Journal, kill_after: int) -> None:
    acknowledged = 0
    sync = out._sync

    def sync_then_die(descriptor: int) -> None:
        nonlocal acknowledged
        sync(descriptor)
        acknowledged += 1
        if acknowledged == kill_after:
            os.kill(os.getpid(), signal.SIGKILL)

    out._sync = sync_then_die


def results(path: Path) -> dict[str, Any]:
    """The results of a log as JSON."""
    file = LogFile(path)
    return to_json(analyse(file.records()), LogReference(str(path), file.sha256))


def read(path: Path) -> tuple[object, ...]:
    """All that analysis reads of a log, but for when and in which record: the order of the steps too."""
    log_data = collect(LogFile(path).records())
    steps = [measured._replace(**dict.fromkeys(_APART)) for measured in log_data.measured.values()]
    set_to = {(one.step, one.control): (one.asked, one.read_back, one.by) for one in log_data.settings}
    warm_ups = {step: (body["stable"], log_data.measured[step].n) for step, body in log_data.warm_ups.items()}
    series = {step: [one[:4] for one in readings] for step, readings in log_data.series.items()}
    assert log_data.started is not None
    head = log_data.started.body, log_data.simulated, log_data.ended, log_data.readings, log_data.not_restored
    return head, steps, log_data.metrology, warm_ups, set_to, series, log_data.precisions


def killed(job: PlanJob, path: Path, display: str, after: int) -> bool:
    """Run a session in a child that is killed after so many records; False when it was done before."""
    child = os.fork()
    if child == 0:
        session(job, path, display, after)
        os._exit(0)
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status):
        assert os.WTERMSIG(status) == signal.SIGKILL
        return True
    assert os.WEXITSTATUS(status) == 0
    return False


def main(plan: str, first: int, last: int, every: int = 1, display: str = "office-lcd") -> int:
    """Kill after each of the records; the number of runs whose results differ."""
    job = plan_job(plan)
    bad = 0
    # SIGKILL leaves what the system's cache holds, so a file system in memory shows the same as a disk.
    memory = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
    with tempfile.TemporaryDirectory(prefix="kill-", dir=memory) as folder:
        whole = Path(folder) / "whole.log"
        assert session(job, whole, display).complete
        wanted, wanted_read = results(whole), read(whole)
        total = sum(1 for _ in LogFile(whole).records())
        places = range(first, min(last, total - 1) + 1, every)
        drawn = random.Random(f"{plan} {first}").sample(places, min(DRAWN, len(places)))
        for after in places:
            path = Path(folder) / f"{after}.log"
            assert killed(job, path, display, after)
            assert sum(1 for _ in LogFile(path).records()) == after, "every acknowledged record is there"
            assert session(job, path, display).complete
            same = read(path) == wanted_read
            differing = difference(wanted, results(path)) if after in drawn or not same else []
            if differing or not same:
                bad += 1
                print(f"record {after}: {differing[:3] or 'analysis reads something else'}")
            path.unlink()
        path = Path(folder) / "again-and-again.log"
        sessions = 1
        while killed(job, path, display, KILL_EVERY):
            sessions += 1
            assert sessions < 20, "every session gets further"
        if difference(wanted, results(path)):
            bad += 1
            print(f"killed after every {KILL_EVERY} records: differs")
        end = min(last, total - 1)
        how = (
            f"records {first} to {end} of {total}"
            if every == 1
            else f"every {every}. of records {first} to {end} of {total}"
        )
        print(f"killed {sessions - 1} times in one run, and after {how}: {bad} differ")
    return bad


def none_differs(*arguments: object) -> re.Match[str]:
    """Run this program, and hold that it found no difference: of which records it says so, first, last and all."""
    command = [sys.executable, "-m", "tests.run.kill_anywhere", *map(str, arguments)]
    ran = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stdout + ran.stderr
    said = re.search(r"(\d+) to (\d+) of (\d+): 0 differ", ran.stdout)
    assert said is not None, ran.stdout
    return said


if __name__ == "__main__":
    sys.exit(min(1, main(sys.argv[1], *(int(word) for word in sys.argv[2:]))))
