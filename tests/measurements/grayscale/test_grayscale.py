"""Grayscale: worked values of gamma, colour difference and GSDF response; missing codes; black as a bound."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.analysis.colour import tone_curves as curves
from benchd.analysis.colour.target import target_from
from benchd.analysis.log.log_data import collect
from benchd.analysis.log.step_light import MeterRange
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.measurements.grayscale import gamma
from benchd.measurements.grayscale.analysis import grayscale
from benchd.measurements.grayscale.results import Grayscale, GrayStep
from tests.analysis.logs import SRGB, Log, target_fields, xyz
from tests.oracles import colour as colour_science

TENTHS = [k / 10 for k in range(1, 10)]
TWENTIETHS = [k / 20 for k in range(1, 20)]
CODES_11 = [0, 26, 51, 77, 102, 128, 153, 179, 204, 230, 255]  # 10 % steps, half up: common practice
SRGB_POWER = {"kind": "power", "exponent": 2.2}


def block(codes: Sequence[int], **more: Any) -> dict[str, Any]:
    return {"name": "grayscale", "kind": "grayscale", "codes": list(codes), "bits": 8, "white": "target", **more}


def log_of(described: Mapping[str, Any], values: Mapping[int, list[Any]], *, bits: int = 8) -> Log:
    log = Log([dict(described)])
    for code, readings in values.items():
        status = "under" if None in readings else "ok"
        log.measure(f"grayscale/code-{code}", {"code": code}, readings, code=code, bits=bits, status=status)
    return log


def analysed(
    values: Mapping[int, list[Any]],
    target: Mapping[str, Any] | None = None,
    *,
    codes: Sequence[int] | None = None,
    meter: MeterRange | None = None,
    **more: Any,
) -> Grayscale:
    described = block(codes if codes is not None else list(values), **more)
    log = log_of(described, values, bits=int(more.get("bits", 8)))
    return grayscale(collect(log.end()), described, meter or MeterRange(), target_from(target or SRGB))


def screen(curve: Callable[[float], Any], codes: Sequence[int] = CODES_11) -> dict[int, list[Any]]:
    """A screen of exactly this curve (code fraction to cd/m2) with the chromaticity of D65."""
    return {code: [xyz(float(curve(code / max(codes))))] * 3 for code in codes}


def step(result: Grayscale, code: int) -> GrayStep:
    return next(one for one in result.steps if one.code == code)


# --- gamma --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("points", "white_fixed", "expected"),
    [(TENTHS, True, 2.08422), (TENTHS, False, 2.00650), (TWENTIETHS, True, 2.02231), (TWENTIETHS, False, 1.92182)],
)
def test_gamma_of_an_ideal_srgb_screen(points: list[float], white_fixed: bool, expected: float) -> None:
    """Curve of IEC 61966-2-1, fits of IDMS (from memory) worked apart from this code: never 2.2."""
    output = [float(one) for one in curves.srgb(points)]
    assert gamma.fit(points, output, white_fixed=white_fixed)[0] == pytest.approx(expected, abs=1e-5)


@pytest.mark.parametrize("white_fixed", [True, False])
def test_gamma_of_a_pure_power_screen(white_fixed: bool) -> None:
    slope, residual = gamma.fit(TENTHS, [v**2.2 for v in TENTHS], white_fixed=white_fixed)
    assert slope == pytest.approx(2.2, abs=1e-12)
    assert residual == pytest.approx(0.0, abs=1e-12)


def test_gamma_with_and_without_black_subtraction() -> None:
    """Log-log fit of IDMS (from memory), worked apart from this code:
    L = 99.9 V^2.2 + .1 gives 2.162598 as it is and 2.200000 with black subtracted.
    """
    luminance = [99.9 * v**2.2 + 0.1 for v in TENTHS]
    raw = [one / 100.0 for one in luminance]
    net = [(one - 0.1) / 99.9 for one in luminance]
    assert gamma.fit(TENTHS, raw, white_fixed=True)[0] == pytest.approx(2.162598, abs=1e-5)
    assert gamma.fit(TENTHS, net, white_fixed=True)[0] == pytest.approx(2.2, abs=1e-5)


@pytest.mark.parametrize(("low", "high", "expected"), [(0.1, 0.2, 1.7237), (0.4, 0.5, 2.1368), (0.9, 1.0, 2.2684)])
def test_local_gamma_of_an_ideal_srgb_screen(low: float, high: float, expected: float) -> None:
    """Curve of IEC 61966-2-1; slope worked by hand."""
    one, other = (Quantity(float(curves.srgb(v)), "cd/m2", 3, 0.0) for v in (low, high))
    black = Quantity(0.0, "cd/m2", 3, 0.0)
    assert gamma.local_gamma(low, one, high, other, black).value == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize(("code", "expected"), [(26, 2.0028), (51, 2.1176), (128, 2.2244), (230, 2.2686)])
def test_point_gamma_of_an_ideal_srgb_screen(code: int, expected: float) -> None:
    """Curve of IEC 61966-2-1; ln(L / Lw) / ln V worked by hand."""
    got = analysed(screen(curves.srgb))
    assert step(got, code).point_gamma.value == pytest.approx(expected, abs=1e-4)


def test_gamma_fits_of_a_block_name_their_rule_and_points() -> None:
    got = analysed(screen(lambda v: 99.9 * v**2.2 + 0.1))
    fixed, free = got.gamma_fits
    for fit in (fixed, free):
        assert fit.gamma.value == pytest.approx(2.2, abs=1e-9)
        assert fit.codes == (26, 51, 77, 102, 128, 153, 179, 204, 230)
        assert "steps from 10 to 90 %" in fit.rule
        assert "black subtracted" in fit.rule
        assert "from memory" in fit.rule
        assert fit.max_residual.value == pytest.approx(0.0, abs=1e-9)
    assert "through white" in fixed.rule
    assert "free slope" in free.rule
    assert step(got, 128).local_gamma.value == pytest.approx(2.2, abs=1e-9)
    assert step(got, 255).local_gamma.why == "the last step has no next one"
    assert step(got, 0).local_gamma.status == "absent"


def test_scatter_of_gamma() -> None:
    """Two points: gamma = ln(L2 / L1) / ln(V2 / V1), so its scatter is that of both, over ln(V2 / V1)."""
    one, other = Quantity(20.0, "cd/m2", 3, 0.2), Quantity(40.0, "cd/m2", 4, 0.4)
    got = gamma.local_gamma(0.4, one, 0.5, other, Quantity(0.0, "cd/m2", 3, 0.0))
    assert got.s == pytest.approx(math.hypot(0.01, 0.01) / math.log(1.25), rel=1e-6)
    assert got.n == 3


def test_a_black_under_range_bounds_gamma_only_where_it_shows() -> None:
    values = screen(lambda v: 100.0 * v**2.2)
    values[0] = [None] * 3
    quiet = analysed(values, meter=MeterRange(0.0005))
    fit = quiet.gamma_fits[0].gamma
    assert fit.plain
    assert fit.value == pytest.approx(2.2, abs=1e-9)
    assert "taken as 0" in fit.why
    loud = analysed(values, meter=MeterRange(0.05))
    fit = loud.gamma_fits[0].gamma
    assert fit.bound == "below"
    assert fit.value is not None
    assert fit.value > 2.2
    assert step(loud, 26).local_gamma.bound == "below"
    # The largest residual is not monotone in black, so it is no bound and no value.
    assert quiet.gamma_fits[0].max_residual.plain
    assert not loud.gamma_fits[0].max_residual.present


@given(exponent=st.floats(min_value=1.6, max_value=2.8), white=st.floats(min_value=20.0, max_value=1500.0))
@settings(derandomize=True, max_examples=30, deadline=None)
def test_the_fit_finds_any_exponent_on_any_scale(exponent: float, white: float) -> None:
    got = analysed(screen(lambda v: white * v**exponent))
    for fit in got.gamma_fits:
        assert fit.gamma.value == pytest.approx(exponent, abs=1e-6)


# --- colour difference --------------------------------------------------------------------------------------


def test_three_whites_by_name() -> None:
    """CIEDE2000 by colour-science under each white:
    white Y 110 and code-128 grey Y 23.7, both at .3100 .3250, sRGB target.
    """
    values = {code: [xyz(luminance, 0.3100, 0.3250)] * 3 for code, luminance in ((0, 0.05), (128, 23.7), (255, 110.0))}
    got = analysed(values, white="absolute")
    grey, white = step(got, 128).delta_e, step(got, 255).delta_e
    assert white.white_luminance.value == pytest.approx(2.1374, abs=1e-3)
    assert grey.white_luminance.value == pytest.approx(1.3072, abs=1e-3)
    assert white.white_measured.value == pytest.approx(0.0, abs=1e-9)
    assert grey.white_measured.value == pytest.approx(0.0422, abs=1e-3)
    assert white.absolute.value == pytest.approx(3.0500, abs=1e-3)
    assert grey.absolute.value == pytest.approx(2.4906, abs=1e-3)


def test_every_summary_names_white_adaptation_and_formula() -> None:
    relative = analysed(screen(lambda v: 110.0 * curves.srgb(v)))
    assert relative.primary == "white_luminance"
    assert [one.convention for one in relative.delta_e] == ["white_luminance", "white_measured"], "what is asked for"
    assert {one.delta_e.absolute for one in relative.steps} == {None}
    got = analysed(screen(lambda v: 110.0 * curves.srgb(v)), white="absolute")
    assert [one.convention for one in got.delta_e] == ["white_luminance", "white_measured", "absolute"]
    assert got.primary == "absolute"
    for one in got.delta_e:
        assert one.white
        assert one.adaptation
        assert one.formula.startswith("CIEDE2000 after ISO/CIE 11664-6")
    assert "0.3127" in got.delta_e[0].white
    assert "110" in got.delta_e[0].white
    assert "100 cd/m2" in got.delta_e[2].white
    assert analysed(screen(curves.srgb), white="measured").primary == "white_measured"


def test_a_perfect_screen_is_perfect() -> None:
    got = analysed(screen(lambda v: 100.0 * curves.srgb(v)))
    for summary in got.delta_e:
        assert summary.maximum.value == pytest.approx(0.0, abs=1e-9)
    for one in got.steps[1:]:
        assert one.luminance_error.value == pytest.approx(0.0, abs=1e-9)
        assert [balance.value for balance in one.rgb_balance] == pytest.approx([1.0, 1.0, 1.0], abs=1e-9)
        assert one.delta_uv.value == pytest.approx(0.0, abs=1e-9)
        assert one.chromaticity.cct.value == pytest.approx(6504.24, abs=1.0)
        assert one.target_luminance.value == pytest.approx(100.0 * float(curves.srgb(one.code / 255)))
    assert step(got, 0).luminance_error.why.endswith("the target is black here")


def test_statistics_and_the_worst_step() -> None:
    values = screen(lambda v: 100.0 * curves.srgb(v) + 0.05)
    values[153] = [xyz(45.0, 0.3200, 0.3350)] * 3
    got = analysed(values, white="absolute")
    for index, summary in enumerate(got.delta_e):
        name = ("white_luminance", "white_measured", "absolute")[index]
        figures = [getattr(one.delta_e, name).value for one in got.steps]
        assert summary.mean.value == pytest.approx(np.mean(figures))
        assert summary.median.value == pytest.approx(np.median(figures))
        assert summary.percentile_95.value == pytest.approx(np.percentile(figures, 95))
        assert summary.maximum.value == max(figures)
        assert summary.worst == 153


def test_targets_follow_the_code_that_was_shown() -> None:
    """Half-up codes are common practice:
    50 % in 8 bits is code 128, V = 128/255, not 0.5; in 10 bits code 512 of 1023.
    """
    got = analysed(screen(lambda v: 100.0 * v**2.2), target_fields(SRGB_POWER))
    assert step(got, 128).signal == 128 / 255
    assert step(got, 128).target_luminance.value == pytest.approx(21.951972, abs=1e-6)
    deep = analysed(
        {code: [xyz(100.0 * (code / 1023) ** 2.2 + 0.01)] * 3 for code in (0, 512, 1023)},
        target_fields(SRGB_POWER),
        bits=10,
    )
    assert step(deep, 512).signal == 512 / 1023
    assert step(deep, 512).target_luminance.value == pytest.approx(100.01 * (512 / 1023) ** 2.2)


def test_rgb_balance_shows_the_cast() -> None:
    values = screen(lambda v: 100.0 * curves.srgb(v) + 0.01)
    values[128] = [xyz(21.6, 0.3300, 0.3290)] * 3
    red, _, blue = step(analysed(values), 128).rgb_balance
    assert red.value is not None
    assert blue.value is not None
    assert red.value > 1.05 > 0.95 > blue.value


def test_no_level_no_absolute_difference() -> None:
    got = analysed(screen(curves.srgb), {**SRGB, "luminance_cd_m2": None}, white="absolute")
    assert got.delta_e[2].mean.why == "the target names no luminance"
    assert got.delta_e[0].mean.value is not None


# --- curves that need black ---------------------------------------------------------------------------------

BT1886 = target_fields({"kind": "bt1886"}, 100.0)
GSDF = target_fields({"kind": "gsdf"})


def test_bt1886_target_goes_through_measured_black_and_white() -> None:
    got = analysed(screen(lambda v: curves.bt1886(v, 100.0, 0.1)), BT1886)
    assert got.alternative is None
    assert got.black == "black as measured, 0.1 cd/m2"
    assert step(got, 0).target_luminance.value == pytest.approx(0.1)
    assert step(got, 0).luminance_error.value == pytest.approx(0.0, abs=1e-9)
    assert got.delta_e[0].maximum.value == pytest.approx(0.0, abs=1e-6)


def test_bt1886_with_black_as_a_bound_is_computed_both_ways() -> None:
    values = screen(lambda v: curves.bt1886(v, 100.0, 0.0))
    values[0] = [None] * 5
    got = analysed(values, BT1886, meter=MeterRange(0.005))
    assert got.black.startswith("black taken as 0")
    assert got.alternative is not None
    assert got.alternative.black == "black taken at its upper bound, 0.005 cd/m2"
    zero = step(got, 128).target_luminance.value
    bound = next(one for one in got.alternative.steps if one.code == 128).target_luminance.value
    assert zero == pytest.approx(100.0 * (128 / 255) ** 2.4)
    assert bound == pytest.approx(float(curves.bt1886(128 / 255, 100.0, 0.005)))
    assumed = got.alternative.steps[0]
    assert assumed.target_luminance.value == pytest.approx(0.005)
    assert assumed.luminance_error.why == "black is what the curve assumes here"
    assert got.alternative.delta_e[0].mean.value is not None
    assert step(got, 0).luminance.bound == "below"
    # A curve through any black up to the bound is allowed: the target's interval reaches from one to the other.
    assert step(got, 128).target_luminance.interval == pytest.approx((zero, bound), rel=1e-6)
    dark = step(got, 0).delta_e.white_luminance
    assert dark.bound == "below"
    assert dark.value is not None
    mean = got.delta_e[0].mean
    assert mean.value == pytest.approx(dark.value / 2.0 / len(got.steps), rel=1e-3)
    assert mean.why.startswith("code 0 counted as anything from 0 to ")


def test_averages_hold_for_all_that_a_dark_step_may_be() -> None:
    values: dict[int, list[Any]] = {
        code: [xyz(factor * 100.0 * (code / 255) ** 2.2) for factor in (0.9999, 1.0, 1.0001)] for code in CODES_11
    }
    values[0] = [None] * 5
    got = analysed(values, BT1886, meter=MeterRange(0.005))
    dark, mean = step(got, 0).delta_e.white_luminance.value, got.delta_e[0].mean
    assert dark is not None
    assert mean.value is not None
    assert mean.interval is not None
    assert mean.stated is not None
    assert mean.stated.k is None
    assert mean.interval[1] - mean.value >= dark / 2.0 / len(got.steps)
    assert mean.value - mean.interval[0] >= dark / 2.0 / len(got.steps)


@pytest.mark.parametrize("xyz_of_black", [(0.0, 0.0, 0.0), (0.004, 0.004, 0.004), (0.001, 0.0005, 0.005)])
def test_a_dark_step_differs_by_no_more_than_its_bound_says(xyz_of_black: tuple[float, float, float]) -> None:
    """Oracle: CIEDE2000 of colour-science, of lights within the bound of 0.005 cd/m2 against the target's black."""
    values = screen(lambda v: curves.bt1886(v, 100.0, 0.0))
    values[0] = [None] * 5
    got = step(analysed(values, BT1886, meter=MeterRange(0.005)), 0).delta_e.white_luminance
    assert got.value is not None
    labs = [colour_science.XYZ_to_Lab(np.array(one) / 100.0, [0.3127, 0.3290]) for one in ((0, 0, 0), xyz_of_black)]
    assert float(colour_science.delta_E(*labs, method="CIE 2000")) <= got.value


