"""HDR results on a terminal: every table fits its width, and none drops a figure that another could give. SIMULATED."""

from __future__ import annotations

import pytest

from benchd.analysis.results import Results
from benchd.report.terminal.results_text import render_text
from tests.hdr.chain import measured

PLAN = """
plan: p
signal: {transfer: pq}
warm_up: none
look_again: false
readings: 2
blocks:
  - colour_levels: {levels_cd_m2: [0.005, 10, 10000]}
  - halo: {distances_percent: [2, 30], boards: [3]}
  - tone_curve: {steps: 17}
  - peak: {areas_percent: [2, 50]}
"""


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Results:
    return measured(PLAN, "hdr-lcd", tmp_path_factory.mktemp("text"))


@pytest.mark.parametrize("width", [80, 90, 100, 120])
def test_no_line_is_longer_than_the_page(found: Results, width: int) -> None:
    assert max(len(line) for line in render_text(found, width=width).splitlines()) <= width


def test_a_wide_page_has_all_columns_and_a_small_one_the_measured_figures(found: Results) -> None:
    wide, small = (render_text(found, width=width) for width in (120, 80))
    for head in ("pixels", "lit, %", "   requested ", "reached"):
        assert head in wide
    for text in (wide, small):
        for head in (" peak ", "at 60 s", "< 95 % of", "dE ITP", "error"):
            assert head in text
    assert "pixels" not in "\n".join(line for line in small.splitlines() if line.startswith("  size, %"))
