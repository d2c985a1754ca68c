"""What ``benchd plan`` and ``benchd doctor`` give to scripts: the documented keys, and the same as the text says."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from benchd.cli import main
from benchd.command.meter import doctor
from benchd.profile import profile_store as library
from benchd.report.data import planned_data


def given(capsys: pytest.CaptureFixture[str], *words: str, code: int = 0) -> dict[str, object]:
    assert main([*words]) == code
    found = json.loads(capsys.readouterr().out)
    assert isinstance(found, dict)
    return found


@pytest.mark.parametrize("plan", library.names("plans"))
def test_a_plan_says_the_same_as_data(plan: str, capsys: pytest.CaptureFixture[str]) -> None:
    found = given(capsys, "plan", plan, "--json", "--steps")
    assert found["schema"] == "benchd.planned/2"
    described = planned_data.__doc__ or ""
    listed = found["list"]
    assert isinstance(listed, list)
    assert len(listed) == found["steps"]
    for key in {*found, *listed[0]}:
        assert f'"{key}":' in described, f"{key} is not described"
    assert sum(one["readings"] for one in listed) == found["readings"]
    assert sum(one["move"] for one in listed) == found["moves"]
    assert main(["plan", plan]) == 0
    printed = capsys.readouterr().out.replace("\n", " ")
    assert f"{found['steps']} steps, {found['readings']} readings" in re.sub(" +", " ", printed)


def test_without_steps_there_is_no_list_and_a_bench_says_simulated(capsys: pytest.CaptureFixture[str]) -> None:
    found = given(capsys, "plan", "quick", "--json", "--bench", "sim-office")
    assert found["list"] is None
    assert (found["bench"], found["simulated"], found["notice"]) == ("sim-office", True, "SIMULATED")


def test_faults_of_a_plan_come_with_their_places(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plan = tmp_path / "broken.yaml"
    plan.write_text("plan: broken\nsetle_s: 1\nblocks: []\n")
    assert main(["plan", str(plan), "--json"]) == 2
    out = capsys.readouterr()
    faults = json.loads(out.out)["faults"]
    assert {"file": str(plan), "line": 2, "column": 1} == {key: faults[0][key] for key in ("file", "line", "column")}
    assert "nothing was started" in out.err


def test_the_doctor_tells_of_this_machine(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("DISPLAY", raising=False)
    found = given(capsys, "doctor", "--json")
    assert found["schema"] == "benchd.doctor/1"
    assert all(f'"{key}":' in (doctor.__doc__ or "") for key in found)
    assert found["screens"] == []
    assert "DISPLAY" in str(found["screens_fault"])


def test_the_doctor_asks_every_part(capsys: pytest.CaptureFixture[str]) -> None:
    found = given(capsys, "doctor", "--json", "--bench", "sim-office")
    bench = found["bench"]
    assert isinstance(bench, dict)
    assert all(f'"{key}":' in (doctor.__doc__ or "") for key in (*bench, *bench["parts"][0]))
    assert {"clock", "screen", "meter", "stage", "controls"} <= {one["part"] for one in bench["parts"]}
    assert bench["answers"] is True
    assert bench["notice"] == "SIMULATED"


def test_a_silent_part_ends_with_1(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bench = tmp_path / "b.yaml"
    bench.write_text(
        "bench: b\nscreen: {command: [/nowhere/window]}\ninstruments: {meter: {command: [/nowhere/meter]}}\n"
    )
    found = given(capsys, "doctor", "--json", "--bench", str(bench), code=1)
    parts = {one["part"]: one for one in found["bench"]["parts"]}  # type: ignore[index]
    assert not parts["meter"]["ok"]
    assert not parts["screen"]["ok"]
    assert "/nowhere/meter" in parts["meter"]["text"]
