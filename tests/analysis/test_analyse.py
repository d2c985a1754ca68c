"""A whole log to results: every block, interruption, what is absent, patches, warm-up."""

from __future__ import annotations

import dataclasses
import gc
from collections.abc import Iterator, Mapping
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.analysis.analyse import analyse
from benchd.analysis.colour.target import target_from
from benchd.analysis.results import SCHEMA, Results
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.errors import InputError
from benchd.run.log.records import Record
from tests.analysis.logs import Log, target_fields, xyz
from tests.imports import loaded_with

BLOCKS: list[dict[str, Any]] = [
    {"name": "luminance", "kind": "luminance"},
    {"name": "contrast", "kind": "contrast", "kinds": ["sequential"]},
    {"name": "grayscale", "kind": "grayscale", "codes": [0, 128, 255], "bits": 8, "white": "target"},
    {
        "name": "uniformity",
        "kind": "uniformity",
        "columns": 3,
        "rows": 1,
        "levels": [{"level": "white", "percent": 100, "code": 255}],
    },
    {"name": "patches", "kind": "patches", "names": ["red", "teal"]},
]


def whole(**head: Any) -> Log:
    log = Log(BLOCKS, steps=12, **head)
    log.shown("warm-up", {})
    for minute in range(5):
        log.reading("warm-up", xyz(100.0 + 0.1 * minute))
    log.add("done", {"readings": 5, "stable": True, "minutes": 23.0}, "warm-up")
    log.measure("luminance/white", {"level": "white"}, [xyz(100.0), xyz(100.2), xyz(99.8)])
    log.measure("luminance/black", {"level": "black"}, [xyz(0.10), xyz(0.101), xyz(0.099)], code=0)
    for level, value in (("white", 100.0), ("black", 0.1)):
        code = 255 if level == "white" else 0
        log.measure(f"contrast/{level}", {"kind": "sequential", "level": level}, [xyz(value)] * 3, code=code)
    for code, value in ((0, 0.1), (128, 21.6), (255, 100.0)):
        log.measure(f"grayscale/code-{code}", {"code": code}, [xyz(value)] * 3, code=code)
    for column, value in ((1, 98.0), (2, 100.0), (3, 95.0)):
        labels = {"row": 1, "column": column, "level": "white", "level_percent": 100}
        log.measure(f"uniformity/r1c{column}/white", labels, [xyz(value)] * 3)
    log.measure("patches/red", {"name": "red"}, [xyz(21.0, 0.64, 0.33)] * 3, code=(255, 0, 0))
    log.measure("patches/teal", {"name": "teal"}, [xyz(50.0, 0.22, 0.33)] * 3, code=(0, 128, 128))
    return log


def quantities(value: object) -> Iterator[Quantity]:
    if isinstance(value, Quantity):
        yield value
    elif isinstance(value, tuple):
        for one in value:
            yield from quantities(one)
    elif isinstance(value, Mapping):
        for one in value.values():
            yield from quantities(one)
    elif dataclasses.is_dataclass(value):
        for field in dataclasses.fields(value):
            yield from quantities(getattr(value, field.name))


def test_a_complete_log() -> None:
    got = analyse(whole().end())
    assert got.schema == SCHEMA
    assert (got.simulated, got.interrupted, got.faults, got.sessions) == (False, False, 0, 1)
    assert (got.sample, got.plan, got.steps_done, got.readings) == ("invented-1", "invented", 13, 5 + 12 * 3)
    assert got.warm_up is not None
    assert (got.warm_up.stable, got.warm_up.minutes) == (True, 23.0)
    assert got.warm_up.luminance.n == 5
    assert got.of("luminance")[0].white.value == pytest.approx(100.0)
    assert got.of("luminance")[0].white.s == pytest.approx(0.2)
    assert got.of("contrast")[0].sequential is not None
    assert got.of("contrast")[0].sequential.ratio.value == pytest.approx(1000.0)
    assert [step.code for step in got.of("grayscale")[0].steps] == [0, 128, 255]
    assert got.of("uniformity")[0].levels[0].non_uniformity.value == pytest.approx(5.0)
    assert got.of("uniformity")[0].levels[0].worst_place == "r1c3"
    assert [patch.name for patch in got.of("patches")[0].patches] == ["red", "teal"]
    assert got.of("patches")[0].patches[0].x.value == pytest.approx(0.64)
    assert got.of("patches")[0].patches[1].code == (0, 128, 128)
    assert [absent.result for absent in got.absent] == ["grayscale/gamma_fit/white_fixed", "grayscale/gamma_fit/free"]


def test_every_quantity_has_a_unit_and_a_reason_or_readings() -> None:
    seen = list(quantities(analyse(whole().end())))
    assert len(seen) > 100
    for one in seen:
        assert one.unit
        if one.value is None:
            assert one.status == "absent"
            assert one.why
        else:
            assert one.n >= 3
            assert one.records
            assert all(first <= last for first, last in one.records)


def test_methods_are_cited_and_conformity_is_claimed_nowhere() -> None:
    text = repr(analyse(whole().end())).lower()
    assert "method after" in text
    assert "conform" not in text


