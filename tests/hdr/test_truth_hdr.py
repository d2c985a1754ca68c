"""Every HDR display of the simulator with all kinds of HDR in one log: head, summary, notice. SIMULATED.

What each kind makes of a display is held against its truth in the folder of the kind, `tests/measurements/`.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.catalogue import headlines
from benchd.profile.claim_sheet import terms_of
from benchd.report.terminal.results_text import render_text
from benchd.run.job import plan_job
from benchd.run.log.journal import LogFile
from tests.hdr.chain import job_of, results, session
from tests.hdr.hdr_truth import PQ, SETTLED, Measured

BLOCKS = """\
  - tone_curve: {steps: 17}
  - colour_levels: {levels_cd_m2: [150]}
  - halo: {boards: [3]}
  - peak: {areas_percent: [10, 100]}
  - sustained: {areas_percent: [100], minutes: 2}
"""

LOGS: dict[str, Path] = {}
"""The log of each display, once it is measured."""


@pytest.fixture(scope="module", params=PQ)
def measured(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Measured:
    log = tmp_path_factory.mktemp("hdr") / "run.log"
    assert session(job_of(SETTLED + BLOCKS), request.param, log)
    LOGS[request.param] = log
    return request.param, results(log)


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


def test_all_is_simulated_and_says_so(measured: Measured) -> None:
    assert measured[1]["notice"] == "SIMULATED"
    assert measured[1]["screen"]["signal"] == "pq"


def test_the_shipped_plans_run(tmp_path: Path) -> None:
    for name, display in (("hdr-quick", "hdr-lcd"), ("hdr-hlg", "hdr-lcd-hlg")):
        assert session(plan_job(name), display, tmp_path / f"{name}.log")
