"""Luminance near and far from the meter's floor, and the chromaticity of white."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.analysis.colour import colorimetry as colour
from benchd.analysis.log.log_data import collect
from benchd.analysis.log.step_data import StepData
from benchd.analysis.log.step_light import MeterRange, chromaticities, luminance_of
from benchd.analysis.meter_model.metrology import Metrology
from benchd.analysis.meter_model.stated_sources import MeterBudget
from benchd.analysis.uncertainty.rounding import bound_digits
from benchd.analysis.uncertainty.sources import Source
from benchd.measurements.luminance.analysis import luminance
from benchd.measurements.luminance.show import section
from benchd.report.terminal.section_text import sections_text
from tests.analysis.logs import Log, xyz

NO_RANGE = MeterRange()
DARK_READINGS = (0.0006, -0.0002, 0.0009, 0.0001, 0.0003)  # invented; figures by hand


def measured(values: Sequence[float | None], statuses: Sequence[str] | None = None, code: int = 0) -> StepData:
    log = Log([])
    log.shown("luminance/black", {"level": "black"}, code)
    for index, value in enumerate(values):
        status = statuses[index] if statuses else "ok"
        log.reading("luminance/black", None if value is None else xyz(value), status)
    log.add("done", {"readings": len(values)}, "luminance/black")
    return collect(log.end()).measured["luminance/black"]


def test_a_plain_value() -> None:
    got = luminance_of(measured([99.0, 100.0, 101.0]), MeterRange(0.005, 3000.0))
    assert (got.value, got.s, got.n, got.status, got.bound) == (100.0, 1.0, 3, "ok", None)
    assert (got.unit, got.why, got.records) == ("cd/m2", "", ((3, 5),))


def test_black_that_is_not_told_from_zero() -> None:
    """Worked by hand: mean .00034, s .000427785, t(.975, 4) 2.776445 (NIST/SEMATECH 1.3.6.7.2), end .000871165."""
    got = luminance_of(measured(DARK_READINGS), NO_RANGE)
    assert got.value == pytest.approx(0.000871165, abs=1e-9)
    assert (got.bound, got.status, got.s) == ("below", "under", None)
    assert got.estimate == pytest.approx(0.00034, abs=1e-12)
    assert "95 % coverage interval, which reaches zero" in got.why


def test_a_stated_zero_error_is_part_of_the_bound() -> None:
    """The same with zero .002 stated at k = 2, by hand: u .00101814, nu 3208.6, t 1.96070, end .0023363."""
    log = Log([], uncertainty={"k": 2.0, "zero_cd_m2": 0.002})
    log.measure("luminance/black", {"level": "black"}, [xyz(value) for value in DARK_READINGS], code=0)
    got = luminance_of(collect(log.end()).measured["luminance/black"], NO_RANGE)
    assert got.value == pytest.approx(0.0023363, abs=1e-7)
    assert got.bound == "below"


def test_a_mean_below_zero_is_taken_as_zero_first() -> None:
    """Readings -.0003, -.0002, -.0001 with zero .002 stated at k = 2: U is nearly 1.96 x .001."""
    log = Log([], uncertainty={"k": 2.0, "zero_cd_m2": 0.002})
    values = (-0.0003, -0.0002, -0.0001)
    log.measure("luminance/black", {"level": "black"}, [xyz(value) for value in values], code=0)
    got = luminance_of(collect(log.end()).measured["luminance/black"], NO_RANGE)
    assert got.bound == "below"
    assert got.value == pytest.approx(0.00197, abs=2e-5)


def test_black_below_the_specified_range() -> None:
    got = luminance_of(measured(DARK_READINGS), MeterRange(0.005))
    assert (got.value, got.bound, got.status) == (0.005, "below", "under")
    assert got.why == "below the meter's specified range (0.005 cd/m2)"


def test_dim_light_is_labelled_and_a_bound_where_its_interval_reaches_zero() -> None:
    # u = 0.001 / sqrt(5) = 4.47e-4, U = 2.776 u = 1.24e-3: detected from 1.5e-3, quantified from 4.5e-3 (Currie 1968)
    steps = np.array([-1.2649, -0.6325, 0.0, 0.6325, 1.2649]) * 1e-3
    got = luminance_of(measured((0.003 + steps).tolist()), NO_RANGE)
    assert got.plain
    assert got.value == pytest.approx(0.003, abs=1e-9)
    assert got.why.startswith("near the meter's noise floor: detected")
    assert got.interval == pytest.approx((0.003 - 1.2416e-3, 0.003 + 1.2416e-3), abs=1e-6)
    barely = luminance_of(measured((0.0014 + steps).tolist()), NO_RANGE)
    assert barely.plain
    assert "below the detection limit" in barely.why
    quantified = luminance_of(measured((0.005 + steps).tolist()), NO_RANGE)
    assert quantified.why == ""
    lost = luminance_of(measured((0.001 + steps).tolist()), NO_RANGE)
    assert (lost.bound, lost.value) == ("below", pytest.approx(0.0022416, abs=1e-6))


def test_a_mean_below_the_specified_range_is_a_bound_however_little_it_scatters() -> None:
    got = luminance_of(measured([0.0020, 0.0021, 0.0019, 0.0020, 0.0020]), MeterRange(0.005))
    assert (got.value, got.bound) == (0.005, "below")
    near = luminance_of(measured([0.0049, 0.0039, 0.0044]), MeterRange(0.005))
    assert near.bound == "below"
    assert near.value == pytest.approx(0.0044 + 4.302653 * 0.0005 / 3**0.5, abs=1e-8)
    assert near.why.startswith("below the meter's specified range (0.005 cd/m2); a bound: the upper end")


def test_zero_error_went_with_an_offset_that_was_taken_off() -> None:
    """What is left of it is the offset's own scatter (common practice)."""
    seen = measured([0.0030, 0.0031, 0.0029])
    budget = MeterBudget("meter of the test", zero_cd_m2=0.01)
    offset = ((Source("mean of dark_offset", 9.0), (0.0, -1e-4, 0.0)),)
    for influences, bound in (((), "below"), (offset, None)):
        one = seen._replace(metrology=Metrology(budget), influences=influences)
        assert luminance_of(one, NO_RANGE).bound == bound


