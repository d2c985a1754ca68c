"""What the tests of the kinds of HDR share: a plan of one block on every PQ display of the simulator, and its truth."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest

from benchd.patch.model import Patch
from sim.displays_hdr import HDR_MODELS
from sim.inprocess import scene_of
from sim.truth import painted
from tests.hdr.chain import job_of, results, session

SIGMAS = 5.0
PQ = sorted(name for name, model in HDR_MODELS.items() if model.hdr and model.hdr.transfer == "pq")
SETTLED = "plan: truth\nsignal: {transfer: pq}\nwarm_up: none\nsettle_s: 7\ndark_settle_s: 7\nblocks:\n"
SHORT = "plan: p\nsignal: {transfer: %s}\nwarm_up: none\nlook_again: false\nreadings: 2\norder: listed\nblocks:\n"

Measured = tuple[str, dict[str, Any]]
"""A display, and the results of its log."""


def measured_with(blocks: str) -> Any:
    """A fixture: a plan of ``blocks`` measured once on each display."""

    @pytest.fixture(scope="module", params=PQ)
    def measured(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Measured:
        log = tmp_path_factory.mktemp("hdr") / "run.log"
        assert session(job_of(SETTLED + blocks), request.param, log)
        return request.param, results(log)

    return measured


def noise(display: str, luminance: float, n: int = 3) -> float:
    """Standard uncertainty of a mean of ``n`` readings, with the step of a five-digit answer, in cd/m2."""
    sensor = scene_of(display).sensor
    alone = sensor.repeatability_cd_m2(luminance, sensor.integration_s(luminance)) / math.sqrt(n)
    return math.hypot(alone, 10 ** (math.floor(math.log10(max(luminance, 1e-9))) - 4) / math.sqrt(12))


def meets(figure: dict[str, Any], truth: float, display: str) -> bool:
    """True where ``figure`` agrees with ``truth`` within the noise, or is a bound that holds it."""
    if figure["bound"] == "below":
        return bool(figure["value"] >= truth)
    # What heat takes while it settles and is read is part of the display, and at most this much in a window of 10 %.
    heat = 0.012 * truth if display == "hdr-emissive" else 0.0
    return abs(figure["value"] - truth) <= SIGMAS * noise(display, truth) + heat


def window(code: tuple[int, int, int], area: float = 10.0) -> Patch:
    """A window on black, or the full screen."""
    kind = "field" if area == 100 else "window"
    return Patch("field" if kind == "field" else "window", code, 10, area_percent=area, transfer="pq")


def truth(display: str, patch: Patch) -> tuple[float, float, float]:
    """Its true X, Y, Z."""
    return scene_of(display).truth(painted(patch))


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