def test_gsdf_contrast_response_of_a_power_screen() -> None:
    """AAPM TG18 (from memory) on DICOM PS3.14, worked apart from this code: power 2.2, .5 to 250 cd/m2, 18 levels:
    worst deviation 48.5 %, in the second interval.
    """
    codes = list(range(0, 256, 15))
    got = analysed(screen(lambda v: 249.5 * v**2.2 + 0.5, codes), GSDF)
    assert got.gsdf is not None
    assert got.gsdf.worst.value is not None
    assert abs(got.gsdf.worst.value) == pytest.approx(48.5, abs=0.1)
    assert got.gsdf.worst_interval == (15, 30)
    perfect = analysed(screen(lambda v: curves.gsdf(v, 250.0, 0.5), codes), GSDF)
    assert perfect.gsdf is not None
    assert perfect.gsdf.worst.value == pytest.approx(0.0, abs=1e-6)
    assert perfect.delta_e[0].maximum.value == pytest.approx(0.0, abs=1e-6)


def test_gsdf_below_its_own_range_is_absent_with_a_reason() -> None:
    got = analysed(screen(lambda v: 250.0 * v**2.2 + 0.01), GSDF)
    assert got.gsdf is not None
    for why in (got.gsdf.worst.why, step(got, 128).target_luminance.why, got.delta_e[0].mean.why):
        assert "outside the 0.05 to 3993 cd/m2 of the GSDF" in why
    assert step(got, 128).luminance.value is not None
    assert step(got, 128).delta_uv.value is not None


