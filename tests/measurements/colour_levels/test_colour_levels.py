"""Colours at levels: against an independent library, codes at the ends of their scale, a run cut short. SIMULATED."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchd.measurements.colour_levels.analysis import target_xyz
from benchd.measurements.colour_levels.plan import HUES, TO_BT2020, colour_code
from benchd.plan.signal import Signal
from tests.hdr.chain import job_of, session
from tests.hdr.hdr_truth import SHORT, Measured, cut, measured_with, meets, truth, window
from tests.oracles import colour

measured = measured_with("  - colour_levels: {levels_cd_m2: [20, 150]}\n")


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


def test_averages_wait_for_all_colours(tmp_path: Path) -> None:
    whole = tmp_path / "whole.log"
    assert session(
        job_of(SHORT % "pq" + "  - colour_levels: {levels_cd_m2: [50, 100], hues: [red, green, white]}\n"),
        "hdr-zone-lcd",
        whole,
    )
    colours = cut(whole, "colour_levels/green/100", tmp_path / "c.log")["colour_levels"]
    assert colours["missing"] == "colour white 100 was not measured"
    assert colours["mean_delta_e_itp"]["why"] == colours["max_delta_e_itp"]["why"] == colours["missing"]
    assert colours["worst"] == ""


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