def test_scatter_of_bright_light_is_no_floor() -> None:
    got = luminance_of(measured([100.0, 200.0], code=255), MeterRange(0.005))
    assert got.plain
    assert (got.value, got.why) == (150.0, "the standard deviation of the readings is 47 %")


def test_one_reading_below_the_floor_is_a_bound() -> None:
    assert luminance_of(measured([0.002]), MeterRange(0.005)).bound == "below"
    assert luminance_of(measured([0.2]), MeterRange(0.005)).plain


def test_one_reading_is_a_bound_where_what_is_stated_reaches_zero() -> None:
    """One reading of .0001 with a zero of .002 at k = 2: at most .0001 + 1.96 x .001, and the scatter is not known."""
    log = Log([], uncertainty={"k": 2.0, "zero_cd_m2": 0.002})
    log.measure("luminance/black", {"level": "black"}, [xyz(0.0001)], code=0)
    got = luminance_of(collect(log.end()).measured["luminance/black"], NO_RANGE)
    assert (got.bound, got.value) == ("below", pytest.approx(0.00206, abs=1e-6))
    assert got.why.endswith("a single reading: its standard deviation is not known and not counted")
    assert "a single reading" in luminance_of(measured([0.02]), NO_RANGE).why


def test_all_under_range_is_a_bound_at_the_floor_or_absent() -> None:
    seen = measured([None, None, None], ["under"] * 3)
    got = luminance_of(seen, MeterRange(0.005))
    assert (got.value, got.bound, got.n) == (0.005, "below", 3)
    assert "3 of 3 readings were under range" in got.why
    lost = luminance_of(seen, NO_RANGE)
    assert lost.status == "absent"
    assert lost.why == "under the meter's range, whose lower limit is not known"


