"""What is measured from a command line is found by the library, without a word about where."""

from __future__ import annotations

import json
from pathlib import Path

from tests.command.conftest import Benchd


def test_run_check_and_import_write_where_the_library_looks(benchd: Benchd, tmp_path: Path) -> None:
    """From a command line to the list, the log by the name of its sample, and the hint as it is copied."""
    run = benchd("run", "quick", "--bench", "sim-office", "--sample", "plover-27/1")
    for _ in range(2):
        benchd("check", "--bench", "sim-office")
    readings = "step,Y,x,y\nluminance/white,350,0.31,0.33\nluminance/black,0.3,0.31,0.33\n"
    (tmp_path / "readings.csv").write_text(readings)
    imported = benchd("import", "readings.csv", "--plan", "quick", "--unit", "cd/m2")
    listed = json.loads(benchd("library", "list", "--json").stdout)["samples"]
    assert listed[0]["sample"] == "plover-27/1"
    unnamed = [one for one in listed if not one["named"]]
    assert len(unnamed) == 3, "two checks and an import that nobody named are three samples"
    assert all(str(one["sample"]) == f"unnamed {one['sha256'][:8]}" for one in unnamed)
    library = tmp_path / "data" / "benchd" / "logs"
    assert {Path(one["path"]).parent.name for one in listed} == {"plover-27-1", "check-sim-office", "imported"}
    assert all(Path(one["path"]).is_relative_to(library) for one in listed)
    for done in (run, imported):
        *_, hint = [line for line in done.stderr.splitlines() if line.startswith("Results: benchd ")]
        assert benchd(*hint.removeprefix("Results: benchd ").split()).stdout
    assert json.loads(benchd("results", "plover-27/1", "--json").stdout)["sample"] == "plover-27/1"
    offered = benchd("results", "plover-27/2", code=2).stderr
    assert "did you mean plover-27/1? Its newest log: benchd results " in offered
    assert benchd(*offered.split("benchd ")[-1].split()).stdout
    assert str(library) in benchd("doctor").stdout
    assert json.loads(benchd("doctor", "--json").stdout)["library"] == {
        "folder": str(library),
        "writable": True,
        "also_read": [],
    }
    assert f"{imported.stderr.split()[-1]}" in benchd("results", code=2).stderr, "the newest one"
