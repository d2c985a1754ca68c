"""What is kept of a bench's repetition."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchd.profile import profile_store as library
from benchd.profile.made_files import MeterName, RepeatabilityFile, RepeatedFigure, repeatability_path


def made() -> RepeatabilityFile:
    diagonal = tuple(tuple(1.25e-6 if row == column else 0.0 for column in range(3)) for row in range(3))
    return RepeatabilityFile(
        bench="my-bench",
        version=1,
        made="2026-03-02",
        meter=MeterName(model="LAPWING", serial_number="007"),
        plan="quick",
        runs=6,
        placements=3,
        between_runs_percent=0.1118,
        placement_percent=0.1118,
        between_runs=diagonal,  # type: ignore[arg-type]
        between_runs_dof=3,
        placement=diagonal,  # type: ignore[arg-type]
        placement_dof=2,
        figures=(
            RepeatedFigure(name="white luminance", unit="cd/m2", mean=350.2, s_r=0.4, limit_r=1.12, s_l=0.0, s_R=0.4),
            RepeatedFigure(name="white Duv", unit="1", mean=-0.00002, s_r=0.000003),
        ),
    )


def test_it_is_read_back_as_it_was_written() -> None:
    file = made()
    assert library.load_repeatability(file.as_yaml(), "r.yaml") == file


def test_it_is_for_one_meter() -> None:
    assert made().is_for(model="LAPWING", serial_number="007")
    assert not made().is_for(model="LAPWING", serial_number="008")


def test_a_head_has_what_analysis_needs() -> None:
    head = made().head()
    assert (head["between_runs_dof"], head["placement_dof"], head["runs"]) == (3, 2, 6)
    assert head["placement"][1][1] == 1.25e-6
    assert "figures" not in head


def test_it_stands_in_the_users_data_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert repeatability_path("b") == tmp_path / "benchd" / "b.repeatability.yaml"
    monkeypatch.setenv("XDG_DATA_HOME", "")
    monkeypatch.setenv("HOME", str(tmp_path))
    assert repeatability_path("b") == tmp_path / ".local" / "share" / "benchd" / "b.repeatability.yaml"
