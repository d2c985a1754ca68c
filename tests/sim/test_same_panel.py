"""The question of the same panel where gains trim its white, through the whole chain. SIMULATED: the panel is known."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.results import Results
from benchd.analysis.verdicts.panel import PanelQuestion, same_panel
from benchd.run.log.journal import LogFile
from sim import displays
from sim.displays import Display, DisplayModel, model_of
from sim.spectra import observer
from tests.hdr.chain import job_of, session

PLAN = """
plan: p
warm_up: none
settle_s: 2
dark_settle_s: 4
readings: 5
look_again: false
blocks:
  - luminance: {}
  - contrast: {}
"""
GAMUT = "  - gamut: {}\n"
NATIVE = model_of("office-lcd")


def trimmed(red: float, green: float, blue: float, black: float = 1.0) -> DisplayModel:
    """The same panel with gains on its channels: the light of white falls, black stays as it is (times ``black``)."""
    channels = np.array(Display(NATIVE).seen_through(observer())[:3])
    x, y, z = np.array((red, green, blue)) @ channels
    white = float(y) + NATIVE.black_cd_m2
    return replace(
        NATIVE,
        name="trimmed",
        white_xy=(float(x / (x + y + z)), float(y / (x + y + z))),
        white_cd_m2=white,
        black_cd_m2=NATIVE.black_cd_m2 * black,
    )


def measured(model: DisplayModel, folder: Path, monkeypatch: pytest.MonkeyPatch, plan: str = PLAN + GAMUT) -> Results:
    monkeypatch.setitem(displays.MODELS, model.name, model)
    log = folder / f"{model.name}-{len(list(folder.iterdir()))}.log"
    assert session(job_of(plan), model.name, log)
    return analyse(LogFile(log).records())


def finding(question: PanelQuestion) -> tuple[str, str]:
    return next((one.finding, one.words) for one in question.evidence if one.feature == "contrast")


@pytest.mark.parametrize("gains", [(1.0, 0.78, 0.6), (0.7, 0.75, 1.0), (0.9, 0.8, 0.6)])
@pytest.mark.parametrize("plan", [PLAN, PLAN + GAMUT])
def test_a_white_trimmed_by_gains_is_no_evidence_against_its_own_panel(
    gains: tuple[float, float, float], plan: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    native = measured(NATIVE, tmp_path, monkeypatch, plan)
    other = measured(trimmed(*gains), tmp_path, monkeypatch, plan)
    ratios = [log.of("contrast")[0].sequential.ratio.value for log in (native, other)]  # type: ignore[union-attr]
    assert ratios[1] / ratios[0] < 0.83, "the contrast fell by more than the margin"  # type: ignore[operator]
    for pair in ((native, other), (other, native)):
        question = same_panel(*pair)
        assert finding(question)[0] == "inconclusive"
        assert "gains that trim a white" in finding(question)[1]
        assert "against" not in question.answer
        assert not any(one.finding == "against" and one.weight != "weak" for one in question.evidence)


def test_another_panel_is_still_found_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With the same white by a fifth of the contrast; with another white where no gain explains it."""
    native = measured(NATIVE, tmp_path, monkeypatch, PLAN)
    same_white = measured(trimmed(1.0, 1.0, 1.0, black=1.3), tmp_path, monkeypatch, PLAN)
    assert finding(same_panel(native, same_white))[0] == "against"
    far = measured(trimmed(1.0, 0.78, 0.6, black=2.0), tmp_path, monkeypatch, PLAN)
    for pair in ((native, far), (far, native)):
        found, words = finding(same_panel(*pair))
        assert found == "against"
        assert "inconclusive" in words, "it says how far gains would explain it"
    emissive = measured(model_of("emissive"), tmp_path, monkeypatch, PLAN)
    assert finding(same_panel(native, emissive))[0] == "against"


def test_where_the_colour_of_white_is_not_known_gains_are_not_excluded(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = PLAN.replace("  - luminance: {}\n", "")
    native = measured(NATIVE, tmp_path, monkeypatch, plan)
    other = measured(trimmed(1.0, 0.78, 0.6), tmp_path, monkeypatch, plan)
    found, words = finding(same_panel(native, other))
    assert found == "inconclusive"
    assert "the colour of white is not known of both" in words
