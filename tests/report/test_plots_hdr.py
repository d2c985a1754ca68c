"""Plots of HDR blocks: what they leave out they say, and what leaves the frame is marked at its edge. SIMULATED."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.results import Results
from benchd.report.drawing.axes import Axes, Curve
from benchd.report.plots.window_plots import window_plots
from benchd.run.log.journal import LogFile
from tests.hdr.chain import job_of, session

PLAN = """
plan: p
signal: {transfer: pq}
warm_up: none
look_again: false
readings: 2
blocks:
  - tone_curve: {steps: 17}
  - peak: {areas_percent: [2, 50]}
"""


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Results:
    log: Path = tmp_path_factory.mktemp("plots") / "run.log"
    assert session(job_of(PLAN), "hdr-lcd", log)
    return analyse(LogFile(log).records())


def test_windows_that_are_not_drawn_are_counted(found: Results) -> None:
    [peak] = found.of("peak")
    one = peak.windows[0]
    many = replace(peak, windows=tuple(replace(one, area_percent=float(at)) for at in range(1, 11)))
    title = "Light of a window over time"
    for block, said in ((peak, title), (many, f"{title}, 6 of 10 windows")):
        *_, plot = window_plots([("", block)], "peak", True)
        axes = Axes()
        plot.draw(axes)
        assert plot.title == said
        drawn = [item for item in axes.items if isinstance(item, Curve) and item.label]
        assert len(drawn) == (6 if block is many else 2)
        assert ("Drawn: 6 of 10 windows" in plot.text) == (block is many)
