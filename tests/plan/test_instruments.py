"""Instruments by role: what a block needs and a bench lacks is refused; benches of earlier logs are read."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from benchd import cli
from benchd.daemon.attempt import check
from benchd.daemon.job_control import Submission
from benchd.errors import PlanUnfit
from benchd.measurements.luminance import plan as luminance
from benchd.plan.measurement import plan_part
from benchd.profile.bench import Instruments
from benchd.profile.profile_store import load_bench, load_logged_bench
from benchd.run.bench.open_bench import OpenBench
from benchd.run.job import bench_job
from tests.plan.helpers import refusal

PLAN = "plan: p\nwarm_up: none\nblocks: [luminance: {}]\n"
HEAD = "bench: b\nscreen: {monitor: primary}\n"
REFUSAL = "block luminance needs the instrument light_sensor, and bench sim-office has none"


def test_every_role_can_be_opened() -> None:
    for role in Instruments.model_fields:
        assert callable(getattr(OpenBench, f"open_{role}"))


def test_a_plan_that_needs_what_the_bench_lacks_is_refused_alike(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    needing = replace(plan_part("luminance"), roles=("meter", "light_sensor"))
    monkeypatch.setattr(luminance, "PART", needing)
    monkeypatch.chdir(tmp_path)
    Path("p.yaml").write_text(PLAN)
    for words in (("plan", "p.yaml"), ("run", "p.yaml", "--sample", "plover-1")):
        assert cli.main([*words, "--bench", "sim-office"]) == 2
        assert REFUSAL in capsys.readouterr().err
    with pytest.raises(PlanUnfit, match=REFUSAL):
        check(Submission("p.yaml", PLAN), bench_job("sim-office"))
    assert not Path("logs").exists()


@pytest.mark.parametrize(
    ("before", "now"),
    [
        ("meter: {command: [m]}\n", "instruments: {meter: {command: [m]}}\n"),
        ("meter: {command: [m]}\npositioner: {manual: true}\n", "instruments: {meter: {command: [m]}}\n"),
        ("meter: {command: [m]}\npositioner: {}\n", "instruments: {meter: {command: [m]}}\n"),
        (
            "meter: {command: [m]}\npositioner: {command: [x], caps: true}\n",
            "instruments: {meter: {command: [m]}, stage: {command: [x], caps: true}}\n",
        ),
        (
            "meter: {command: [m]}\npositioner: {stage: s, port: p, origin_mm: [0, 0], size_mm: [1, 1]}\n",
            "instruments: {meter: {command: [m]}, stage: {dialect: s, port: p, origin_mm: [0, 0], size_mm: [1, 1]}}\n",
        ),
    ],
)
def test_a_bench_of_an_earlier_log_is_read(before: str, now: str) -> None:
    assert load_logged_bench(HEAD + before, "b.yaml") == load_bench(HEAD + now, "b.yaml")
    assert load_logged_bench(HEAD + now, "b.yaml") == load_bench(HEAD + now, "b.yaml")


def test_profiles_that_a_bench_lacks_are_told_at_their_places_beside_its_other_faults(tmp_path: Path) -> None:
    bench = tmp_path / "lab.yaml"
    text = "bench: lab\nscreen: {}\ninstruments:\n  meter: {dialect: none-such, port: p}\n  stage: {dialect: nor-this"
    rest = ", port: q, origin_mm: [0, 0], size_mm: [6, 3]}\n"
    for more, faults in (("", 2), ("about: 3\n", 3)):
        bench.write_text(text + rest + more)
        refused = refusal(bench_job, str(bench))
        assert len(refused.faults) == faults
        assert f"{bench}:4:20: there is no dialect 'none-such'" in str(refused)
        assert f"{bench}:5:20: there is no stage 'nor-this'" in str(refused)


def test_doctor_names_the_file_of_a_bench_that_has_another_name(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bench = tmp_path / "lab.yaml"
    bench.write_text("bench: lab-3\nscreen: {command: [./none]}\ninstruments: {meter: {command: [./none]}}\n")
    assert cli.main(["doctor", "--bench", str(bench)]) == 1
    assert "its file is lab: --bench takes that name, logs have lab-3" in capsys.readouterr().out
