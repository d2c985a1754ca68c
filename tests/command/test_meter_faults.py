"""Every fault of the meter through the whole command line: right results or a named pause, nothing between.

The two shipped dialects, with short time limits, on simulated benches whose companion is told the fault. Where an
answer comes, the limit is so long that a loaded machine does not make a silence of it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pytest

from benchd.run.log.journal import LogFile
from tests.alike import to_compare
from tests.command.conftest import ROOT, Benchd

PLAN = """
plan: few
about: few patches, with a move
target: srgb
warm_up: none
readings: 2
dark_readings: 2
blocks:
  - luminance: {}
  - grayscale: {steps: 4}
  - uniformity: {grid: 3x1}
"""
BENCHES = {"terse-line": "sim-office", "plain-488": "sim-emissive"}

# What the first faulty reading is logged as; "" for nothing at all, since the answer is right all the same.
PASSING = {
    "reading:5:silent": "MeterSilent",
    "reading:5:half": "MeterHalfAnswer",
    "reading:5:late:5": "MeterLateAnswer",
    "reading:5:garbled": "MeterGarbled",
    "reading:5-6:duplicate": "MeterLateAnswer",
    "reading:5:wrong_unit": "MeterWrongUnit",
    "reading:5:error": "MeterRefused",
    "reading:5:unplug:0.5": "MeterLost",
    "identify:2:duplicate": "",
}
STAYING = {
    "reading:5-99:silent": "MeterSilent",
    "reading:5-99:garbled": "MeterGarbled",
    "reading:5-99:wrong_unit": "MeterWrongUnit",
    "reading:5:wrong_meter": "WrongMeter",
    "command:20:stuck": "MeterSilent",
}


def with_dialects(faults: Iterable[str]) -> list[Any]:
    """Every fault with one dialect, in turn, and with the other where more of the same is asked for."""
    cases = []
    for number, fault in enumerate(sorted(faults)):
        for at, dialect in enumerate(sorted(BENCHES)):
            marks = [] if (number + at) % 2 == 0 else [pytest.mark.long]
            cases.append(pytest.param(dialect, fault, marks=marks, id=f"{fault}-{dialect}"))
    return cases


COMPANION = """
import pathlib, sys
from sim.bench import main
fault = pathlib.Path(__file__).with_name("fault.txt")
raise SystemExit(main([*sys.argv[1:], *(["--fault", fault.read_text()] if fault.exists() else [])]))
"""


WAITED_S = {"silent": 3.2, "half": 3.2, "stuck": 3.2, "late": 3.2}
"""Faults whose answer is waited for in vain."""
LATE_WITHIN_S = {"silent": 0.6, "half": 0.6, "stuck": 0.6}


@pytest.fixture
def bench(tmp_path: Path, dialect: str, fault: str) -> Path:
    """A copy of a bench whose meter has the fault that ``fault.txt`` tells, and of its dialect with short limits."""
    text = (ROOT / "profiles/meters" / f"{dialect}.yaml").read_text()
    what = fault.split(":")[2]
    within_s, late_within_s = WAITED_S.get(what, 30.0), LATE_WITHIN_S.get(what, 30.0)
    text = re.sub(r"fixed: [\d.]+, per_integration: [\d.]+", f"fixed: {within_s}, per_integration: 0.001", text)
    # Where a dialect leaves its limit to the default.
    for exchange in ('example: "UN {unit}"', 'expect: "1", example: "1"'):
        text = text.replace(exchange, f"{exchange}, within_s: 1")
    text = text.replace('  send: "*IDN?"', '  within_s: 1\n  send: "*IDN?"')
    text = re.sub(r"(?<!late_)within_s: [\d.]+", f"within_s: {within_s}", text)
    text = re.sub(r"late_within_s: [\d.]+", f"late_within_s: {late_within_s}", text)
    (tmp_path / "quick-dialect.yaml").write_text(text.replace(f"meter: {dialect}", "meter: quick-dialect", 1))
    text = (ROOT / "profiles/benches" / f"{BENCHES[dialect]}.yaml").read_text()
    text = text.replace(dialect, str(tmp_path / "quick-dialect.yaml"))
    text = text.replace("-m, sim.bench", str(tmp_path / "companion.py"))
    (tmp_path / "bench.yaml").write_text(text)
    (tmp_path / "companion.py").write_text(COMPANION)
    (tmp_path / "few.yaml").write_text(PLAN)
    return tmp_path / "bench.yaml"


RIGHT: dict[str, object] = {}
"""The results of a run without a fault, by dialect."""


def right(benchd: Benchd, folder: Path, dialect: str) -> object:
    if dialect not in RIGHT:
        benchd("run", "few.yaml", "--bench", "bench.yaml", "--log", "right.log")
        assert errors(folder / "right.log") == []
        RIGHT[dialect] = to_compare(folder / "right.log")
    return RIGHT[dialect]


def errors(log: Path) -> list[str]:
    return [record.body["error"] for record in LogFile(log).records() if record.kind == "fault"]


@pytest.mark.parametrize(("dialect", "fault"), with_dialects(PASSING))
def test_a_passing_fault_changes_no_result(
    benchd: Benchd, tmp_path: Path, bench: Path, dialect: str, fault: str
) -> None:
    wanted = right(benchd, tmp_path, dialect)
    (tmp_path / "fault.txt").write_text(fault)
    benchd("run", "few.yaml", "--bench", bench, "--log", "fault.log")
    assert errors(tmp_path / "fault.log")[:1] == [PASSING[fault]][: bool(PASSING[fault])]
    assert to_compare(tmp_path / "fault.log") == wanted


@pytest.mark.parametrize(("dialect", "fault"), with_dialects(STAYING))
def test_a_fault_that_stays_pauses_by_name_and_is_resumed_once_mended(
    benchd: Benchd, tmp_path: Path, bench: Path, dialect: str, fault: str
) -> None:
    wanted = right(benchd, tmp_path, dialect)
    (tmp_path / "fault.txt").write_text(fault)
    done = benchd("run", "few.yaml", "--bench", bench, "--log", "fault.log", code=3)
    assert "benchd resume fault.log" in done.stderr
    found = errors(tmp_path / "fault.log")
    assert found[0] == STAYING[fault]
    assert len(found) <= 4
    assert [record.kind for record in LogFile(tmp_path / "fault.log").records()][-1] == "paused"
    (tmp_path / "fault.txt").unlink()
    benchd("resume", "fault.log")
    assert to_compare(tmp_path / "fault.log") == wanted
    benchd("replay", "fault.log")