def test_an_interrupted_log_is_absent_where_it_stops_and_right_before() -> None:
    records = whole().records
    stop = next(i for i, one in enumerate(records) if one.step == "uniformity/r1c3/white" and one.kind == "reading")
    got = analyse(records[:stop])
    assert got.interrupted
    assert got.of("luminance")[0].white.value == pytest.approx(100.0)
    level = got.of("uniformity")[0].levels[0]
    assert level.missing == "cell r1c3 was not measured"
    assert [(one.result, one.why) for one in got.absent if one.result.startswith(("unif", "pat"))] == [
        ("uniformity/white", "cell r1c3 was not measured"),
        ("patches", "patches red and teal were not measured"),
    ]


def plain_values(results: Results) -> list[Quantity]:
    return [one for one in quantities(results) if one.value is not None]


@given(st.integers(min_value=1, max_value=70))
@settings(derandomize=True, max_examples=70, deadline=None)
def test_any_beginning_of_a_log_is_analysed_and_never_contradicts_the_whole(length: int) -> None:
    """Whatever a cut log gives is a figure of the whole log too: missing patches never change a value."""
    records = whole().records
    part = analyse(records[:length])
    known = {(one.value, one.unit, one.records) for one in plain_values(analyse(records))}
    assert part.interrupted
    for one in plain_values(part):
        assert (one.value, one.unit, one.records) in known


def test_a_target_given_by_hand_replaces_the_one_of_the_log() -> None:
    other = target_from(target_fields({"kind": "power", "exponent": 2.4}))
    results = analyse(whole().end(), other)
    assert results.target == other
    middle = results.of("grayscale")[0].steps[1]
    assert middle.target_luminance.value == pytest.approx(100.0 * (128 / 255) ** 2.4)


def test_a_log_without_target_has_grey_steps_but_no_judgement() -> None:
    got = analyse(whole(target={}).end())
    assert got.target is None
    step = got.of("grayscale")[0].steps[1]
    assert step.luminance.value == pytest.approx(21.6)
    assert step.delta_uv.why == "no target was given"
    assert step.delta_e.white_luminance.why == "no target was given"
    assert "grayscale/delta_e/white_luminance" in {one.result for one in got.absent}


def test_the_same_records_give_the_same_results() -> None:
    assert analyse(whole().end()) == analyse(iter(whole().end()))
    changed = whole()
    changed.records[3] = changed.records[3]._replace(body={"n": 1, "xyz": xyz(101.0), "status": "ok"})
    assert analyse(changed.end()) != analyse(whole().end())


def test_simulated_is_said() -> None:
    assert analyse(whole(simulated=True, virtual_time=True).end()).simulated
    assert analyse(whole(simulated=True, virtual_time=True).end()).virtual_time


def test_a_step_measured_again_counts_once_with_its_last_attempt() -> None:
    log = whole()
    log.shown("luminance/white", {"level": "white"}, attempt=2)
    log.reading("luminance/white", xyz(90.0), attempt=2)
    log.add("done", {"readings": 1}, "luminance/white", 2)
    got = analyse(log.end())
    assert got.of("luminance")[0].white.value == pytest.approx(90.0)
    assert got.readings == 5 + 12 * 3 - 3 + 1


def test_two_blocks_of_one_kind_are_kept_apart() -> None:
    log = Log([{"name": "before", "kind": "luminance"}, {"name": "after", "kind": "luminance"}])
    for name, value in (("before", 100.0), ("after", 101.0)):
        log.measure(f"{name}/white", {"level": "white"}, [xyz(value)] * 3)
        log.measure(f"{name}/black", {"level": "black"}, [xyz(0.1)] * 3, code=0)
    got = analyse(log.end())
    assert [(one.block, one.white.value) for one in got.of("luminance")] == [("before", 100.0), ("after", 101.0)]


def test_logs_that_can_not_be_used_are_refused_in_one_sentence() -> None:
    with pytest.raises(InputError, match="no 'started' record"):
        analyse([])
    with pytest.raises(InputError, match="two blocks of the name 'x'"):
        analyse(Log([{"name": "x", "kind": "luminance"}] * 2).end())
    with pytest.raises(InputError, match="KeyError at 'columns'"):
        analyse(Log([{"name": "x", "kind": "uniformity"}]).end())


def test_records_are_read_once_as_a_stream() -> None:
    records: Iterator[Record] = iter(whole().end())
    assert analyse(records).readings == 41
    assert next(records, None) is None


def test_analysis_imports_no_instrument_no_window_and_no_oracle() -> None:
    heavy = {"colour", "scipy", "yaml", "serial", "pyglet", "pydantic"}
    assert not (heavy | {"benchd.instruments", "benchd.patch", "benchd.plan"}) & loaded_with("benchd.analysis.analyse")


@pytest.mark.parametrize("at_work", [True, False])
def test_the_collector_is_left_as_it_was_found(at_work: bool) -> None:
    before = gc.isenabled()
    (gc.enable if at_work else gc.disable)()
    try:
        analyse(whole().records)
        with pytest.raises(InputError):
            analyse([])
        assert gc.isenabled() is at_work
    finally:
        (gc.enable if before else gc.disable)()
