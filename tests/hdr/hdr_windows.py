"""What a display's heat leaves of the light of a bright window, for the tests of peak and sustained luminance."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import pytest

from benchd.patch.model import Patch
from sim.displays_hdr import HDR_MODELS
from sim.inprocess import scene_of
from sim.truth import painted
from tests.hdr.hdr_truth import truth, window


def heat_left(display: str, patch: Patch, after_s: float) -> float:
    """The display's own law, written here again: what is left of the light of a bright picture."""
    hdr = HDR_MODELS[display].hdr
    assert hdr is not None
    scene = scene_of(display)
    entry = scene._entry(painted(patch), 0.0)
    load = entry.gain * sum(w * mean for w, mean in zip(scene.display.weights, entry.mean, strict=True))
    return 1.0 - hdr.heat_loss * load * (1.0 - math.exp(-after_s / hdr.heat_tau_s))


def check_windows(display: str, windows: Mapping[str, Any]) -> None:
    """Every moment of every window after the first seconds has the light that the display's own law leaves."""
    for one in windows.values():
        patch = window((1023,) * 3, one["area_percent"])
        settled = truth(display, patch)[1]
        for moment in one["moments"].values():
            if moment["after_s"] < 10:
                continue
            wanted = settled * heat_left(display, patch, moment["after_s"])
            # 0.5 %: readings within half a second of the moment, and the meter's own noise.
            assert moment["luminance"]["value"] == pytest.approx(wanted, rel=0.005)
        assert one["peak"]["value"] >= settled * 0.995
