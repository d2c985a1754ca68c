"""A log made from a shipped plan and an invented display of plain physics, to see the report on a real analysis."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from pathlib import Path

from benchd.plan.plan_store import load_plan, plan_files
from benchd.plan.step import Step
from benchd.plan.steps import describe, expand, settings
from benchd.profile.profile_store import beside, find, load_target, read_text
from benchd.run.log.bodies import PATCH_FIELDS
from benchd.run.log.journal import encode
from benchd.run.log.records import Body, Record

WHITE_XYZ = (0.9505, 1.0, 1.0891)  # D65, rounded: CIE 15
SCATTER = (1.0, 1.0006, 0.9995, 1.0002, 0.9998)


def records(
    plan: str = "sdr-standard",
    target_name: str = "srgb",
    *,
    white_cd_m2: float = 384.0,
    black_cd_m2: float = 0.35,
    floor_cd_m2: float = 0.005,
    without: Collection[str] = (),
    simulated: bool = False,
) -> Iterator[Record]:
    """The records of a run; steps named in ``without`` are not there and the run has not ended then.

    ``plan``: the name of a shipped one, or the whole text of one.
    """
    written = "\n" in plan
    path = Path("own.yaml") if written else find("plans", plan)
    known = load_plan(plan if written else read_text(path), path.name, beside(path))
    files = plan_files(known, beside(path))
    steps = expand(known, files)
    target_path = find("targets", target_name)
    meter = {
        "model": "LAPWING",
        "serial_number": "0007",
        "floor_cd_m2": floor_cd_m2,
        "ceiling_cd_m2": 3000.0,
        "simulated": simulated,
    }
    head: Body = {
        "plan": {"name": known.plan},
        "target": load_target(read_text(target_path), target_path.name).normalised(),
        "blocks": describe(known, files),
        "settings": settings(known),
        "steps": len(steps),
        "sample": "plover-27/1",
        "meter": meter,
        "screen": {"name": "HDMI-1", "width": 1920, "height": 1080, "bits": 8, "readback": "screen"},
        "simulated": simulated,
    }
    seq = 1

    def record(kind: str, step: str, body: Body) -> Record:
        nonlocal seq
        seq += 1
        return Record(seq - 1, "2026-03-02T18:12:04.123Z", "one", seq * 10**9, kind, step, 1 if step else 0, body)

    yield record("started", "", head)
    for step in steps:
        if step.id in without:
            continue
        patch: Body = {name: getattr(step.patch, name) for name in PATCH_FIELDS} | {"code": list(step.patch.code)}
        shown: Body = {"block": step.block, "role": step.labels, "patch": patch, "place": step.place, "at": step.at}
        yield record("shown", step.id, shown)
        luminance = _luminance(step, white_cd_m2, black_cd_m2)
        for n in range(1, step.readings + 1):
            xyz = [luminance * SCATTER[n % 5] * part for part in WHITE_XYZ]
            status = "under" if xyz[1] < floor_cd_m2 else "ok"
            yield record("reading", step.id, {"n": n, "xyz": xyz, "status": status, "integration_s": 0.5})
        done: Body = {"readings": step.readings}
        if step.kind == "warm_up":
            done |= {"stable": True, "minutes": 23.0}
        yield record("done", step.id, done)
    if not without:
        yield record("ended", "", {"steps": len(steps)})


def write(path: Path, records: Iterable[Record], **head: object) -> Path:
    """Keep them as a log, ``head`` over what its first record says."""
    first, *rest = records
    path.write_bytes(b"".join(map(encode, (first._replace(body={**first.body, **head}), *rest))))
    return path


def _luminance(step: Step, white_cd_m2: float, black_cd_m2: float) -> float:
    """A power curve of 2.2 over black, dimmer towards the corners; a cell of a checkerboard has its own level.

    The brightness setting dims all of it.
    """
    share = step.patch.code[1] / (2**step.patch.bits - 1)
    if "polarity" in step.labels:
        share = 1.0 if step.labels["level"] == "white" else 0.0
    x, y = step.at
    falloff = 1.0 - 0.2 * ((x - 0.5) ** 2 + (y - 0.45) ** 2)
    backlight = 0.1 + 0.9 * float(dict(step.settings).get("brightness", 100)) / 100
    return float(((white_cd_m2 - black_cd_m2) * share**2.2 + black_cd_m2) * falloff * backlight)
