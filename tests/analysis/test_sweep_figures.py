"""A sweep is points x catalogue: any figure of any block within it is summed up, compared and claimed."""

from __future__ import annotations

import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.catalogue import headlines
from benchd.analysis.results import Results
from benchd.analysis.verdicts.claim_verdicts import Claim, check_claims
from benchd.analysis.verdicts.comparison import Sample, compare
from benchd.library.take import headlines_of
from tests.report import logged

PLAN = """\
plan: swept
warm_up: none
sweep:
  - {control: brightness, values: [50, 100]}
blocks:
  - contrast: {kinds: [sequential, checkerboard]}
  - uniformity: {grid: 2x2, levels_percent: [100]}
"""
NAMES = ("checkerboard contrast", "non-uniformity of white", "white CCT")


@pytest.fixture(scope="module")
def swept(tmp_path_factory: pytest.TempPathFactory) -> Results:
    path = tmp_path_factory.mktemp("plans") / "swept.yaml"
    path.write_text(PLAN, encoding="utf-8")
    return analyse(logged.records(path, simulated=True))


def test_every_figure_of_a_point_is_in_the_catalogue(swept: Results) -> None:
    found = {one.name: one for one in headlines(swept)}
    assert swept.sweep is not None
    for row in swept.sweep.rows:
        for name in NAMES:
            one = found[f"{name} at brightness={row.settings['brightness']}"]
            assert one.quantity == row.figures[name].quantity
            assert one.conditions == row.figures[name].conditions
    assert dict(found["checkerboard contrast at brightness=50"].conditions) == {"cells": "4 x 4"}


def test_it_is_compared_claimed_and_taken_into_the_library(swept: Results) -> None:
    compared = compare([Sample("a", (swept,), ("0",)), Sample("b", (swept,), ("1",))])
    names = {row.headline.name for row in compared.rows}
    assert {f"{name} at brightness=100" for name in NAMES} <= names
    claim = Claim("non-uniformity of white at brightness=100", None, 90.0, "%", "t", "t", "brightness=100")
    [outcome] = check_claims([claim], [swept])
    assert outcome.outcome != "not measured"
    [finding] = outcome.findings
    assert [one.state for one in finding.conditions] == ["met"]
    taken = {one.name: settings for one, settings in headlines_of(swept)}
    assert taken["non-uniformity of white at brightness=50"] == "brightness=50"
    assert "non-uniformity of white" in taken, "of the point with the most white luminance too"
