"""The simulated stage behind the companion's port, driven by benchd's own positioner."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchd.clock import Deadline
from benchd.errors import MoveFailed
from benchd.instruments.serial_stage import StagePositioner
from benchd.profile import profile_store as library
from benchd.profile.stage_dialect import MovesWithin, StageDialect
from benchd.run.bench.checkup import check_up
from benchd.run.bench.open_bench import OpenBench
from benchd.run.job import bench_job
from sim.faults import STAGE_MEANING
from sim.stage import SPEED_MM_S, Mounting
from tests.sim.companion import ROOT, companion

STAGE = ROOT / "profiles" / "stages" / "invented-stage.yaml"


def dialect() -> StageDialect:
    found = library.load_stage(STAGE.read_text(), str(STAGE))
    within = {"moves_within_s": MovesWithin(fixed=0.5), "late_within_s": 0.2}
    short = {"position": found.position.model_copy(update={"within_s": 0.5})}
    return found.model_copy(update={**within, **short})


def positioner(folder: Path, stage: StageDialect | None = None) -> StagePositioner:
    mounting = Mounting()
    return StagePositioner(stage or dialect(), str(folder / "stage"), mounting.origin_mm, mounting.size_mm)


def soon() -> Deadline:
    return Deadline.after(20.0)


def test_it_carries_the_meter_and_takes_its_time(tmp_path: Path) -> None:
    with companion(tmp_path, "terse-line", "--stage", str(STAGE)) as bench:
        stage = positioner(tmp_path)
        assert stage.identify(soon()).startswith("WAGTAIL-INVENTED SIM-0003")
        for at in ((0.1, 0.9), (0.0, 0.0), (1.0, 1.0), (0.5, 0.3)):
            stage.move("somewhere", at, soon())
            assert bench.ask("truth")["here"]["place"] == pytest.approx(at, abs=2e-5)
        before_s = bench.ask("now")["now_s"]
        stage.move("somewhere", (0.9, 0.3), soon())
        assert bench.ask("now")["now_s"] - before_s == pytest.approx(0.4 * 597.0 / SPEED_MM_S, rel=1e-3)
        stage.close()


def test_in_real_time_it_is_on_its_way(tmp_path: Path) -> None:
    with companion(tmp_path, "terse-line", "--stage", str(STAGE), "--time", "real") as bench:
        stage = positioner(tmp_path, library.load_stage(STAGE.read_text(), str(STAGE)))
        stage.move("r1c1", (0.0, 0.0), soon())
        before_s = bench.ask("now")["now_s"]
        stage.move("r1c2", (0.2, 0.0), soon())
        assert bench.ask("now")["now_s"] - before_s >= 0.9 * 0.2 * 597.0 / SPEED_MM_S
        assert bench.ask("truth")["here"]["place"] == pytest.approx((0.2, 0.0), abs=2e-5)
        stage.close()


@pytest.mark.parametrize("what", sorted(STAGE_MEANING))
def test_no_trouble_passes_for_a_move(tmp_path: Path, what: str) -> None:
    """Start-up, identity, reference and first move are commands 1 to 6; so 8 is the second move."""
    with companion(tmp_path, "terse-line", "--stage", str(STAGE), "--fault", f"stage:8:{what}") as bench:
        stage = positioner(tmp_path)
        stage.move("r1c1", (0.1, 0.1), soon())
        with pytest.raises(MoveFailed, match="did not reach r1c2"):
            stage.move("r1c2", (0.3, 0.1), soon())
        if what != "stuck":
            stage.move("r1c2", (0.3, 0.1), soon())
            assert bench.ask("truth")["here"]["place"] == pytest.approx((0.3, 0.1), abs=2e-5)
        stage.close()


def test_a_bench_with_a_stage() -> None:
    """The shipped profile, opened as a run opens it; who the stage is stands in its answer to the doctor."""
    job = bench_job("sim-office-stage")
    with OpenBench(job) as bench:
        assert bench.positioner.by == "mover"
        bench.positioner.move("r3c3", (0.5, 0.5), soon())
    parts = {answer.part.strip(): answer for answer in check_up(job)}
    assert all(answer.ok for answer in parts.values())
    assert "WAGTAIL-INVENTED SIM-0003" in parts["stage"].text
    assert "PLOVER-27-INVENTED" in parts["controls"].text
    assert parts["brightness"].text.startswith("is 100")


def test_it_refuses_what_is_outside_its_travel(tmp_path: Path) -> None:
    with companion(tmp_path, "terse-line", "--stage", str(STAGE)):
        stage = StagePositioner(dialect(), str(tmp_path / "stage"), (0.0, 0.0), (9000.0, 300.0))
        with pytest.raises(MoveFailed, match="err 1"):
            stage.move("r1c9", (1.0, 0.5), soon())
        stage.close()
