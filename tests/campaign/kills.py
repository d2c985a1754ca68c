"""SIGKILL of the running sequencer at drawn instants (not only between records), then resume, then compare.

In this process's forks over the simulated bench without ports, so that a thousand take minutes; kills of the real
processes are among the faults.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from random import Random

from benchd.clock import StopRequest
from benchd.report.terminal.compare_options import difference
from benchd.run.job import PlanJob, plan_job
from benchd.run.log.journal import LogFile
from benchd.run.plausible import Bounds
from benchd.run.rig import Outcome
from benchd.run.sequencer import Sequencer
from sim.inprocess import SimControls, scene_of
from tests.campaign.case import PLANS, ROOT
from tests.run.kill_anywhere import results, started
from tests.run.scene_rig import SceneRig, session_log

DISPLAY = "office-lcd"
MAX_SESSIONS = 40


def session(job: PlanJob, path: Path) -> Outcome:
    """One session: from the start, or from what a killed one left."""
    scene = scene_of(DISPLAY)
    rig = SceneRig(scene, controls=SimControls(scene))
    if path.exists() and b"\n" not in path.read_bytes():
        path.unlink()
    bounds = Bounds(rig.meter.identify().floor_cd_m2, rig.meter.identify().ceiling_cd_m2)
    with session_log(path, rig.clock, started(job, rig)) as (out, state):
        return Sequencer(job.steps, state, rig, out, StopRequest(), job.plan.warm_up.limits, bounds=bounds).run()


def _killed_after(job: PlanJob, path: Path, seconds: float) -> bool:
    """True when the session was killed so long after its start; False when it was done before."""
    child = os.fork()
    if child == 0:
        code = 70
        try:
            code = 0 if session(job, path).complete else 3
        finally:
            os._exit(code)
    time.sleep(seconds)
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status) or os.WEXITSTATUS(status) == 0, "the session itself went wrong"
    return os.WIFSIGNALED(status)


def _kills(count: int, seed: int) -> tuple[int, int]:
    """So many kills; (how many hit a running session, how many runs differed or lost a record)."""
    generator, hits, wrong, number = Random(seed), 0, 0, 0
    memory = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
    with tempfile.TemporaryDirectory(prefix="kills-", dir=memory) as name:
        folder = Path(name)
        (folder / "plan.yaml").write_text(PLANS["virtual"])
        job = plan_job(str(folder / "plan.yaml"))
        whole = folder / "whole.log"
        began_s = time.monotonic()
        assert session(job, whole).complete
        lasts_s = time.monotonic() - began_s
        wanted = results(whole)
        while hits < count:
            number += 1
            path, kept, sessions = folder / f"{number}.log", b"", 0
            # Often in one run, at any instant of it.
            while hits < count and sessions < MAX_SESSIONS and _killed_after(job, path, generator.random() * lasts_s):
                hits, sessions = hits + 1, sessions + 1
                data = path.read_bytes() if path.exists() else b""
                if not data.startswith(kept):
                    wrong += 1
                    print(f"seed {seed}, run {number}: records were lost")
                kept = data[: data.rfind(b"\n") + 1]
            records = list(LogFile(path).records()) if path.exists() and kept else []
            if not records or records[-1].kind != "ended":
                session(job, path)
            if differing := difference(wanted, results(path)):
                wrong += 1
                print(f"seed {seed}, run {number}, {sessions} kills: {differing[:3]}")
            path.unlink()
    return hits, wrong


def kill_at_random(count: int, seed: int) -> tuple[int, int]:
    """As `_kills`, in a process of its own: to fork wants one thread."""
    command = [sys.executable, "-m", "tests.campaign.kills", str(count), str(seed)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    print(done.stdout, end="")
    assert done.returncode in (0, 1), done.stderr
    hits, wrong = done.stdout.splitlines()[-1].split()[1::2]
    return int(hits), int(wrong)


if __name__ == "__main__":
    found = _kills(int(sys.argv[1]), int(sys.argv[2]))
    print(f"killed {found[0]} wrong {found[1]}")
    sys.exit(min(1, found[1]))
