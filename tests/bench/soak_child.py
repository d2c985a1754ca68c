"""One soak in a process of its own, so that its memory is nobody else's.

    python -m tests.bench.soak_child in-process|processes READINGS FOLDER

``in-process``: the real loop and the real log, whose fsync is left out; screen and meter are numbers in this
process. ``processes``: a whole session with its companion, the window's process, the driver and a
pseudo-terminal, and fsync; every now and then the meter is unplugged or the window killed, and opened again.
Prints one JSON line: what it was, and memory and open files of ten moments.
"""

from __future__ import annotations

import json
import os
import signal
import sys
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from time import perf_counter
from types import SimpleNamespace
from typing import Any, Literal, cast

from benchd.clock import StopRequest
from benchd.patch.model import field as full_field
from benchd.patch.model import grey
from benchd.patch.window_screen import WindowScreen
from benchd.plan.step import Step
from benchd.run.bench.open_bench import OpenBench
from benchd.run.job import PlanJob, bench_job, plan_job_from
from benchd.run.log.journal import Journal
from benchd.run.log.records import RunState, advance
from benchd.run.operator_checks import Operator
from benchd.run.plausible import Bounds
from benchd.run.rig import Event, Rig
from benchd.run.sequencer import Sequencer
from benchd.run.session import Observer, start
from sim.inprocess import SceneClock, SimMeter, SimPositioner, SimScreen, scene_of
from tests.bench.process import ROOT

Kind = Literal["in-process", "processes"]

SAMPLES = 10
A_STEP = 1000  # readings of a step, in process
CODES = 24  # so many different patches, again and again
A_PATCH = 100  # readings of a step, in processes
TROUBLE_EVERY = 8  # steps: so often the meter is unplugged, and half way between the window is killed
PAGE_BYTES = os.sysconf("SC_PAGE_SIZE")


@dataclass
class Samples:
    """Memory and open files at equal distances. ``event`` is what the sequencer calls; so every sample is in a step."""

    readings: int
    count: int = 0
    rss_mb: list[float] = field(default_factory=list)
    handles: list[int] = field(default_factory=list)
    others_mb: list[float] = field(default_factory=list)
    others_handles: list[int] = field(default_factory=list)

    def event(self, event: Event) -> None:
        """Count a reading, and look when one tenth more is done."""
        if event.kind != "reading":
            return
        self.count += 1
        if self.count * SAMPLES < self.readings * (len(self.rss_mb) + 1) or len(self.rss_mb) == SAMPLES:
            return
        others = _children(os.getpid())
        self.rss_mb.append(_rss_mb(os.getpid()))
        self.handles.append(_handles(os.getpid()))
        self.others_mb.append(sum(map(_rss_mb, others)))
        self.others_handles.append(sum(map(_handles, others)))


def _rss_mb(process: int) -> float:
    """Resident memory, after proc_pid_statm(5)."""
    return int(Path(f"/proc/{process}/statm").read_text().split()[1]) * PAGE_BYTES / 1048576.0


def _handles(process: int) -> int:
    # The folder itself is open while it is read, in every sample alike.
    return len(os.listdir(f"/proc/{process}/fd"))


def _children(process: int) -> list[int]:
    """Its children and theirs, after proc_pid_task_children(5)."""
    found: list[int] = []
    for task in os.listdir(f"/proc/{process}/task"):
        for child in Path(f"/proc/{process}/task/{task}/children").read_text().split():
            found += [int(child), *_children(int(child))]
    return found