def test_what_is_stated_of_the_meter_counts_where_it_marks_all_under_range() -> None:
    """By hand: zero .0004 and scale 1.2 % of .001, both at k = 2; 1.96 x root of (.0002^2 + .000006^2)."""
    log = Log([], uncertainty={"k": 2.0, "zero_cd_m2": 0.0004, "calibration_percent": 1.2})
    log.measure("luminance/black", {"level": "black"}, [None] * 5, code=0, status="under")
    got = luminance_of(collect(log.end()).measured["luminance/black"], MeterRange(0.001))
    assert (got.bound, got.value) == ("below", pytest.approx(0.001 + 1.96 * 2.0009e-4, rel=1e-4))
    assert "with what is stated of the meter there; 5 of 5 readings were under range" in got.why


def test_some_under_range_is_a_bound_above_both_floor_and_figures() -> None:
    got = luminance_of(measured([0.006, None, 0.008], ["ok", "under", "ok"]), MeterRange(0.005))
    assert got.bound == "below"
    assert got.value is not None
    assert got.value > 0.008  # mean 0.007 and its one-sided 95 % end with one degree of freedom
    assert luminance_of(measured([0.006, None], ["ok", "under"]), NO_RANGE).status == "absent"


def test_over_range_is_a_bound_from_below() -> None:
    seen = measured([None, None, None], ["over"] * 3)
    got = luminance_of(seen, MeterRange(0.005, 3000.0))
    assert (got.value, got.bound, got.status) == (3000.0, "above", "over")
    assert got.why == "3 of 3 readings were over the meter's range"
    assert luminance_of(seen, NO_RANGE).status == "absent"
    clipped = luminance_of(measured([3100.0, 3100.0], ["over", "ok"]), NO_RANGE)
    assert (clipped.value, clipped.bound) == (3100.0, "above")
    both = luminance_of(measured([None, None], ["over", "under"]), MeterRange(0.005, 3000.0))
    assert both.status == "absent"


def test_an_over_range_figure_below_the_ceiling_is_all_that_is_known() -> None:
    got = luminance_of(measured([200.0, 200.1, 200.2], ["over"] * 3, code=255), MeterRange(0.005, 3000.0))
    assert got.bound == "above"
    assert got.value is not None
    assert got.value <= 200.1


def test_over_range_counts_the_scale_of_the_meter() -> None:
    """By hand: 3000 less 1.96 x 1 % of it."""
    log = Log([], uncertainty={"k": 2.0, "calibration_percent": 2.0})
    log.measure("luminance/white", {"level": "white"}, [None] * 3, status="over")
    got = luminance_of(collect(log.end()).measured["luminance/white"], MeterRange(0.005, 3000.0))
    assert (got.bound, got.value) == ("above", pytest.approx(3000.0 * (1.0 - 0.0196), rel=1e-5))


def test_unstable_keeps_its_value_and_says_so() -> None:
    got = luminance_of(measured([100.0, 101.0, 99.0], ["ok", "unstable", "ok"]), NO_RANGE)
    assert (got.value, got.status) == (100.0, "unstable")
    assert got.why == "the meter flagged 1 of 3 readings as unstable"


def test_zero_reads_zero_and_not_measured_is_absent() -> None:
    got = luminance_of(measured([0.0, 0.0, 0.0]), NO_RANGE)
    assert (got.value, got.bound) == (0.0, None)
    assert "reads zero" in got.why
    assert luminance_of(measured([0.0, 0.0, 0.0]), MeterRange(0.005)).bound == "below"
    assert luminance_of(None, NO_RANGE).why == "it was not measured"
    assert luminance_of(measured([]), NO_RANGE).why == "it has no readings"