# --- missing and partial ------------------------------------------------------------------------------------


def test_missing_codes_are_named_and_summaries_absent() -> None:
    values = screen(lambda v: 100.0 * curves.srgb(v) + 0.01)
    del values[77], values[102]
    got = analysed(values, codes=CODES_11)
    assert got.missing == "codes 77 and 102 were not measured"
    assert [one.code for one in got.steps] == [code for code in CODES_11 if code not in (77, 102)]
    for summary in got.delta_e:
        assert summary.mean.why == got.missing
        assert summary.worst is None
    assert got.gamma_fits[0].gamma.why == got.missing
    assert step(got, 128).delta_e.white_luminance.value is not None
    assert "code 77 was not measured" in step(got, 51).local_gamma.why


def test_without_white_there_is_nothing_to_compare_with() -> None:
    values = screen(lambda v: 100.0 * curves.srgb(v) + 0.01)
    del values[255]
    got = analysed(values, codes=CODES_11)
    assert step(got, 128).delta_e.white_luminance.why == "white was not measured in this block"
    assert step(got, 128).point_gamma.why == "code 255 was not measured in this block"
    assert step(got, 128).target_luminance.status == "absent"
    assert step(got, 128).luminance.value is not None


def test_white_over_range_is_no_white() -> None:
    values = screen(lambda v: 100.0 * curves.srgb(v) + 0.01)
    described = block(CODES_11)
    log = log_of(described, {code: readings for code, readings in values.items() if code != 255})
    log.measure("grayscale/code-255", {"code": 255}, [None] * 3, status="over")
    got = grayscale(collect(log.end()), described, MeterRange(0.005, 90.0), target_from(SRGB))
    assert step(got, 255).luminance.bound == "above"
    assert step(got, 128).delta_e.white_measured.why.startswith("white can't be used: 3 of 3 readings were over")
    assert step(got, 128).point_gamma.bound == "above"  # a brighter white makes ln(L/Lw)/ln V larger


def test_an_empty_block_is_absent_everywhere() -> None:
    got = analysed({}, codes=[0, 128, 255])
    assert got.missing == "codes 0, 128 and 255 were not measured"
    assert got.steps == ()
    assert got.delta_e[0].mean.status == "absent"
    assert got.gamma_fits[0].gamma.status == "absent"
