"""Tone curve: every grey, the knee and how the display ends, of whole runs and of runs cut short. SIMULATED."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sim.displays_hdr import HDR_MODELS
from sim.hdr import Hdr
from tests.hdr.chain import job_of, results, session
from tests.hdr.hdr_truth import SHORT, Measured, cut, measured_with, meets, truth, window
from tests.oracles import colour

measured = measured_with("  - tone_curve: {steps: 33}\n")


def test_every_grey_and_the_region_it_is_in(measured: Measured) -> None:
    display, found = measured
    for step in found["blocks"]["tone_curve"]["steps"]:
        light = truth(display, window((step["code"],) * 3))[1]
        assert meets(step["luminance"], light, display), step["code"]


def test_every_difference_has_its_uncertainty_above_the_knee_too(measured: Measured) -> None:
    _, found = measured
    block = found["blocks"]["tone_curve"]
    clipped = [step for step in block["steps"] if step["requested_cd_m2"] > block["peak"]["value"]]
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
    assert dark == [step["requested_cd_m2"] < max(0.1, lifted) for step in block["steps"]]
    tracking = [abs(step["error"]["value"]) for step in block["steps"] if step["region"] == "tracking"]
    assert block["mean_error"]["value"] == pytest.approx(sum(tracking) / len(tracking))
    assert max(tracking) < 10.0, display


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


def test_hlg_against_the_display_of_the_measured_peak(tmp_path: Path) -> None:
    log = tmp_path / "hlg.log"
    text = "plan: p\nsignal: {transfer: hlg}\nwarm_up: none\nsettle_s: 7\nblocks: [tone_curve: {steps: 17}]\n"
    assert session(job_of(text), "hdr-lcd-hlg", log)
    block = results(log)["blocks"]["tone_curve"]
    peak, black = block["peak"]["value"], block["black"]["value"]
    signals = np.array([step["signal"] for step in block["steps"]])
    wanted = colour.models.eotf_BT2100_HLG(np.stack([signals] * 3, -1), L_W=peak, L_B=black)[:, 0]
    assert [step["requested_cd_m2"] for step in block["steps"]] == pytest.approx(list(wanted), rel=1e-4, abs=1e-4)
    assert block["knee"]["value"] is None
    assert all(step["delta_e_itp"]["low"] is not None for step in block["steps"] if step["delta_e_itp"]["value"])
    assert block["mean_delta_e_itp"]["low"] is not None


def test_a_tone_curve_without_all_its_steps_has_no_knee_and_no_average(tmp_path: Path) -> None:
    whole = tmp_path / "whole.log"
    assert session(job_of(SHORT % "pq" + "  - tone_curve: {steps: 9}\n"), "hdr-zone-lcd", whole)
    full = results(whole)["blocks"]["tone_curve"]
    assert full["knee"]["value"] > 1000.0
    block = cut(whole, "tone_curve/code-639", tmp_path / "cut.log")["tone_curve"]
    assert block["missing"] == "codes 767, 895 and 1023 were not measured"
    assert block["peak"]["why"] == "the largest code, 1023, was not measured"
    for name in ("knee", "mean_error", "worst_error", "mean_delta_e_itp", "max_delta_e_itp"):
        assert block[name]["value"] is None, name
        assert block[name]["why"] == block["missing"]
    assert not block["worst_code"]
    # What each step is held against does not depend on the others below the peak.
    for one, same in zip(block["steps"], full["steps"], strict=False):
        assert one["error"]["value"] == same["error"]["value"]
        assert one["region"] in ("", "dark")


def test_an_hlg_curve_without_its_peak_is_held_against_nothing(tmp_path: Path) -> None:
    log = tmp_path / "hlg.log"
    assert session(job_of(SHORT % "hlg" + "  - tone_curve: {steps: 9}\n"), "hdr-lcd-hlg", log)
    block = cut(log, "tone_curve/code-895", tmp_path / "cut.log")["tone_curve"]
    assert block["peak"]["value"] is None
    for step in block["steps"]:
        assert step["luminance"]["value"] is not None
        for name in ("target", "error", "error_codes", "delta_i", "delta_e_itp"):
            assert step[name]["value"] is None, (step["code"], name)


def test_hlg_levels_are_held_against_the_peak_and_black_that_are_measured_with_them(tmp_path: Path) -> None:
    log = tmp_path / "hlg.log"
    block = "  - tone_curve: {levels_cd_m2: [50, 100]}\n"
    assert session(job_of(SHORT % "hlg" + block), "hdr-lcd-hlg", log)
    found = results(log)["blocks"]["tone_curve"]
    assert (found["steps"][0]["code"], found["steps"][-1]["code"]) == (0, 1023)
    assert found["peak"]["value"] == pytest.approx(620.0, rel=0.01)


def test_a_narrow_hlg_signal_gives_the_curve_of_the_full_one(tmp_path: Path) -> None:
    """The same display, told the same light by codes of either range (ITU-R BT.2100 Table 9)."""
    found = {}
    for reach, display in (("full", "hdr-lcd-hlg"), ("narrow", "hdr-lcd-narrow")):
        head = SHORT.replace("%s", f"hlg, range: {reach}") + "  - tone_curve: {steps: 9}\n"
        assert session(job_of(head), display, tmp_path / reach, noise="none")
        found[reach] = results(tmp_path / reach)["blocks"]["tone_curve"]
    assert [step["code"] for step in found["narrow"]["steps"]][::8] == [64, 940]
    assert found["narrow"]["peak"]["value"] == pytest.approx(found["full"]["peak"]["value"], rel=1e-4)
    # The codes of the two ranges are not quite the same signals: half a code of 8 bits apart at most.
    for one, same in zip(found["narrow"]["steps"], found["full"]["steps"], strict=True):
        assert one["signal"] == pytest.approx(same["signal"], abs=1.2e-3)
        if one["region"] == "tracking":
            assert one["error"]["value"] == pytest.approx(same["error"]["value"], abs=0.1)
    assert found["narrow"]["mean_error"]["value"] == pytest.approx(found["full"]["mean_error"]["value"], abs=0.05)
