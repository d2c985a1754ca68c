"""Halo: black beside bright on every HDR display, and of a run that was cut short. SIMULATED."""

from __future__ import annotations

import math
from pathlib import Path

from benchd.patch.model import Patch
from tests.hdr.chain import job_of, results, session
from tests.hdr.hdr_truth import SHORT, Measured, cut, measured_with, meets, truth

measured = measured_with("  - halo: {boards: [3, 9]}\n  - sustained: {areas_percent: [100], minutes: 5}\n")
"""A long series is read with it: by its serial correlation the black of the emissive display is a bound."""


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
        "hdr-emissive": "black stays below the lower limit of the meter",
    }
    assert behaviour[display] in block["behaviour"]
    assert (block["reach_percent"] is not None) == (display == "hdr-zone-lcd")


def test_what_all_distances_say_waits_for_all_of_them(tmp_path: Path) -> None:
    whole = tmp_path / "whole.log"
    assert session(
        job_of(SHORT % "pq" + "  - halo: {distances_percent: [2, 10, 30], boards: [3]}\n"), "hdr-zone-lcd", whole
    )
    full = results(whole)["blocks"]
    halo = cut(whole, "halo/right/10", tmp_path / "h.log")["halo"]
    assert halo["missing"] == "patches 30 % right and board 3 x 3 were not measured"
    assert halo["near_over_far"]["value"] is None
    assert halo["reach_percent"] is None
    assert halo["behaviour"].startswith("not known")
    boards_only = cut(whole, "halo/right/30", tmp_path / "b.log")["halo"]
    assert boards_only["near_over_far"]["value"] == full["halo"]["near_over_far"]["value"]
