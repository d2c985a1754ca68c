"""What is sent along with a plan: its files, its target, and spaces and charts of the folder's own."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchd.command.service.queue import named_files


def test_own_spaces_and_charts_travel_with_the_plan(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for shelf, name in (("spaces", "heron.yaml"), ("charts", "moor.csv"), ("targets", "mine.yaml")):
        (tmp_path / "profiles" / shelf).mkdir(parents=True)
        (tmp_path / "profiles" / shelf / name).write_text(f"# {shelf}\n")
    (tmp_path / "own.csv").write_text("name,red,green,blue\n")
    monkeypatch.chdir(tmp_path)
    text = (
        "plan: p\ntarget: mine\nblocks:\n  - colours: {chart: moor, space: heron}\n"
        "  - colours: {name: b, chart: skin-memory, space: srgb}\n  - patches: {file: own.csv}\n"
    )
    found = dict(named_files(text, tmp_path / "p.yaml"))
    # What is shipped is on the service's own shelf.
    assert found == {
        "mine": "# targets\n",
        "charts/moor": "# charts\n",
        "spaces/heron": "# spaces\n",
        "own.csv": "name,red,green,blue\n",
    }
