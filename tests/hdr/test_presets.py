"""The wide-gamut display in its clamped preset, and the one that is badly set: their truth is recovered. SIMULATED."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchd.patch.model import field
from sim.displays import MODELS
from sim.inprocess import SimScreen, scene_of
from sim.truth import painted, truth_of
from tests.hdr.chain import job_of, results, session

PLAN = """
plan: p
warm_up: none
blocks:
  - patches: {list: [{name: red, code: [255, 0, 0]}, {name: green, code: [0, 255, 0]}, {name: blue, code: [0, 0, 255]},
      {name: white, code: 255}, {name: grey, code: 128}]}
"""
SRGB = {"red": (0.64, 0.33), "green": (0.30, 0.60), "blue": (0.15, 0.06)}  # IEC 61966-2-1


@pytest.mark.parametrize("display", ["miscalibrated-lcd", "wide-gamut-lcd"])
def test_every_patch(display: str, tmp_path: Path) -> None:
    assert session(job_of(PLAN), display, tmp_path / "run.log")
    found = results(tmp_path / "run.log")["blocks"]["patches"]["patches"]
    scene = scene_of(display)
    for one in found.values():
        x, y, z = truth_of(scene, field(tuple(one["code"])))
        assert one["luminance"]["value"] == pytest.approx(y, rel=0.006)
        assert one["x"]["value"] == pytest.approx(x / (x + y + z), abs=0.003)


def test_the_badly_set_one_is_bluish_with_gammas_apart() -> None:
    model = MODELS["miscalibrated-lcd"]
    assert model.white_xy[0] < 0.30
    assert max(model.gamma) - min(model.gamma) > 0.3


def test_the_clamped_preset_has_the_primaries_of_srgb() -> None:
    scene = scene_of("wide-gamut-lcd", noise="none")
    scene.set(scene.settings.but("preset=srgb"))
    for name, (x, y) in SRGB.items():
        code = tuple(255 if channel == name else 0 for channel in ("red", "green", "blue"))
        seen = scene.truth(painted(field(code)))  # type: ignore[arg-type]
        black = scene.truth(painted(field((0, 0, 0))))
        light = [a - b for a, b in zip(seen, black, strict=True)]
        assert (light[0] / sum(light), light[1] / sum(light)) == pytest.approx((x, y), abs=0.006), name
    assert SimScreen(scene).identify().signal == "sdr"