@given(
    values=st.lists(st.floats(min_value=-1e-3, max_value=1e-2), min_size=2, max_size=8),
    floor=st.one_of(st.none(), st.floats(min_value=1e-4, max_value=1e-2)),
)
@settings(derandomize=True, max_examples=200, deadline=None)
def test_never_a_negative_value_nor_a_bound_under_the_floor(values: list[float], floor: float | None) -> None:
    got = luminance_of(measured(values), MeterRange(floor))
    if got.value is None:
        assert got.why
        return
    assert got.value >= 0.0
    if got.bound:
        assert got.value >= (floor or 0.0)
        shown = bound_digits(got)
        assert shown is not None
        assert shown >= got.value * (1 - 1e-12)


# --- chromaticity -------------------------------------------------------------------------------------------


def white_log(values: Sequence[Sequence[float]], **head: Any) -> Log:
    log = Log([{"name": "luminance", "kind": "luminance"}], **head)
    log.measure("luminance/white", {"level": "white"}, values)
    return log


def test_chromaticity_of_white() -> None:
    """D65 after CIE 15, CCT by direct minimisation (tests/reference/cct_duv.csv):
    u' .197830, v' .468320, 6504.24 K, Duv +.003207.
    """
    log = white_log([xyz(100.0)] * 3)
    log.measure("luminance/black", {"level": "black"}, [xyz(0.1)] * 3, code=0)
    got = luminance(collect(log.end()), {"name": "luminance"}, NO_RANGE)
    white = got.white_chromaticity
    assert (white.x.value, white.y.value) == pytest.approx((0.3127, 0.3290), abs=1e-9)
    assert (white.u_prime.value, white.v_prime.value) == pytest.approx((0.197830, 0.468320), abs=1e-6)
    assert white.cct.value == pytest.approx(6504.24, abs=1.0)
    assert white.duv.value == pytest.approx(0.003207, abs=2e-5)
    assert (white.cct.unit, white.cct.n, white.cct.records) == ("K", 3, ((3, 5),))
    assert got.missing == ""


def test_scatter_of_chromaticity_is_that_of_the_single_readings() -> None:
    readings = np.array(xyz(100.0)) * (1.0 + np.random.default_rng(5).normal(0.0, 1e-4, (400, 3)))
    log = white_log(readings.tolist())
    got = luminance(collect(log.end()), {"name": "luminance"}, NO_RANGE).white_chromaticity
    xy, uv = colour.xy_from_xyz(readings), colour.uv_from_xyz(readings)
    cct, duv = colour.cct_duv(readings)
    for quantity, values in (
        (got.x, xy[:, 0]),
        (got.y, xy[:, 1]),
        (got.u_prime, uv[:, 0]),
        (got.v_prime, uv[:, 1]),
        (got.cct, cct),
        (got.duv, duv),
    ):
        assert quantity.s == pytest.approx(float(np.std(values, ddof=1)), rel=2e-3)


def test_a_bound_has_no_chromaticity_and_green_has_no_cct() -> None:
    under = measured([None, None], ["under", "under"])
    dark = [luminance_of(one, MeterRange(0.005)) for one in (under, None)]
    gone = chromaticities([under, None], dark)
    assert gone[0].x.why.startswith("no chromaticity: below the meter's specified range")
    assert gone[1].cct.why == "it was not measured"
    log = white_log([xyz(100.0, 0.30, 0.60)] * 3)
    seen = collect(log.end()).measured["luminance/white"]
    green = chromaticities([seen], [luminance_of(seen, NO_RANGE)])[0]
    assert green.x.value == pytest.approx(0.30)
    assert green.cct.status == "absent"
    assert green.cct.why.startswith("Duv +0.")
    assert green.duv.value is not None
    shown = sections_text([section(luminance(collect(log.records), {"name": "luminance"}, NO_RANGE))], simulated=False)
    assert shown.count("no CCT: Duv +0.") == shown.count("CCT") == 1, "once: it was printed twice"


def test_missing_levels_are_named() -> None:
    got = luminance(collect(white_log([xyz(100.0)]).records), {"name": "luminance"}, NO_RANGE)
    assert got.missing == "black not measured"
    assert got.black.status == "absent"
    assert got.white.value == 100.0
    assert got.white.s is None  # one reading has no scatter
