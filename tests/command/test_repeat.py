"""``benchd repeat``, as its user meets it. Everything is SIMULATED."""

from __future__ import annotations

import json
import shlex
from pathlib import Path
from typing import Any

import pytest

from benchd.cli import build_parser
from benchd.command.meter.repeat import _again
from benchd.profile.profile_store import load_repeatability
from tests.command.conftest import ROOT, Benchd

PLACED = (ROOT / "profiles" / "benches" / "sim-office-placed.yaml").read_text()
KEPT = Path("data", "benchd", "sim-office-placed.repeatability.yaml")


def head(log: Path) -> dict[str, Any]:
    body: dict[str, Any] = json.loads(log.read_text().splitlines()[0])["body"]
    return body


def test_a_bench_is_repeated_and_later_runs_count_it(benchd: Benchd, tmp_path: Path) -> None:
    bench = ("--bench", "sim-office-placed")
    benchd("run", "quick", *bench, "--log", "before.log")
    done = benchd("repeat", "quick", "8", "--placements", "4", *bench, "--logs", "r")
    assert done.stdout.startswith(
        "SIMULATED\nBench sim-office-placed, meter LAPWING-INVENTED SIM-0007: plan quick run 8 times"
    )
    assert "later runs of bench sim-office-placed with meter LAPWING-INVENTED SIM-0007 count it" in done.stderr
    assert sorted(path.name for path in (tmp_path / "r").iterdir()) == [f"run-{one}.log" for one in range(1, 9)]
    assert [head(tmp_path / "r" / f"run-{one}.log")["repeat"]["placement"] for one in range(1, 9)] == [
        1,
        1,
        2,
        2,
        3,
        3,
        4,
        4,
    ]

    file = load_repeatability((tmp_path / KEPT).read_text(), "kept")
    assert (file.runs, file.placements, file.between_runs_dof, file.placement_dof, file.simulated) == (8, 4, 4, 3, True)
    # The simulated meter stands 0.3 % differently each time; three degrees of freedom tell that within a factor.
    assert file.placement_percent is not None
    assert 0.08 < file.placement_percent < 0.75
    assert file.between_runs_percent is not None
    assert file.between_runs_percent < 0.1
    white = next(one for one in file.figures if one.name == "white luminance")
    assert white.s_r is not None
    assert white.s_R is not None
    assert white.s_r < white.s_R

    # A later run has it in its head and in its figures; an earlier one does not change.
    benchd("run", "quick", *bench, "--log", "after.log")
    assert head(tmp_path / "before.log")["repeatability"] is None
    assert head(tmp_path / "after.log")["repeatability"]["placement_dof"] == 3
    u = {}
    for name in ("before", "after"):
        blocks = json.loads(benchd("results", f"{name}.log", "--json").stdout)["blocks"]
        figures = blocks["luminance"]["white"], blocks["contrast"]["sequential"]["ratio"]
        u[name] = [one["high"] - one["low"] for one in figures]
    assert u["after"][0] != u["before"][0]
    assert u["after"][1] == pytest.approx(u["before"][1], rel=0.1)  # it cancels in a contrast
    told = " ".join(benchd("results", "after.log", "--details").stdout.split())
    assert "with every placement of the meter: found in 8 SIMULATED runs" in told
    assert "identical" in benchd("replay", "after.log").stdout


def test_another_meter_does_not_use_it(benchd: Benchd, tmp_path: Path) -> None:
    benchd("repeat", "quick", "2", "--bench", "sim-office-placed", "--logs", "r")
    assert (tmp_path / KEPT).exists()
    other = PLACED.replace("SIM-0007", "SIM-0008").replace('"0.3"]', '"0.3", --serial-number, SIM-0008]')
    (tmp_path / "b.yaml").write_text(other)
    benchd("run", "quick", "--bench", "b.yaml", "--log", "a.log")
    assert head(tmp_path / "a.log")["repeatability"] is None


def test_it_goes_on_where_it_was_left(benchd: Benchd, tmp_path: Path) -> None:
    words = ("repeat", "quick", "3", "--bench", "sim-office-placed", "--logs", "r", "--json", "--no-keep")
    whole = json.loads(benchd(*words).stdout)
    assert whole["file"] is None
    assert not (tmp_path / KEPT).exists()
    # the third was never begun, the second was cut off
    (tmp_path / "r" / "run-3.log").unlink()
    second = tmp_path / "r" / "run-2.log"
    lines = second.read_bytes().splitlines(keepends=True)
    kinds = [json.loads(line)["kind"] for line in lines]
    second.write_bytes(b"".join(lines[: kinds.index("done") + 2]))
    first = (tmp_path / "r" / "run-1.log").read_bytes()
    again = json.loads(benchd(*words).stdout)
    assert (tmp_path / "r" / "run-1.log").read_bytes() == first
    assert again["figures"][0]["name"] == whole["figures"][0]["name"]
    assert len(again["logs"]) == 3
    done = benchd("repeat", "quick", "3", "--placements", "3", *words[3:], code=2)
    assert "is of another repetition" in done.stderr


def test_the_command_to_go_on_is_the_same_command_whole() -> None:
    options = ["--bench", "my bench", "--note", "it's dark", "--sample", "plover 27/1", "--no-keep", "--json"]
    parser = build_parser("repeat")
    arguments = parser.parse_args(["repeat", "quick", "4", "--placements", "2", *options])
    again = parser.parse_args(shlex.split(_again(arguments, Path("r 1")))[1:])
    assert vars(again) == {**vars(arguments), "logs": "r 1"}


@pytest.mark.parametrize(("runs", "placements"), [("1", "1"), ("4", "3"), ("2", "0"), ("2000", "1")])
def test_counts_that_make_no_sense_are_refused(benchd: Benchd, runs: str, placements: str) -> None:
    done = benchd("repeat", "quick", runs, "--placements", placements, "--bench", "sim-office", code=2)
    assert "placements that divide them evenly" in done.stderr


def test_without_a_terminal_a_hand_is_waited_for(benchd: Benchd, tmp_path: Path) -> None:
    mover = next(line for line in PLACED.splitlines() if line.startswith("  stage:"))
    (tmp_path / "hand.yaml").write_text(PLACED.replace(mover, ""))
    words = ("repeat", "quick", "2", "--placements", "2", "--bench", "hand.yaml", "--logs", "r")
    done = benchd(*words, code=3)
    assert (
        "Placement 2 of 2: take the meter off the screen and put it on again; then go on with: benchd repeat"
        in done.stderr
    )
    assert [path.name for path in (tmp_path / "r").iterdir()] == ["run-1.log"]
    benchd(*words)  # who says it again has put the meter on
    assert (tmp_path / KEPT).exists()
