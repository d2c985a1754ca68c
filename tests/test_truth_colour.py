"""Colours through the whole chain against the simulator's own truth: gamut, volume and accuracy of SIMULATED displays.

The truth is worked out here from what the scene shows, by shapely and colour-science where there is such a figure.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from shapely.geometry import Polygon

from benchd.analysis.analyse import analyse
from benchd.analysis.results import Results
from benchd.clock import StopRequest
from benchd.patch.model import field
from benchd.report.terminal.results_text import render_text
from benchd.run.job import bench_job, plan_job
from benchd.run.log.journal import LogFile
from benchd.run.sequencer import Sequencer
from benchd.run.session import started_body
from sim.inprocess import SimControls, scene_of
from sim.scene import Scene
from sim.truth import truth_of
from tests.oracles import colour as oracle
from tests.run.kill_anywhere import results, session
from tests.run.scene_rig import SceneRig, session_log

SRGB = ((0.640, 0.330), (0.300, 0.600), (0.150, 0.060))  # IEC 61966-2-1
D65 = (0.3127, 0.3290)
DISPLAYS = ("office-lcd", "wide-gamut-lcd")


@pytest.fixture(scope="module", params=DISPLAYS)
def measured(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[Scene, dict[str, Any]]:
    log = tmp_path_factory.mktemp("colour") / "run.log"
    assert session(plan_job("colour-standard"), log, request.param).complete
    found: dict[str, Any] = results(log)
    return scene_of(request.param), found


def seen(scene: Scene, code: tuple[int, int, int]) -> Any:
    return np.array(truth_of(scene, field(code)))


def chromaticity(xyz: Any) -> tuple[float, float]:
    return float(xyz[0] / xyz.sum()), float(xyz[1] / xyz.sum())


def uv(xy: tuple[float, float]) -> tuple[float, float]:
    u, v = oracle.xy_to_Luv_uv(xy)
    return float(u), float(v)


def test_coverage(measured: tuple[Scene, dict[str, Any]]) -> None:
    scene, found = measured
    device = [chromaticity(seen(scene, code)) for code in ((255, 0, 0), (0, 255, 0), (0, 0, 255))]
    block = found["blocks"]["gamut"]["coverage"]["srgb"]
    for name, corners, target in (("xy", device, SRGB), ("uv", [uv(p) for p in device], [uv(p) for p in SRGB])):
        one, other = Polygon(corners), Polygon(target)
        covered = 100.0 * one.intersection(other).area / other.area
        assert block[f"coverage_{name}"]["value"] == pytest.approx(covered, abs=0.2)
        assert block[f"area_ratio_{name}"]["value"] == pytest.approx(100.0 * one.area / other.area, abs=0.4)


def test_every_figure_is_simulated_and_has_an_interval(measured: tuple[Scene, dict[str, Any]]) -> None:
    found = measured[1]
    figures = [
        found["blocks"]["gamut"]["coverage"]["srgb"]["area_ratio_uv"],
        found["blocks"]["gamut"]["volumes"]["measured"]["volume"],
        found["blocks"]["chart"]["accuracy"]["white_luminance"]["mean"],
        found["blocks"]["chart"]["patches"]["tcs10-yellow"]["error"]["total"],
        found["blocks"]["chart"]["patches"]["tcs10-yellow"]["error"]["hue"],
    ]
    for figure in figures:
        assert figure["simulated"] is True
        assert figure["low"] <= figure["value"] <= figure["high"]
        assert figure["high"] > figure["low"]


def test_differences_of_the_chart(measured: tuple[Scene, dict[str, Any]]) -> None:
    """CIEDE2000 by colour-science between what codes ask of sRGB and what the scene shows."""
    scene, found = measured
    white = seen(scene, (255, 255, 255))
    lab_white = D65
    chart = found["blocks"]["chart"]["patches"]
    for name in ("tcs01-greyish-red", "tcs09-red", "tcs10-yellow", "tcs11-green", "tcs12-blue", "tcs14-leaf"):
        code = tuple(chart[name]["code"])
        # The space's own matrix in full precision; colour-science has that of the standard, rounded to four digits.
        matrix = oracle.normalised_primary_matrix(np.array(SRGB), np.array(D65))
        goal = matrix @ oracle.models.eotf_sRGB(np.array(code) / 255.0)
        difference = oracle.delta_E(
            oracle.XYZ_to_Lab(goal, lab_white),
            oracle.XYZ_to_Lab(seen(scene, code) / white[1], lab_white),
            method="CIE 2000",
        )
        assert chart[name]["error"]["total"]["value"] == pytest.approx(float(difference), abs=0.1), name


def swept(folder: Path, display: str) -> Results:
    """Results of the plan `presets`, in one process."""
    scene = scene_of(display)
    rig = SceneRig(scene, controls=SimControls(scene))
    job, path = plan_job("presets"), folder / "presets.log"
    body = started_body(job, bench_job("sim-wide"), "curlew-32/1", "", rig.identities())
    with session_log(path, rig.clock, body) as (out, state):
        assert Sequencer(job.steps, state, rig, out, StopRequest()).run().complete
    return analyse(LogFile(path).records())


def test_a_clamped_preset_is_near_its_space_where_the_native_one_is_not(tmp_path: Path) -> None:
    found = swept(tmp_path, "wide-gamut-lcd")
    assert found.sweep is not None
    rows = {str(row.settings["preset"]): row for row in found.sweep.rows}
    names = [name for name in rows["srgb"].figures if name.startswith("colour delta E mean of ")]
    assert len(names) == 2
    for name in names:
        assert (rows["srgb"].figures[name].quantity.value or 9.0) < 0.3
        assert (rows["standard"].figures[name].quantity.value or 0.0) > 2.0
    area = {
        one.block: next(each for each in one.coverage if each.space == "srgb").area_ratio_uv.value or 0.0
        for one in found.of("gamut")
    }
    assert area["preset=srgb/gamut"] < 101.0 < 120.0 < area["preset=standard/gamut"]
    scene = scene_of("wide-gamut-lcd", noise="none")
    for preset in ("standard", "srgb"):
        scene.set(scene.settings.but(f"preset={preset}"))
        (gamut,) = (one for one in found.of("gamut") if one.block == f"preset={preset}/gamut")
        for shade in gamut.colours:
            if shade.name in ("red", "green", "blue", "white"):
                true = chromaticity(seen(scene, shade.code))
                assert (shade.x.value, shade.y.value) == pytest.approx(true, abs=5e-4), (preset, shade.name)
                if preset == "srgb":
                    goal = D65 if shade.name == "white" else SRGB[("red", "green", "blue").index(shade.name)]
                    assert (shade.x.value, shade.y.value) == pytest.approx(goal, abs=2.5e-3), shade.name
    assert (rows["standard"].figures["coverage of sRGB / BT.709 in u'v'"].quantity.value or 0.0) > 99.0
    text = render_text(found, width=120)
    assert "sRGB / BT.709" in text
    assert "saturations" in text
    assert "dE00" in text
