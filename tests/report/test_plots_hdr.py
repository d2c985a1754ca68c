"""Plots of HDR blocks: what they leave out they say, and what leaves the frame is marked at its edge. SIMULATED."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchd.analysis.results import Results
from benchd.measurements.tone_curve import show
from benchd.report.drawing.axes import Axes, Curve
from benchd.report.plots.window_plots import window_plots
from tests.hdr.chain import measured

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
    return measured(PLAN, "hdr-lcd", tmp_path_factory.mktemp("plots"))


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


def test_errors_beyond_the_axis_are_marked_at_its_edge(found: Results) -> None:
    """Made: the three darkest steps off by hundreds of per cent, one far below; the axis is for the rest."""
    [curve] = found.of("tone_curve")
    errors = [250.0, 120.0, -90.0, *[1.0] * len(curve.steps)]
    steps = tuple(
        replace(step, error=step.error._replace(value=error), requested_cd_m2=0.1 + step.requested_cd_m2)
        for step, error in zip(curve.steps, errors, strict=False)
    )
    *_, plot = show.plots([("a", replace(curve, steps=steps)), ("b", curve)], "tone", True)
    axes = Axes()
    plot.draw(axes)
    hollow = [item for item in axes.items if isinstance(item, Curve) and item.hollow]
    off = sum(abs(error) > show.MOST for error, step in zip(errors, steps, strict=False) if step.luminance.plain)
    off += sum(
        abs(step.error.value or 0.0) > show.MOST
        for step in curve.steps
        if step.luminance.plain and step.requested_cd_m2 > 0.001
    )
    assert off >= 2
    assert sum(len(item.points) for item in hollow) == off
    assert {abs(y) for item in hollow for _, y in item.points} == {show.MOST}
    assert [item.label for item in hollow if item.label] == ["beyond 60 %"]
    assert f"marked at the edge: {off} steps" in plot.text
    low, high = axes.y.ends
    assert low < -show.MOST < show.MOST < high
    *_, plot = show.plots([("", replace(curve, steps=steps[3:]))], "tone", True)
    plot.draw(axes := Axes())
    assert axes.y.ends[0] > -10.0, "no half of the height is spent on what is not there"
    assert "marked" not in plot.text
