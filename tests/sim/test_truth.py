"""The printed truth."""

from __future__ import annotations

import json

import pytest

from sim.displays import MODELS
from sim.truth import main


@pytest.mark.parametrize("name", sorted(MODELS))
def test_text_says_simulated_first(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--display", name]) == 0
    text = capsys.readouterr().out
    assert text.startswith("SIMULATED")
    assert "invented" in text.splitlines()[0]


@pytest.mark.parametrize("name", sorted(MODELS))
def test_json_is_consistent(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    main(["--display", name, "--json"])
    truth = json.loads(capsys.readouterr().out)
    assert truth["simulated"] is True
    white, black = truth["white"]["luminance_cd_m2"], truth["black"]["luminance_cd_m2"]
    assert truth["contrast"]["sequential"] == pytest.approx(white / black)
    assert truth["contrast"]["checkerboard"] < truth["contrast"]["sequential"]
    assert [step["code"] for step in truth["grayscale"]][:4] == [0, 13, 26, 38]
    assert truth["grayscale"][-1]["luminance_cd_m2"] == pytest.approx(white)
    grid = truth["uniformity"]["white"]
    assert [len(row) for row in grid] == [5, 5, 5, 5, 5]
    assert grid[2][2]["luminance_cd_m2"] == pytest.approx(white)
    assert truth["windows"][-1]["luminance_cd_m2"] == pytest.approx(white)
