"""A log with a block of a measurement that this benchd does not know: all else of it is read, listed and ranked."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.results import Absent
from benchd.cli import main
from benchd.run.log.records import Record
from tests.library.conftest import House
from tests.report.logged import records, write

HOLOGRAM: dict[str, Any] = {"name": "depth", "kind": "hologram", "planes": 3}
WHY = (
    "this benchd knows no measurement 'hologram'; a newer benchd took the log, or one with a package that is not "
    "installed here"
)


def with_hologram() -> list[Record]:
    """A log of the plan quick with a further block, which has readings."""
    log = list(records("quick", white_cd_m2=500.0, simulated=True))
    head, last = log[0], log[-1]
    head.body["blocks"] = [HOLOGRAM, *head.body["blocks"]]
    head.body["sample"] = "hologram/1"
    head.body["steps"] += 1
    again = [one._replace(step="depth/plane-1") for one in log if one.step == log[-2].step and one.kind != "ended"]
    return [one._replace(seq=seq) for seq, one in enumerate((*log[:-1], *again, last), 1)]


def test_an_unknown_kind_is_an_absence_and_everything_else_is_read() -> None:
    found = analyse(with_hologram())
    assert found.absent == (Absent("depth", WHY),)
    known = analyse(records("quick", white_cd_m2=500.0, simulated=True))
    assert found.blocks.keys() == known.blocks.keys()
    for mine, theirs in zip(found.of("luminance"), known.of("luminance"), strict=True):
        assert mine == replace(theirs, white=mine.white, black=mine.black, white_chromaticity=mine.white_chromaticity)
        assert (mine.white.value, mine.white.u) == (theirs.white.value, theirs.white.u)


def test_its_log_is_shown_compared_and_ranked_from_the_command_line(
    house: House, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = house.folder / "hologram.log"
    write(log, with_hologram())
    assert main(["results", str(log), "--details"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert f"depth: {WHY}" in text
    assert main(["results", str(log), "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["absent"] == [{"result": "depth", "why": WHY}]
    assert document["blocks"]
    assert main(["compare", str(log), str(house.folder / "plover-27-1.log")]) in (0, 1)
    printed = capsys.readouterr()
    assert "white luminance" in printed.out
    assert f"hologram.log lacks depth: {WHY}" in printed.err
    assert house.run("rank", "white") == 0
    assert "hologram/1" in capsys.readouterr().out
    assert house.run("list") == 0
    assert f"hologram.log lacks depth: {WHY}" in capsys.readouterr().out