def in_process(readings: int, folder: Path) -> tuple[Samples, RunState, Path, str]:
    """The loop and the log alone."""
    scene = scene_of()
    meter = SimMeter(scene, instant=True)
    rig = SimpleNamespace(
        clock=SceneClock(scene),
        screen=SimScreen(scene),
        meter=meter,
        positioner=SimPositioner(scene),
        controls={},
        reopen_meter=lambda: None,
        reopen_screen=lambda: None,
    )
    samples, log, state = Samples(readings), folder / "soak.log", RunState()
    descriptor = os.open(log, os.O_CREAT | os.O_EXCL | os.O_RDWR | os.O_APPEND | os.O_CLOEXEC, 0o644)
    journal = Journal(log, descriptor, "soak", rig.clock, 0, 0, sync=lambda descriptor: None)
    try:
        advance(state, journal.append("started"))
        who = meter.identify()
        steps = list(_steps(readings // A_STEP))
        outcome = Sequencer(
            steps,
            state,
            cast(Rig, rig),
            journal,
            StopRequest(),
            bounds=Bounds(who.floor_cd_m2, who.ceiling_cd_m2),
            watch=samples.event,
        ).run()
        assert outcome.complete, outcome.why
    finally:
        journal.close()
    return samples, state, log, f"without fsync; {CODES} different patches"


def _steps(count: int) -> Iterable[Step]:
    for number in range(count):
        patch = full_field(grey(255 * (number % CODES) // (CODES - 1)))
        labels: dict[str, str | int | float] = {"name": f"n{number}"}
        yield Step(f"patches/n{number}", "patches", "readings", patch, labels, readings=A_STEP)


def processes(readings: int, folder: Path) -> tuple[Samples, RunState, Path, str]:
    """A session as `benchd run` starts it, with parts that are lost and opened again."""
    samples, log = Samples(readings), folder / "soak.log"
    job = _job(readings // A_PATCH)
    seen: dict[str, Any] = {}
    killed = 0

    def opened(bench: OpenBench, job: PlanJob, state: RunState) -> None:
        seen.update(bench=bench, state=state)

    def event(event: Event) -> None:
        nonlocal killed
        samples.event(event)
        if event.kind == "step" and event.index % TROUBLE_EVERY == TROUBLE_EVERY // 2:
            screen = seen["bench"].screen
            assert isinstance(screen, WindowScreen)
            os.kill(screen.pid, signal.SIGKILL)
            killed += 1

    # In the middle of a step, which is then begun again.
    unplugged = [
        f"reading:{number * A_PATCH + A_PATCH // 2}:unplug"
        for number in range(TROUBLE_EVERY, len(job.steps), TROUBLE_EVERY)
    ]
    profile = folder / "soak-bench.yaml"
    text = (ROOT / "profiles" / "benches" / "sim-office.yaml").read_text()
    whole = text.replace('--seed, "7"', ", ".join(['--seed, "7"', *(f'--fault, "{fault}"' for fault in unplugged)]))
    profile.write_text(whole.replace("bench: sim-office", "bench: soak-bench"))
    outcome = start(
        job,
        bench_job(str(profile)),
        log,
        Operator(),
        Observer(opened, event),
        sample="soak",
    )
    assert outcome.complete, outcome.why
    profile.unlink()
    about = f"{len(unplugged)} times the meter was unplugged and {killed} times the window killed, and opened again"
    return samples, seen["state"], log, about


def _job(steps: int) -> PlanJob:
    rows = [f"n{number},{code},{code},{code}" for number in range(steps) for code in [255 * (number % CODES) // CODES]]
    text = (
        "plan: soak\ntarget: srgb\nwarm_up: none\nsettle_s: 0.6\ndark_settle_s: 0.6\n"
        f"readings: {A_PATCH}\ndark_readings: {A_PATCH}\nblocks:\n  - patches: {{file: soak.csv}}\n"
    )
    return plan_job_from("soak.yaml", text, {"soak.csv": "\n".join(["name,red,green,blue", *rows, ""])})


def main(kind: str, readings: int, folder: Path) -> dict[str, Any]:
    """Soak, and take the log away again."""
    began_s = perf_counter()
    samples, state, log, about = (in_process if kind == "in-process" else processes)(readings, folder)
    seconds = perf_counter() - began_s
    log_mb = log.stat().st_size / 1e6
    log.unlink()
    return {
        "seconds": seconds,
        "readings": state.readings,
        "steps": len(state.done),
        "faults": state.faults,
        "log_mb": log_mb,
        "about": about,
        "rss_mb": samples.rss_mb,
        "handles": samples.handles,
        "others_mb": samples.others_mb,
        "others_handles": samples.others_handles,
    }


if __name__ == "__main__":
    print(json.dumps(main(sys.argv[1], int(sys.argv[2]), Path(sys.argv[3]))))
