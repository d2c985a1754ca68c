"""A run on virtual time takes the same readings however long the machine takes over each: SIMULATED benches."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from benchd.run.log.journal import LogFile
from tests.command.conftest import ROOT, Benchd

PLAN = """
plan: precise
target: srgb
warm_up: none
repeatability: 0.5 %
blocks:
  - luminance: {}
  - grayscale: {steps: 5}
"""
SEED = '--seed, "13"'
LATE = ', --fault, "reading:4-24:late:0.15"'
"""Seconds of real time by which the answers of a loaded machine come later, far within the dialect's own limit."""


def everything(log: Path) -> list[tuple[Any, ...]]:
    """Each record but its wall clock and session; of the head nothing."""
    return [
        (one.mono_ns, one.kind, one.step, one.attempt, one.body)
        for one in LogFile(log).records()
        if one.kind != "started"
    ]


def test_answers_that_a_loaded_machine_delays_change_no_record(benchd: Benchd, tmp_path: Path) -> None:
    bench = (ROOT / "profiles/benches/sim-emissive.yaml").read_text()
    assert SEED in bench
    (tmp_path / "loaded.yaml").write_text(bench.replace(SEED, SEED + LATE))
    (tmp_path / "precise.yaml").write_text(PLAN)
    benchd("run", "precise.yaml", "--bench", "sim-emissive", "--log", "idle.log")
    benchd("run", "precise.yaml", "--bench", "loaded.yaml", "--log", "loaded.log")
    assert everything(tmp_path / "loaded.log") == everything(tmp_path / "idle.log")
