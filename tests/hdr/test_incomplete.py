"""HDR figures of a run that was cut short, of the narrow range, and of codes at the ends of their scale. SIMULATED."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchd.measurements.colour_levels.analysis import target_xyz
from benchd.measurements.colour_levels.plan import HUES, TO_BT2020, colour_code
from benchd.patch.screen import ScreenIdentity
from benchd.plan.bench_fit import fit
from benchd.plan.signal import Signal
from benchd.profile.bench import Bench
from benchd.profile.reading.strict_yaml import load_model
from tests.hdr.chain import job_of, results, session

HEAD = "plan: p\nsignal: {transfer: %s}\nwarm_up: none\nlook_again: false\nreadings: 2\norder: listed\nblocks:\n"
TEXT = """
  - colour_levels: {levels_cd_m2: [50, 100], hues: [red, green, white]}
  - halo: {distances_percent: [2, 10, 30], boards: [3]}
  - tone_curve: {steps: 9}
  - peak: {areas_percent: [2, 10, 100], for_s: 10}
"""


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    log = tmp_path_factory.mktemp("whole") / "run.log"
    assert session(job_of(HEAD % "pq" + TEXT), "hdr-zone-lcd", log)
    return log


def cut(log: Path, after: str, to: Path) -> dict[str, Any]:
    """The blocks of a log that ends, as after a power cut, with the step ``after``."""
    kept = []
    for line in log.read_bytes().splitlines(keepends=True):
        kept.append(line)
        if b'"kind":"done","step":"' + after.encode() + b'"' in line:
            to.write_bytes(b"".join(kept))
            blocks: dict[str, Any] = results(to)["blocks"]
            return blocks
    raise AssertionError(f"no step {after}")


def test_a_tone_curve_without_all_its_steps_has_no_knee_and_no_average(whole: Path, tmp_path: Path) -> None:
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
    assert session(job_of(HEAD % "hlg" + "  - tone_curve: {steps: 9}\n"), "hdr-lcd-hlg", log)
    block = cut(log, "tone_curve/code-895", tmp_path / "cut.log")["tone_curve"]
    assert block["peak"]["value"] is None
    for step in block["steps"]:
        assert step["luminance"]["value"] is not None
        for name in ("target", "error", "error_codes", "delta_i", "delta_e_itp"):
            assert step[name]["value"] is None, (step["code"], name)


def test_hlg_levels_are_held_against_the_peak_and_black_that_are_measured_with_them(tmp_path: Path) -> None:
    log = tmp_path / "hlg.log"
    block = "  - tone_curve: {levels_cd_m2: [50, 100]}\n"
    assert session(job_of(HEAD % "hlg" + block), "hdr-lcd-hlg", log)
    found = results(log)["blocks"]["tone_curve"]
    assert (found["steps"][0]["code"], found["steps"][-1]["code"]) == (0, 1023)
    assert found["peak"]["value"] == pytest.approx(620.0, rel=0.01)


def test_summaries_of_colours_halo_and_peak_wait_for_all_their_patches(whole: Path, tmp_path: Path) -> None:
    full = results(whole)["blocks"]
    colours = cut(whole, "colour_levels/green/100", tmp_path / "c.log")["colour_levels"]
    assert colours["missing"] == "colour white 100 was not measured"
    assert colours["mean_delta_e_itp"]["why"] == colours["max_delta_e_itp"]["why"] == colours["missing"]
    assert colours["worst"] == ""
    halo = cut(whole, "halo/right/10", tmp_path / "h.log")["halo"]
    assert halo["missing"] == "patches 30 % right and board 3 x 3 were not measured"
    assert halo["near_over_far"]["value"] is None
    assert halo["reach_percent"] is None
    assert halo["behaviour"].startswith("not known")
    boards_only = cut(whole, "halo/right/30", tmp_path / "b.log")["halo"]
    assert boards_only["near_over_far"]["value"] == full["halo"]["near_over_far"]["value"]
    peak = cut(whole, "peak/10", tmp_path / "p.log")["peak"]
    assert peak["maximum"]["why"] == peak["missing"] == "size 100 % was not measured"
    assert len(peak["windows"]) == 2


def test_a_window_that_stays_is_held_against_the_same_best_second_as_one_that_does_not(tmp_path: Path) -> None:
    """A panel that limits within a quarter of a second: the figure is a mean of one second, not one reading."""
    text = "  - peak: {areas_percent: [10], for_s: 60}\n  - sustained: {areas_percent: [10], minutes: 1, black_s: 10}\n"
    assert session(job_of(HEAD % "pq" + text), "hdr-emissive", tmp_path / "run.log", noise="none")
    blocks = results(tmp_path / "run.log")["blocks"]
    (short,), (long,) = (blocks[name]["windows"].values() for name in ("peak", "sustained"))
    assert long["peak"]["value"] == pytest.approx(short["peak"]["value"], rel=0.005)
    assert list(long["moments"].values())[-1]["share"]["value"] == pytest.approx(
        list(short["moments"].values())[-1]["share"]["value"], abs=0.5
    )


# Ends of the scale.


@given(
    peak=st.floats(100, 10_000),
    level=st.floats(0.001, 10_000),
    hue=st.sampled_from(HUES),
    inside=st.sampled_from(sorted(TO_BT2020)),
    transfer=st.sampled_from(["pq", "hlg"]),
    reach=st.sampled_from(["full", "narrow"]),
    bits=st.sampled_from([8, 10]),
)
def test_no_colour_has_a_code_outside_its_range(
    peak: float, level: float, hue: str, inside: str, transfer: str, reach: str, bits: int
) -> None:
    fields = {"transfer": transfer, "range": reach, "bits": bits} | ({"peak_cd_m2": peak} if transfer == "hlg" else {})
    signal = Signal.model_validate(fields)
    code = colour_code(signal, inside, hue, level)
    assert signal.code(0.0) <= min(code) <= max(code) <= signal.code(1.0)


def test_a_blue_beyond_the_hlg_signal_is_asked_for_as_bright_as_it_can_be() -> None:
    # ITU-R BT.2100 Table 5: full blue alone gives 0.0593 of the luma, so 1000 x 0.0593^1.2 = 33.7 cd/m2, not 59.3.
    signal = Signal(transfer="hlg")
    code = colour_code(signal, "bt2020", "blue", 1000.0)
    assert code == (0, 0, 1023)
    assert target_xyz(code, signal.described())[1] == pytest.approx(1000.0 * 0.0593**1.2, rel=1e-3)


# The range of the codes.

BENCH = "bench: b\nscreen: {command: [x]%s}\ninstruments: {meter: {command: [x]}}\n"


@pytest.mark.parametrize(
    ("plan", "screen", "fits"),
    [
        ("signal: {transfer: hlg, range: narrow}\nblocks: [peak: {}]", "", False),
        ("signal: {transfer: hlg, range: narrow}\nblocks: [peak: {}]", ", range: narrow", True),
        ("signal: {transfer: hlg}\nblocks: [peak: {}]", ", range: narrow", False),
        ("blocks: [luminance: {}]", ", range: narrow", False),
        ("blocks: [luminance: {}]", "", True),
    ],
)
def test_codes_of_another_range_are_refused_not_measured_wrongly(plan: str, screen: str, fits: bool) -> None:
    bench = load_model(Bench, BENCH % screen, "b.yaml")
    found = job_of(f"plan: p\nwarm_up: none\n{plan}\n").plan
    emits = "sdr" if found.signal is None else found.signal.transfer
    shown = ScreenIdentity("A-1", 1920, 1080, 0, 0, 10, "none", "pen", "no", True, signal=emits)
    for screen in (None, shown):
        refusals = " ".join(fit(found, bench, screen).refusals)
        assert ("range, so that every level would be measured wrongly" in refusals) == (not fits)
        assert bool(refusals) == (not fits)


def test_a_narrow_hlg_signal_gives_the_curve_of_the_full_one(tmp_path: Path) -> None:
    """The same display, told the same light by codes of either range (ITU-R BT.2100 Table 9)."""
    found = {}
    for reach, display in (("full", "hdr-lcd-hlg"), ("narrow", "hdr-lcd-narrow")):
        head = HEAD.replace("%s", f"hlg, range: {reach}") + "  - tone_curve: {steps: 9}\n"
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
