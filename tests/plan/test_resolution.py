"""The key `resolution` of a dialect and of a bench's meter, and what a log's head keeps of it."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchd.errors import ProfileError
from benchd.profile.bench import Bench
from benchd.profile.profile_store import load_bench, load_dialect
from benchd.run.bench.log_head import resolution_head
from benchd.run.job import BenchJob, Document, bench_job
from tests.plan.helpers import refusal

BENCH = """\
bench: invented
screen: {{prompt: a lamp, size: 1920x1080}}
instruments: {{meter: {{command: [bridge]{more}}}}}
"""
TERSE = Path(__file__).resolve().parents[2] / "profiles" / "meters" / "terse-line.yaml"


def bench_with(resolution: str) -> Bench:
    return load_bench(BENCH.format(more=f", resolution: {resolution}"), "b.yaml")


def head_of(resolution: str) -> object:
    found = resolution_head(BenchJob({"bench": Document("invented", "b.yaml", "")}, bench_with(resolution)))
    return found["stated"]


def test_a_step_digits_and_a_step_for_each_range() -> None:
    assert head_of("{Y: 0.01}") == {
        "rules": {name: {"ranges": [[None, 0.01]]} for name in ("X", "Y", "Z")},
        "unit_cd_m2": 1.0,
        "by": "bench invented",
    }
    assert head_of("{Y: {digits: 4}, x: 0.0001}") == {
        "rules": {
            "Y": {"digits": 4, "least": None},
            "x": {"ranges": [[None, 0.0001]]},
            "y": {"ranges": [[None, 0.0001]]},
        },
        "unit_cd_m2": 1.0,
        "by": "bench invented",
    }, "a bridge may convert what its meter shows as Y, x, y"
    by_range = head_of("{Y: [{up_to: 9.999, step: 0.001}, {step: 0.01}], X: 0.1}")
    assert isinstance(by_range, dict)
    assert by_range["rules"]["Z"] == {"ranges": [[9.999, 0.001], [None, 0.01]]}
    assert by_range["rules"]["X"] == {"ranges": [[None, 0.1]]}


@pytest.mark.parametrize(
    ("resolution", "says"),
    [
        ("{}", "state of which quantity"),
        ("{Y: 0}", "resolution 0: write a step such as 0.01"),
        ("{Y: yes}", "write a step"),
        ("{Y: {digits: 0}}", "write a step"),
        ("{Y: {digits: 4, lest: 1}}", "write a step"),
        ("{Y: [{step: 0.1}, {step: 0.2}]}", "write a step"),
        ("{Y: [{up_to: 9, step: 0.1}, {up_to: 5, step: 1}]}", "write a step"),
        ("{Y: 1, X: 1, x: 0.1}", "the quantities must be of X, Y and Z, or of Y, x and y, or of Y, u and v"),
        ("{luminance: 1}", "luminance"),
    ],
)
def test_a_fault_in_a_resolution(resolution: str, says: str) -> None:
    assert says in str(refusal(bench_with, resolution))


def test_a_dialect_says_it_of_what_its_meter_sends_and_in_the_unit_it_sends() -> None:
    text = TERSE.read_text(encoding="utf-8")
    dialect = load_dialect(f"{text}resolution: {{Y: 0.001, y: 0.0001}}\n", "d.yaml")
    job = bench_job("sim-office")
    found = resolution_head(BenchJob(job.documents, job.bench, dialect))
    assert found["sent"] == {"quantities": ["Y", "x", "y"], "units_cd_m2": [pytest.approx(3.4262591)]}
    stated = found["stated"]
    assert stated["unit_cd_m2"] == pytest.approx(3.4262591)
    assert (stated["by"], stated["rules"]["x"]) == ("dialect terse-line", {"ranges": [[None, 0.0001]]})
    with pytest.raises(ProfileError, match="the meter sends Y, x, y; state the resolution of those"):
        load_dialect(f"{text}resolution: {{X: 0.001}}\n", "d.yaml")


def test_a_bench_outweighs_its_dialect_and_without_either_nothing_is_stated() -> None:
    text = TERSE.read_text(encoding="utf-8")
    dialect = load_dialect(f"{text}resolution: {{Y: 0.001}}\n", "d.yaml")
    job = bench_job("sim-office")
    instruments = bench_with("{Y: 0.1}").instruments
    found = resolution_head(BenchJob(job.documents, job.bench.model_copy(update={"instruments": instruments}), dialect))
    assert (found["stated"]["by"], found["stated"]["rules"]["Y"]) == ("bench sim-office", {"ranges": [[None, 0.1]]})
    assert resolution_head(job)["stated"] is None
    assert resolution_head(None)["sent"] == {"quantities": ["X", "Y", "Z"], "units_cd_m2": [1.0]}
