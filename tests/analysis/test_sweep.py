"""A sweep as a table: rows, sources of the figures, ranges with bounds, what is missing, how settings were made."""

from __future__ import annotations

import random
from itertools import product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.analysis.analyse import analyse
from benchd.analysis.results import Results
from benchd.analysis.results_log import Setting, Sweep, SweepRange, SweepRow
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.errors import InputError
from tests.analysis.logs import Log, xyz

Point = dict[str, Setting]
CODES = [0, 64, 128, 191, 255]


def name(point: Point) -> str:
    return ",".join(f"{control}={value}" for control, value in point.items())


def described(point: Point, kind: str = "luminance", base: str = "", **more: Any) -> dict[str, Any]:
    base = base or kind
    return {"name": f"{name(point)}/{base}", "kind": kind, "base": base, "settings": point, **more}


def measure(log: Log, point: Point, white: float, black: float = 0.1, *, status: str = "ok", block: str = "") -> None:
    """Both levels of a luminance block, or of the sequential contrast named ``block``."""
    labels = {"kind": "sequential"} if block else {}
    path = f"{name(point)}/{block or 'luminance'}"
    spread = [1.0, 1.001, 0.999]
    log.measure(f"{path}/black", {**labels, "level": "black"}, [xyz(black * part) for part in spread], code=0)
    log.measure(f"{path}/white", {**labels, "level": "white"}, [xyz(white * part) for part in spread], status=status)


def grayscale(log: Log, point: Point, white: float, exponent: float = 2.2) -> None:
    for code in CODES:
        light = 0.1 + (white - 0.1) * (code / 255) ** exponent
        log.measure(f"{name(point)}/grayscale/code-{code}", {"code": code}, [xyz(light)] * 3, code=code)


def sweep_of(log: Log) -> Sweep:
    found = analyse(log.end()).sweep
    assert found is not None
    return found


def brightness(values: dict[int, float], order: list[int] | None = None, **more: Any) -> Sweep:
    """A sweep over brightness alone, each with its white; measured in ``order``."""
    points: dict[int, Point] = {value: {"brightness": value} for value in values}
    log = Log([described(point) for point in points.values()], **more)
    for value in order if order is not None else values:
        measure(log, points[value], values[value])
    return sweep_of(log)


def figure(row: SweepRow, name: str) -> Quantity:
    """A figure of a point."""
    return row.figures[name].quantity


def the_range(sweep: Sweep) -> SweepRange:
    (found,) = sweep.ranges
    return found


def test_a_table_of_presets_and_brightness() -> None:
    points: list[Point] = [
        {"preset": preset, "brightness": value} for preset, value in product(("warm", "standard"), (100, 50, 0))
    ]
    gray: dict[str, Any] = {"codes": CODES, "bits": 8, "white": "target", "area_percent": 100}
    blocks = [described(point) for point in points]
    blocks += [described(point, "grayscale", **gray) for point in points if point["brightness"] == 100]
    log = Log(blocks)
    whites = {}
    for number, point in enumerate(points):
        whites[name(point)] = white = 50.0 + 40.0 * number
        measure(log, point, white)
        if point["brightness"] == 100:
            grayscale(log, point, white)
    results = analyse(log.end())
    sweep = results.sweep
    assert sweep is not None
    assert sweep.controls == ("preset", "brightness")
    # Names as the plan lists them, numbers in ascending order.
    assert [tuple(row.settings.values()) for row in sweep.rows] == [
        *(("warm", value) for value in (0, 50, 100)),
        *(("standard", value) for value in (0, 50, 100)),
    ]
    by_block = {one.block: one for one in results.of("luminance")}
    grays = {one.block: one for one in results.of("grayscale")}
    for row in sweep.rows:
        block = by_block[f"{row.point}/luminance"]
        assert (figure(row, "white luminance"), figure(row, "black luminance")) == (block.white, block.black)
        assert figure(row, "contrast").value == pytest.approx(whites[row.point] / 0.1, rel=1e-3)
        assert (figure(row, "white x"), figure(row, "white CCT")) == (
            block.white_chromaticity.x,
            block.white_chromaticity.cct,
        )
        assert figure(row, "white x").value == pytest.approx(0.3127)
        if row.settings["brightness"] == 100:
            gray_block = grays[f"{row.point}/grayscale"]
            summary = next(one for one in gray_block.delta_e if one.convention == gray_block.primary)
            assert gray_block.primary == "white_luminance"
            assert (figure(row, "grayscale delta E mean"), figure(row, "grayscale delta E maximum")) == (
                summary.mean,
                summary.maximum,
            )
            assert figure(row, "gamma").value == pytest.approx(2.2, abs=1e-6)
        else:
            assert not {"gamma", "grayscale delta E mean"} & row.figures.keys(), "no grayscale is measured there"
    assert [(one.control, one.others, one.points) for one in sweep.ranges] == [
        ("brightness", {"preset": "warm"}, 3),
        ("brightness", {"preset": "standard"}, 3),
    ]
    assert [(one.minimum_at, one.maximum_at) for one in sweep.ranges] == [(100, 0), (100, 0)]
    assert results.absent == ()


