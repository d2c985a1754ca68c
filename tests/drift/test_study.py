"""The demonstration, smaller: with a display that warms up by 5 % and with a stable one (SIMULATED, seeded)."""

from __future__ import annotations

from pathlib import Path

from tests.drift.study import LOSS, WORLDS, World, study


def test_a_warming_display_is_compensated_down_to_the_noise(tmp_path: Path) -> None:
    found = study(World(LOSS), 4, tmp_path)
    assert found.raw > 2.5, "the display drifts by 5 % over the run"
    # Three figures take part, each with the noise of its own readings: the patch, and the reference twice.
    assert found.compensated < 3**0.5 * found.noise * 1.35
    assert found.compensated < 0.05 * found.raw
    assert found.held > 0.9


def test_on_a_stable_display_it_costs_nothing(tmp_path: Path) -> None:
    found = study(World(), 4, tmp_path)
    assert found.compensated <= 1.02 * found.raw
    assert found.held > 0.9


def test_a_step_inside_the_run_and_a_walking_light_are_held(tmp_path: Path) -> None:
    # All of a run share its references, so four runs are four independent cases: one unlucky one is a quarter of them.
    stepped, walking = study(WORLDS["a step of 1 %"], 4, tmp_path), study(WORLDS["walks 1 % an hour"], 4, tmp_path)
    assert stepped.held > 0.9
    assert stepped.inside > 0.7
    assert walking.held > 0.85
