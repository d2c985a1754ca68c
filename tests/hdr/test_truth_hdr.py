"""Every HDR display of the simulator: the whole chain recovers its truth. SIMULATED, so the truth is known."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.catalogue import headlines
from benchd.patch.model import Patch
from benchd.profile.claim_sheet import terms_of
from benchd.report.terminal.results_text import render_text
from benchd.run.job import plan_job
from benchd.run.log.journal import LogFile
from sim.displays_hdr import HDR_MODELS
from sim.hdr import Hdr
from sim.inprocess import scene_of
from sim.truth import painted
from tests.hdr.chain import job_of, results, session
from tests.oracles import colour

SIGMAS = 5.0
PQ = sorted(name for name, model in HDR_MODELS.items() if model.hdr and model.hdr.transfer == "pq")

PLAN = """
plan: truth
signal: {transfer: pq}
warm_up: none
settle_s: 7
dark_settle_s: 7
blocks:
  - tone_curve: {steps: 33}
  - colour_levels: {levels_cd_m2: [20, 150]}
  - halo: {boards: [3, 9]}
  - peak: {areas_percent: [2, 10, 50, 100]}
  - sustained: {areas_percent: [100], minutes: 5}
"""

Measured = tuple[str, dict[str, Any]]
LOGS: dict[str, Path] = {}
"""The log of each display, once it is measured."""


@pytest.fixture(scope="module", params=PQ)
def measured(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Measured:
    log = tmp_path_factory.mktemp("hdr") / "run.log"
    assert session(job_of(PLAN), request.param, log)
    LOGS[request.param] = log
    return request.param, results(log)


def noise(display: str, luminance: float, n: int = 3) -> float:
    """Standard uncertainty of a mean of ``n`` readings, with the step of a five-digit answer, in cd/m2."""
    sensor = scene_of(display).sensor
    alone = sensor.repeatability_cd_m2(luminance, sensor.integration_s(luminance)) / math.sqrt(n)
    return math.hypot(alone, 10 ** (math.floor(math.log10(max(luminance, 1e-9))) - 4) / math.sqrt(12))


def meets(figure: dict[str, Any], truth: float, display: str) -> bool:
    if figure["bound"] == "below":
        return bool(figure["value"] >= truth)
    # What heat takes while it settles and is read is part of the display, and at most this much in a window of 10 %.
    heat = 0.012 * truth if display == "hdr-emissive" else 0.0
    return abs(figure["value"] - truth) <= SIGMAS * noise(display, truth) + heat


def window(code: tuple[int, int, int], area: float = 10.0) -> Patch:
    kind = "field" if area == 100 else "window"
    return Patch("field" if kind == "field" else "window", code, 10, area_percent=area, transfer="pq")


def truth(display: str, patch: Patch) -> tuple[float, float, float]:
    return scene_of(display).truth(painted(patch))


def test_every_grey_and_the_region_it_is_in(measured: Measured) -> None:
    display, found = measured
    for step in found["blocks"]["tone_curve"]["steps"]:
        light = truth(display, window((step["code"],) * 3))[1]
        assert meets(step["luminance"], light, display), step["code"]


def test_the_head_names_what_judges_an_hdr_log(measured: Measured) -> None:
    """It named the plan's SDR target, by which nothing in it is judged."""
    display, found = measured
    assert found["target"] is None
    assert found["judged_by"] == (
        "PQ (SMPTE ST 2084) curve clipped at the measured peak, greys against D65; "
        "PQ (SMPTE ST 2084) light of each colour, colours of P3 with D65"
    )
    text = " ".join(render_text(analyse(LogFile(LOGS[display]).records())).split())
    assert f"target {found['judged_by']}" in text
    assert "srgb" not in text.partition("begun")[0]


def test_every_difference_has_its_uncertainty_above_the_knee_too(measured: Measured) -> None:
    _, found = measured
    block = found["blocks"]["tone_curve"]
    clipped = [step for step in block["steps"] if step["asked_cd_m2"] > block["peak"]["value"]]
    assert clipped
    for step in block["steps"]:
        one = step["delta_e_itp"]
        assert one["value"] is None or one["low"] <= one["value"] <= one["high"], step["code"]
        assert one["value"] is None or one["low"] is not None, step["code"]


def test_the_averages_tell_of_the_curve_and_not_of_the_black(measured: Measured) -> None:
    """A step that asks for less than twenty times the panel's own black is off by 5 % and more whatever the curve."""
    display, found = measured
    block = found["blocks"]["tone_curve"]
    lifted = block["black"]["value"] / 0.05 if block["black"]["bound"] is None else 0.0
    dark = [step["region"] == "dark" for step in block["steps"]]
    assert dark == [step["asked_cd_m2"] < max(0.1, lifted) for step in block["steps"]]
    tracking = [abs(step["error"]["value"]) for step in block["steps"] if step["region"] == "tracking"]
    assert block["mean_error"]["value"] == pytest.approx(sum(tracking) / len(tracking))
    assert max(tracking) < 10.0, display


