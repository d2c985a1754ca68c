"""On how many units and placements a headline rests."""

from __future__ import annotations

from dataclasses import replace

from benchd.report.sections.basis import basis_words
from tests.report import made


def test_units_and_placements_in_words() -> None:
    one = replace(made.results(), sample="plover-27/1", sessions=1, imported="")
    assert basis_words(one) == "one unit, one placement"
    assert basis_words(replace(one, sessions=3)) == "one unit, 3 placements (one a session)"
    assert basis_words(replace(one, imported="readings.csv")) == "one unit, placements not recorded"
    other, unnamed = replace(one, sample="plover-27/2"), replace(one, sample="")
    assert basis_words(one, other) == "2 units, one placement each"
    assert basis_words(one, one, other) == "2 units, 3 runs"
    assert basis_words(one, replace(other, sessions=2)) == "2 units, 2 runs"
    assert basis_words(unnamed, unnamed) == "2 units, one placement each", "logs without a name are never one unit"
