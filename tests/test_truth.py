"""The whole chain against the simulator's own truth: every shipped display, the plan sdr-standard.

A SIMULATED truth is known without noise; each result must meet it within the meter's own noise.
"""

from __future__ import annotations

import math
from typing import Any

import pytest

from benchd.patch.model import Patch, field, grey
from benchd.run.job import plan_job
from benchd.run.log.journal import LogFile
from sim.displays import MODELS
from sim.inprocess import scene_of
from sim.truth import summary, truth_of
from tests.run.kill_anywhere import results, session

SIGMAS = 5.0
"""Some 400 figures are compared for each display: 5 sigma makes a false alarm rarer than one in 4000."""


@pytest.fixture(scope="module", params=sorted(MODELS))
def measured(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, dict[str, Any]]:
    log = tmp_path_factory.mktemp("truth") / "run.log"
    assert session(plan_job("sdr-standard"), log, request.param).complete
    assert any(record.kind == "ended" for record in LogFile(log).records())
    return request.param, results(log)


def noise(display: str, luminance: float, n: int) -> float:
    """Standard uncertainty of a mean of ``n`` readings, with the step of a five-digit answer, in cd/m2."""
    sensor = scene_of(display).sensor
    alone = sensor.repeatability_cd_m2(luminance, sensor.integration_s(luminance)) / math.sqrt(n)
    step = 10 ** (math.floor(math.log10(max(luminance, 1e-9))) - 4)
    return math.hypot(alone, step / math.sqrt(12))


def meets(figure: dict[str, Any], truth: float, u: float) -> bool:
    """A value within its noise, or a bound on the right side of the truth."""
    if figure["bound"] == "above":
        return bool(figure["value"] <= truth)
    if figure["bound"] == "below":
        return bool(figure["value"] >= truth)
    return abs(figure["value"] - truth) <= SIGMAS * u


def test_luminance_and_sequential_contrast(measured: tuple[str, dict[str, Any]]) -> None:
    display, found = measured
    truth = summary(scene_of(display))
    white, black = truth["white"]["luminance_cd_m2"], truth["black"]["luminance_cd_m2"]
    block = found["blocks"]["luminance"]
    assert meets(block["white"], white, noise(display, white, 3))
    assert meets(block["black"], black, noise(display, black, 5))
    ratio = found["blocks"]["contrast"]["sequential"]["ratio"]
    u = white / black * math.hypot(noise(display, white, 3) / white, noise(display, black, 5) / black)
    assert meets(ratio, truth["contrast"]["sequential"], u)
    colour = block["white_chromaticity"]
    for name in ("x", "y"):
        # x and y come from sums of three readings that share most of their noise: 2 noise/white is ample.
        assert abs(colour[name]["value"] - truth["white"][name]) <= SIGMAS * 2 * noise(display, white, 3) / white


def test_checkerboard_contrast(measured: tuple[str, dict[str, Any]]) -> None:
    display, found = measured
    truth = summary(scene_of(display))["contrast"]
    for name, key in (("normal", "checkerboard"), ("inverse", "checkerboard_inverse")):
        polarity = found["blocks"]["contrast"]["checkerboard"][name]
        black = truth_black(display)
        u = truth[key] * noise(display, black, 3) / black / math.sqrt(8)
        assert meets(polarity["ratio"], truth[key], max(u, 5e-4 * truth[key]))


def truth_black(display: str) -> float:
    """Black of a checkerboard's dark cell near the centre."""
    board = Patch("checkerboard", grey(255))
    return truth_of(scene_of(display), board, (3 / 8, 5 / 8))[1]


def test_every_grey_step(measured: tuple[str, dict[str, Any]]) -> None:
    display, found = measured
    scene = scene_of(display)
    steps = found["blocks"]["grayscale"]["steps"]
    assert len(steps) == 21
    for step in steps:
        truth = truth_of(scene, field(grey(step["code"])))[1]
        assert meets(step["luminance"], truth, noise(display, truth, step["luminance"]["n"])), step["code"]


def test_every_cell_of_the_grid(measured: tuple[str, dict[str, Any]]) -> None:
    display, found = measured
    scene = scene_of(display)
    levels = found["blocks"]["uniformity"]["levels"]
    assert set(levels) == {"white", "grey50"}
    for level in levels.values():
        cells = [cell for row in level["grid"] for cell in row]
        assert len(cells) == 25
        truths = [truth_of(scene, field(grey(level["code"])), tuple(cell["at"]))[1] for cell in cells]
        for cell, truth in zip(cells, truths, strict=True):
            assert meets(cell["luminance"], truth, noise(display, truth, 3))
        spread = 100 * (max(truths) - min(truths)) / max(truths)
        assert (
            abs(level["non_uniformity"]["value"] - spread)
            <= 100 * SIGMAS * 2 * noise(display, truths[0], 3) / truths[0]
        )


def test_simulated_is_said(measured: tuple[str, dict[str, Any]]) -> None:
    assert measured[1]["notice"] == "SIMULATED"


def test_there_are_at_least_three_displays_of_different_kinds() -> None:
    assert {"office-lcd", "wide-gamut-lcd", "emissive"} <= set(MODELS)