def test_what_hdr_is_summed_up_by(measured: Measured) -> None:
    """The same figures in the summary, in comparisons, in claims and in the library."""
    display, found = measured
    blocks = found["blocks"]
    by_name = {one.name: one.quantity.value for one in headlines(analyse(LogFile(LOGS[display]).records()))}
    assert by_name["peak luminance of a 10 % window"] == blocks["peak"]["windows"]["10-percent"]["peak"]["value"]
    last = [*blocks["sustained"]["windows"]["100-percent"]["moments"].values()][-1]
    assert by_name["sustained luminance of a 100 % window"] == last["luminance"]["value"]
    assert by_name["sustained luminance of a 100 % window, share of its peak"] == last["share"]["value"]
    nearest = min(blocks["halo"]["beside"].values(), key=lambda one: float(one["distance_percent"]))
    assert by_name.get("halo contrast") == nearest["contrast"]["value"]
    assert by_name["HDR tone error mean"] == blocks["tone_curve"]["mean_error"]["value"]
    for name in by_name:
        assert terms_of(f"{name} >= 1").figure == name, "a maker may claim it"


def test_the_knee_is_where_the_display_leaves_the_curve(measured: Measured) -> None:
    display, found = measured
    block = found["blocks"]["tone_curve"]
    asked = colour.models.eotf_ST2084(np.arange(1024) / 1023)

    def last_on_curve(codes: range) -> int:
        return max(code for code in codes if truth(display, window((code,) * 3))[1] >= 0.95 * asked[code])

    near = last_on_curve(range(300, 1024, 12))  # a display of many zones takes long to look at
    last = last_on_curve(range(near, min(near + 12, 1024)))
    low, high = block["knee_between"]
    assert low <= asked[last] <= high
    # The steps are 20 to 30 % apart in luminance; the interval says what that leaves open.
    assert block["knee"]["value"] == pytest.approx(asked[last], rel=0.05)
    assert block["knee"]["low"] <= asked[last + 1]
    assert block["knee"]["high"] >= asked[last]


