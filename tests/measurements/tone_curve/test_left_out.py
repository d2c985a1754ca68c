"""Dark steps are in no average of a tone curve; what shows the averages says so. SIMULATED."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchd.measurements.tone_curve.results import ToneCurve
from benchd.measurements.tone_curve.show import brief, plots, section
from benchd.report.model import Line, Table
from tests.hdr.chain import measured

PLAN = "plan: curve\nsignal: {transfer: pq}\nwarm_up: none\nblocks:\n  - tone_curve: {steps: 17}\n"


@pytest.fixture(scope="module")
def curve(tmp_path_factory: pytest.TempPathFactory) -> ToneCurve:
    [found] = measured(PLAN, "hdr-lcd", tmp_path_factory.mktemp("curve")).of("tone_curve")
    assert isinstance(found, ToneCurve)
    return found


def test_every_average_says_that_dark_steps_are_left_out(curve: ToneCurve) -> None:
    first = min(one.requested_cd_m2 for one in curve.steps if one.region == "tracking")
    assert first == pytest.approx(11.79, rel=0.3)
    notes = {line.name: line.note for line in brief(curve).lines}
    said = notes["tone error mean"].removeprefix("tone error, grey dE ITP: ")
    assert said.endswith(" cd/m2 up, darker steps left out")
    assert float(said.split()[1]) == pytest.approx(first, rel=1e-3)
    assert notes["grey dE ITP mean"] == notes["tone error mean"]
    items = section(curve).items
    [mean] = [one for one in items if isinstance(one, Line) and one.name == "mean |error|"]
    assert said in mean.also
    [table] = [one for one in items if isinstance(one, Table)]
    assert [row[-1] for row in table.rows] == [one.region.replace("tracking", "") for one in curve.steps]
    assert said in plots([("", curve)], "tone_curve", simulated=True)[1].text


def test_of_black_alone_it_needs_no_word(curve: ToneCurve) -> None:
    bright = tuple(one for one in curve.steps if one.region != "dark" or one.requested_cd_m2 == 0.0)
    assert not brief(replace(curve, steps=bright)).lines[0].note
