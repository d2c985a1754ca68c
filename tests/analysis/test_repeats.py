"""Scatter between repeats of one patch."""

from __future__ import annotations

import numpy as np
import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.log.log_data import collect
from benchd.analysis.uncertainty.uncertainty_budget import budget_of
from tests.analysis.logs import Log, xyz

NAMES = [f"p{number}" for number in range(12)]


def log(between: float, *, same: bool = True) -> Log:
    made = Log([{"name": "patches", "kind": "patches", "names": NAMES}])
    dice = np.random.default_rng(8)
    for number, name in enumerate(NAMES):
        light = 100.0 * (1.0 + between * dice.standard_normal())
        readings = [xyz(light * (1.0 + 1e-3 * dice.standard_normal())) for _ in range(4)]
        made.measure(f"patches/{name}", {"name": name}, readings, code=200 if same else 200 + number)
    return made


def sources(made: Log) -> list[str]:
    budget = budget_of(analyse(made.end()).of("patches")[0].patches[0].luminance)
    assert budget is not None
    return [line.source for line in budget.lines]


def test_repeats_that_scatter_as_their_readings_do_add_nothing() -> None:
    assert sources(log(0.0)) == ["readings of patches/p0"]


def test_repeats_that_scatter_more_add_a_source_of_their_own() -> None:
    made = log(0.01)
    budget = budget_of(analyse(made.end()).of("patches")[0].patches[0].luminance)
    assert budget is not None
    assert budget.lines[0].source == "repeats of patches/p0"
    assert budget.lines[0].contribution == pytest.approx(1.0, rel=0.5), "1 % of 100 cd/m2"
    assert budget.lines[0].dof == 11


def test_other_patches_are_no_repeats() -> None:
    assert sources(log(0.01, same=False)) == ["readings of patches/p0"]


def test_the_same_patch_at_other_settings_of_the_display_is_no_repeat() -> None:
    """The head's description tells, also where the log has no record of a control that was set."""
    names = [f"brightness={value}/patches" for value in (10, 100)]
    blocks = [
        {"name": name, "kind": "patches", "names": NAMES[:6], "settings": {"brightness": value}}
        for name, value in zip(names, (10, 100), strict=True)
    ]
    made = Log(blocks)
    dice = np.random.default_rng(8)
    for name, light in zip(names, (40.0, 400.0), strict=True):
        for patch in NAMES[:6]:
            readings = [xyz(light * (1.0 + 1e-3 * dice.standard_normal())) for _ in range(4)]
            made.measure(f"{name}/{patch}", {"name": patch}, readings, code=200)
    assert sources(made) == ["readings of brightness=10/patches/p0"]


def test_a_reading_that_was_taken_back_is_no_repeat() -> None:
    """Measured again in a later session, the step stands beside others than before."""
    made = log(0.0)
    made.add("invalidated", {"steps": [f"patches/{NAMES[0]}"], "reference_checks_dropped": []})
    log_data = collect(made.records)
    assert [f"patches/{NAMES[0]}" in steps for steps in log_data.repeats.values()] == [False]