@pytest.mark.parametrize(("knee", "verdict"), [(1.0, "clips"), (0.85, "rolls off"), (0.6, "rolls off")])
def test_a_display_has_one_verdict_from_any_number_of_steps(
    knee: float, verdict: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Through the whole chain, a display whose end is known: from no grid another verdict; the intervals hold it."""
    white = 1050.0
    drawn = replace(HDR_MODELS["hdr-lcd"], name="drawn", white_cd_m2=white, black_cd_m2=0.8, hdr=Hdr(knee=knee))
    monkeypatch.setitem(HDR_MODELS, "drawn", drawn)
    levels = np.geomspace(100.0, 10000.0, 40_001)
    light = np.where(levels <= knee * white, levels, white - (1 - knee) * white * _rest(levels / white, knee))
    last = levels[np.flatnonzero(light >= 0.95 * levels)[-1]]
    missing = 100.0 * float((1.0 - light / np.minimum(levels, white))[levels > last].max())
    verdicts = set()
    for steps in (17, 33, 65):
        block = results(_run(tmp_path / f"{steps}.log", "drawn", steps))["blocks"]["tone_curve"]
        # A per cent: the black adds to the light, and codes are whole.
        assert 0.99 * block["knee"]["low"] <= last <= 1.01 * block["knee"]["high"], steps
        assert block["below_clip"]["low"] - 0.5 <= missing <= block["below_clip"]["high"] + 0.5, steps
        assert block["ending"] in (verdict, "inconclusive"), block["clip"]
        assert block["ending"] != "inconclusive" or "more steps would decide" in block["clip"]
        verdicts.add(block["ending"])
    assert verdict in verdicts


def _rest(level: Any, knee: float) -> Any:
    return np.exp(-(level - knee) / (1.0 - knee)) if knee < 1.0 else 0.0 * level


def _run(log: Path, display: str, steps: int) -> Path:
    text = f"plan: p\nsignal: {{transfer: pq}}\nwarm_up: none\nsettle_s: 7\nblocks: [tone_curve: {{steps: {steps}}}]\n"
    assert session(job_of(text), display, log)
    return log


def test_colours_at_levels_against_an_independent_library(measured: Measured) -> None:
    display, found = measured
    block = found["blocks"]["colour_levels"]
    assert len(block["colours"]) == 14
    matrix = colour.RGB_COLOURSPACES["ITU-R BT.2020"]
    for one in block["colours"].values():
        code = tuple(one["code"])
        xyz = np.array(truth(display, window(code)))
        assert meets(one["luminance"], float(xyz[1]), display)
        rgb = colour.XYZ_to_RGB(xyz, matrix, apply_cctf_encoding=False)
        seen = colour.RGB_to_ICtCp(rgb, method="ITU-R BT.2100-2 PQ")
        asked = colour.RGB_to_ICtCp(colour.models.eotf_ST2084(np.array(code) / 1023), method="ITU-R BT.2100-2 PQ")
        wanted = float(colour.difference.delta_E_ITP(seen, asked))
        assert one["delta_e_itp"]["value"] == pytest.approx(wanted, rel=0.05, abs=0.6), one["hue"]


def test_black_beside_bright(measured: Measured) -> None:
    display, found = measured
    block = found["blocks"]["halo"]
    side = math.sqrt(0.04)
    for one in block["beside"].values():
        at = (0.5 + one["distance_percent"] / 100 + side / 2, 0.5)
        patch = Patch("spot", (1023,) * 3, 10, area_percent=4.0, at=at, transfer="pq")
        assert meets(one["black"], truth(display, patch)[1], display), one["distance_percent"]
    for board in block["boards"].values():
        for name, inverse in (("black", True), ("white", False)):
            cells = board["cells"]
            patch = Patch("checkerboard", (1023,) * 3, 10, columns=cells, rows=cells, inverse=inverse, transfer="pq")
            light = truth(display, patch)[1]
            heat = 0.06 * light if display == "hdr-emissive" else 0.0  # half of the screen is lit
            assert meets(board[name], light, display) or abs(board[name]["value"] - light) <= heat
    behaviour = {
        "hdr-lcd": "no dimming by zones",
        "hdr-zone-lcd": "rises towards the window",
        "hdr-emissive": "black stays below what the meter can tell",
    }
    assert behaviour[display] in block["behaviour"]
    assert (block["reach_percent"] is not None) == (display == "hdr-zone-lcd")


def heat_left(display: str, patch: Patch, after_s: float) -> float:
    """The display's own law, written here again: what is left of the light of a bright picture."""
    hdr = HDR_MODELS[display].hdr
    assert hdr is not None
    scene = scene_of(display)
    entry = scene._entry(painted(patch), 0.0)
    load = entry.gain * sum(w * mean for w, mean in zip(scene.display.weights, entry.mean, strict=True))
    return 1.0 - hdr.heat_loss * load * (1.0 - math.exp(-after_s / hdr.heat_tau_s))


def test_windows_over_size_and_time(measured: Measured) -> None:
    display, found = measured
    for kind in ("peak", "sustained"):
        for one in found["blocks"][kind]["windows"].values():
            patch = window((1023,) * 3, one["area_percent"])
            settled = truth(display, patch)[1]
            for moment in one["moments"].values():
                if moment["after_s"] < 10:
                    continue
                wanted = settled * heat_left(display, patch, moment["after_s"])
                # 0.5 %: readings within half a second of the moment, and the meter's own noise.
                assert moment["luminance"]["value"] == pytest.approx(wanted, rel=0.005)
            assert one["peak"]["value"] >= settled * 0.995
    full = found["blocks"]["sustained"]["windows"]["100-percent"]
    fell = full["below_95_after_s"]
    assert (fell["value"] is not None) == (display in ("hdr-emissive", "hdr-zone-lcd"))


def test_the_pixels_that_were_lit(measured: Measured) -> None:
    one = measured[1]["blocks"]["peak"]["windows"]["10-percent"]
    assert one["pixels"] == [607, 342]
    assert one["true_area_percent"] == pytest.approx(100 * 607 * 342 / (1920 * 1080))


def test_all_is_simulated_and_says_so(measured: Measured) -> None:
    assert measured[1]["notice"] == "SIMULATED"
    assert measured[1]["screen"]["signal"] == "pq"


def test_hlg_against_the_display_of_the_measured_peak(tmp_path: Path) -> None:
    log = tmp_path / "hlg.log"
    text = "plan: p\nsignal: {transfer: hlg}\nwarm_up: none\nsettle_s: 7\nblocks: [tone_curve: {steps: 17}]\n"
    assert session(job_of(text), "hdr-lcd-hlg", log)
    block = results(log)["blocks"]["tone_curve"]
    peak, black = block["peak"]["value"], block["black"]["value"]
    signals = np.array([step["signal"] for step in block["steps"]])
    wanted = colour.models.eotf_BT2100_HLG(np.stack([signals] * 3, -1), L_W=peak, L_B=black)[:, 0]
    assert [step["asked_cd_m2"] for step in block["steps"]] == pytest.approx(list(wanted), rel=1e-4, abs=1e-4)
    assert block["knee"]["value"] is None
    assert all(step["delta_e_itp"]["low"] is not None for step in block["steps"] if step["delta_e_itp"]["value"])
    assert block["mean_delta_e_itp"]["low"] is not None


def test_the_shipped_plans_run(tmp_path: Path) -> None:
    for name, display in (("hdr-quick", "hdr-lcd"), ("hdr-hlg", "hdr-lcd-hlg")):
        assert session(plan_job(name), display, tmp_path / f"{name}.log")