@settings(max_examples=60, derandomize=True, deadline=None)
@given(st.dictionaries(st.integers(0, 100), st.floats(10.0, 900.0), min_size=2, max_size=11), st.randoms())
def test_minimum_and_maximum_are_right_and_the_order_of_the_points_does_not_matter(
    values: dict[int, float], dice: random.Random
) -> None:
    straight = brightness(values)
    order = list(values)
    dice.shuffle(order)
    mixed = brightness(values, order)

    def figures(sweep: Sweep) -> list[Any]:
        names = ("white luminance", "black luminance", "contrast", "white CCT")
        rows = [(row.settings, *(figure(row, name).value for name in names)) for row in sweep.rows]
        one = the_range(sweep)
        return [rows, one.minimum.value, one.minimum_at, one.maximum.value, one.maximum_at]

    assert figures(straight) == figures(mixed)
    assert [row.settings["brightness"] for row in straight.rows] == sorted(values)
    found = the_range(straight)
    assert found.minimum.value == pytest.approx(min(values.values()))
    assert found.maximum.value == pytest.approx(max(values.values()))
    assert values[int(found.minimum_at or 0)] == pytest.approx(min(values.values()))
    assert values[int(found.maximum_at or 0)] == pytest.approx(max(values.values()))


def test_points_that_were_not_measured_leave_bounds() -> None:
    sweep = brightness({0: 40.0, 50: 180.0, 100: 350.0}, order=[50, 0])
    assert [figure(row, "white luminance").present for row in sweep.rows] == [True, True, False]
    assert figure(sweep.rows[2], "white luminance").why == "it was not measured"
    assert figure(sweep.rows[2], "contrast").status == figure(sweep.rows[2], "white x").status == "absent"
    found = the_range(sweep)
    assert found.missing == "no white luminance at brightness 100"
    # What is missing could be darker or brighter than all that was measured.
    assert found.minimum.value == pytest.approx(40.0)
    assert (found.minimum.bound, found.minimum_at) == ("below", None)
    assert found.maximum.value == pytest.approx(180.0)
    assert (found.maximum.bound, found.maximum_at) == ("above", None)
    assert found.maximum.s is None
    assert found.missing in found.maximum.why


def test_nothing_measured_at_all() -> None:
    sweep = brightness({0: 40.0, 50: 180.0}, order=[])
    assert the_range(sweep).minimum.why == "no white luminance at brightness 0 and 50"
    assert the_range(sweep).maximum_at is None


def over(values: dict[int, float], ceiling: float) -> SweepRange:
    points: dict[int, Point] = {value: {"brightness": value} for value in values}
    log = Log([described(point) for point in points.values()], meter={"model": "i", "ceiling_cd_m2": ceiling})
    for value, point in points.items():
        measure(log, point, values[value], status="over" if values[value] > ceiling else "ok")
    return the_range(sweep_of(log))


def test_a_white_over_range_is_a_bound_on_the_maximum_only() -> None:
    found = over({0: 40.0, 50: 180.0, 100: 350.0}, 300.0)
    assert found.minimum.value == pytest.approx(40.0)
    assert (found.minimum.bound, found.minimum_at) == (None, 0)
    assert (found.maximum.value, found.maximum.bound, found.maximum_at) == (300.0, "above", 100)


def test_two_whites_over_range_leave_open_which_is_the_maximum() -> None:
    found = over({0: 40.0, 50: 320.0, 100: 350.0}, 300.0)
    assert (found.maximum.value, found.maximum.bound, found.maximum_at) == (300.0, "above", None)
    assert found.minimum_at == 0


def test_all_over_range() -> None:
    found = over({50: 320.0, 100: 350.0}, 300.0)
    assert (found.minimum.value, found.minimum.bound, found.minimum_at) == (300.0, "above", None)


def test_contrast_alone_gives_white_black_and_colour() -> None:
    points: list[Point] = [{"brightness": value} for value in (0, 100)]
    log = Log([described(point, "contrast", kinds=["sequential"]) for point in points])
    for point, white in zip(points, (40.0, 350.0), strict=True):
        measure(log, point, white, block="contrast")
    sweep = sweep_of(log)
    assert [figure(row, "white luminance").value for row in sweep.rows] == pytest.approx([40.0, 350.0])
    assert [figure(row, "contrast").value for row in sweep.rows] == pytest.approx([400.0, 3500.0], rel=1e-3)
    # D65 (CIE 15): CCT 6504 K, Duv +0.0032, from own direct minimisation.
    assert figure(sweep.rows[0], "white CCT").value == pytest.approx(6504, abs=2)
    assert figure(sweep.rows[0], "white Duv").value == pytest.approx(0.0032, abs=1e-4)


