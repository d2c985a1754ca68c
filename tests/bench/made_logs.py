"""Logs of any length, made fast: the records that the sequencer writes, in two shapes, with invented figures.

``few steps``: the plan sdr-standard with as many readings a step as it takes; ``many steps``: a list of patches with
three readings each. Written by the journal's own encoder, without fsync.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Literal

from benchd.clock import wall_label
from benchd.patch.model import field
from benchd.plan.step import Step
from benchd.run.job import PlanJob, bench_job, plan_job
from benchd.run.log.journal import encode
from benchd.run.log.records import Body, Record
from benchd.run.session import started_body
from sim.inprocess import SimMeter, SimScreen, scene_of
from tests.bench.process import ROOT

Shape = Literal["few steps", "many steps"]
SHAPES: tuple[Shape, ...] = ("few steps", "many steps")
READINGS_OF_MANY = 3
WHITE_XYZ = (333.0, 350.0, 381.0)
BLACK_XYZ = (0.31, 0.32, 0.47)
EXPONENT = 2.2
SCATTER = 0.002

PLANS = ROOT / "profiles" / "plans"


def make_log(shape: Shape, readings: int, path: Path) -> None:
    """Write a complete log with about so many readings."""
    job = plan_job(str(PLANS / "sdr-standard.yaml"))
    if shape == "few steps":
        each = readings // len(job.steps)
        records = _records(_head(job), job.steps, each)
    else:
        names = [f"colour-{number}" for number in range(readings // READINGS_OF_MANY)]
        block = {"name": "patches", "kind": "patches", "names": names}
        records = _records({**_head(job), "blocks": [block]}, _patches(names), READINGS_OF_MANY)
    with path.open("wb") as stream:
        stream.writelines(encode(record) for record in records)


def _head(job: PlanJob) -> Body:
    scene = scene_of()
    who = {
        "meter": asdict(SimMeter(scene).identify()),
        "screen": asdict(SimScreen(scene).identify()),
        "simulated": True,
        "virtual_time": True,
    }
    bench = bench_job(str(ROOT / "profiles" / "benches" / "sim-office.yaml"))
    return started_body(job, bench, "plover-27/made", "invented figures", who)


def _patches(names: list[str]) -> Iterator[Step]:
    dice = random.Random(1)
    for name in names:
        code = (dice.randrange(256), dice.randrange(256), dice.randrange(256))
        yield Step(f"patches/{name}", "patches", "readings", field(code), {"name": name})


def _records(head: Body, steps: Iterable[Step], each: int) -> Iterator[Record]:
    """``started``, then of each step ``shown``, the readings and ``done``, then ``ended``."""
    dice = random.Random(2)
    wall = wall_label()
    seq = 0

    def record(kind: str, step: str, attempt: int, body: Body) -> Record:
        nonlocal seq
        seq += 1
        return Record(seq, wall, "5e55104a", seq * 300_000_000, kind, step, attempt, body)

    yield record("started", "", 0, head)
    count = 0
    for step in steps:
        count += 1
        yield record("shown", step.id, 1, _shown(step))
        share = (step.patch.code[1] / 255.0) ** EXPONENT
        light = [black + (white - black) * share for white, black in zip(WHITE_XYZ, BLACK_XYZ, strict=True)]
        for number in range(1, each + 1):
            xyz = [value * dice.gauss(1.0, SCATTER) for value in light]
            yield record("reading", step.id, 1, _reading(number, xyz))
        done: Body = {"readings": each}
        if step.kind == "warm_up":
            done |= {"stable": True, "minutes": 20.0}
        yield record("done", step.id, 1, done)
    yield record("ended", "", 0, {"steps": count, "readings": count * each, "faults": 0})


def _shown(step: Step) -> Body:
    return {
        "block": step.block,
        "role": step.labels,
        "patch": asdict(step.patch),
        "place": step.place,
        "at": list(step.at),
        "readback": {"width": 1920, "height": 1080, "screen": "sim-1", "bits": 8, "method": "simulated", "probes": 5},
        "elapsed_s": 0.0,
    }


def _reading(number: int, xyz: list[float]) -> Body:
    x, y, z = xyz
    whole = x + y + z
    raw = f"G {y / 3.4262590996353905:.5E} {x / whole:.5f} {y / whole:.5f}"
    return {"n": number, "xyz": xyz, "status": "ok", "integration_s": 0.5, "raw": raw, "elapsed_s": 0.000231}