def test_the_contrast_block_comes_before_the_quotient_of_the_luminances_only_where_that_is_absent() -> None:
    point: Point = {"brightness": 50}
    log = Log([described(point), described(point, "contrast", kinds=["sequential"])])
    path = f"{name(point)}/luminance/white"
    log.measure(path, {"level": "white"}, [xyz(180.0)] * 3)
    measure(log, point, 200.0, block="contrast")
    (row,) = sweep_of(log).rows
    assert figure(row, "white luminance").value == pytest.approx(180.0)
    assert figure(row, "contrast").value == pytest.approx(2000.0, rel=1e-3), "the luminance block has no black"


@pytest.mark.parametrize(("area", "there"), [(100, True), (10, False)])
def test_only_a_full_screen_grayscale_tells_white_and_black(area: int, there: bool) -> None:
    point: Point = {"brightness": 50}
    gray: dict[str, Any] = {"codes": CODES, "bits": 8, "white": "measured", "area_percent": area}
    log = Log([described(point, "grayscale", **gray)])
    grayscale(log, point, 200.0)
    (row,) = sweep_of(log).rows
    assert all((name in row.figures) == there for name in ("white luminance", "white x", "contrast"))
    assert dict(row.figures["grayscale delta E mean"].conditions)["white"] == "the measured one"


def test_points_without_a_white_by_plan_are_no_gap_in_the_range() -> None:
    points: list[Point] = [{"brightness": value} for value in (0, 50, 100)]
    log = Log([described(points[0], "patches", names=[]), *(described(point) for point in points[1:])])
    for point in points[1:]:
        measure(log, point, 100.0 + float(point["brightness"]))
    found = the_range(sweep_of(log))
    assert (found.points, found.missing, found.minimum_at) == (2, "", 50)


def test_two_controls_of_numbers_have_a_range_each_per_value_of_the_other() -> None:
    points: list[Point] = [{"brightness": b, "red-gain": g} for b, g in product((0, 100), (50, 100))]
    log = Log([described(point) for point in points])
    for point in points:
        measure(log, point, 10.0 + float(point["brightness"]) * float(point["red-gain"]))
    assert [(one.control, one.others) for one in sweep_of(log).ranges] == [
        ("brightness", {"red-gain": 50}),
        ("brightness", {"red-gain": 100}),
        ("red-gain", {"brightness": 0}),
        ("red-gain", {"brightness": 100}),
    ]


def test_how_settings_were_made_and_kept_is_visible() -> None:
    points: list[Point] = [{"preset": "warm", "dimming": value} for value in (1, 2, 3)]
    log = Log([described(point) for point in points])
    log.set(f"{name(points[0])}/luminance/black", "preset", "warm", by="operator")
    for point in points:
        log.set(f"{name(point)}/luminance/black", "dimming", point["dimming"])  # type: ignore[arg-type]
        if point["dimming"] == 2:
            step = f"{name(point)}/luminance/white"
            log.add("fault", {"error": "ControlMismatch", "text": "invented", "then": "again"}, step)
            log.add("fault", {"error": "MeterSilent", "text": "invented", "then": "again"}, step)
        measure(log, point, 100.0)
    log.set("", "preset", "standard", by="ddc", restoring=True)
    rows = sweep_of(log).rows
    assert [row.set_manually for row in rows] == [("preset",)] * 3, "what is left as it is stays set by hand"
    assert [row.not_read_back for row in rows] == [()] * 3
    assert [(row.faults, row.control_faults) for row in rows] == [(0, 0), (2, 1), (0, 0)]


def test_several_sessions_and_a_resume_give_the_rows_of_one() -> None:
    log = Log([described({"brightness": value}) for value in (0, 100)])
    measure(log, {"brightness": 0}, 40.0)
    log.add("paused", {"why": "invented"})
    log.session = "s2"
    log.add("resumed", {})
    measure(log, {"brightness": 100}, 350.0)
    assert [figure(row, "white luminance").value for row in sweep_of(log).rows] == pytest.approx([40.0, 350.0])


def test_without_a_sweep_there_is_none() -> None:
    results: Results = analyse(Log([{"name": "luminance", "kind": "luminance"}]).end())
    assert (results.sweep, results.drift, results.later_warm_ups) == (None, (), ())


def test_a_head_that_can_not_be_used_is_told() -> None:
    with pytest.raises(InputError, match="description of its blocks"):
        analyse(Log([{"name": "a/luminance", "kind": "luminance", "settings": 7}]).end())


def test_a_display_that_was_not_put_back_is_told_until_it_is() -> None:
    def log(restored: bool) -> Log:
        log = Log([described({"brightness": 10})])
        measure(log, {"brightness": 10}, 50.0)
        text = "control brightness could not be put back to 50: it does not answer"
        log.add("fault", {"error": "NotRestored", "text": text, "then": "told"})
        if restored:
            log.add("resumed", {})
            log.set("", "brightness", 50, restoring=True)
        return log

    assert sweep_of(log(restored=False)).not_restored == (
        "control brightness could not be put back to 50: it does not answer",
    )
    assert sweep_of(log(restored=True)).not_restored == ()
