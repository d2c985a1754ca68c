"""Lists of colours against a space: perfect screens, published conventions, clamping, formulas, and what is absent."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from benchd.analysis.colour import colorimetry as colour
from benchd.analysis.log.patch_values import by_xyz, xyz
from benchd.measurements.colours.results import Accuracy, ColourPatch, Colours
from benchd.patch.model import Code
from benchd.profile.colour_codes import ColourSpace, Triple
from tests.analysis.colour_logs import Screen, fields_of, measured, perfect


def only(blocks: str, screen: Screen, **more: object) -> Colours:
    (found,) = measured(blocks, screen, **more).of("colours")  # type: ignore[arg-type]
    return found


def named(block: Colours, name: str) -> Accuracy:
    return next(one for one in block.accuracy if one.name == name)


def patch(block: Colours, name: str) -> ColourPatch:
    return next(one for one in block.patches if one.name == name)


@pytest.mark.parametrize("space", ["srgb", "p3-d65", "p3-cinema", "oprgb", "bt2020"])
@pytest.mark.parametrize(
    "source", ["saturations: [20, 60, 100]", "chart: cie-test-colours", "chart: skin-memory", "random: 20"]
)
def test_a_perfect_screen_has_no_difference(space: str, source: str) -> None:
    """Rounding of codes is no error of the screen: targets come from the codes that were shown."""
    block = only(f"- colours: {{{source}, space: {space}}}", perfect(space))
    for name in ("white_luminance", "white_measured"):
        assert named(block, name).maximum.value == pytest.approx(0.0, abs=1e-6)
    assert block.space == space
    assert not block.missing


def test_rounding_alone_would_be_half_a_unit() -> None:
    """Up to 0.23 CIEDE2000 on the test colours of CIE 13.3 lie between the rounded codes and the unrounded colours."""
    block = only("- colours: {chart: cie-test-colours, aim: unclamped}", perfect("srgb"))
    assert patch(block, "tcs01-greyish-red").error.total.value == pytest.approx(0.0, abs=1e-6)


def test_clamping_moves_the_colour_outside() -> None:
    """Sample 12 (blue) of the chart is outside sRGB: clamping moves it 6.009 CIEDE2000 (by colour-science)."""
    clamped = only("- colours: {chart: cie-test-colours}", perfect("srgb"))
    unclamped = only("- colours: {chart: cie-test-colours, aim: unclamped}", perfect("srgb"))
    blue, other = patch(clamped, "tcs12-blue"), patch(unclamped, "tcs12-blue")
    assert blue.outside
    assert blue.error.total.value == pytest.approx(0.0, abs=1e-6)
    # Within the half code that rounding of green and blue moves.
    assert blue.other_aim.value == pytest.approx(6.009, abs=0.1)
    assert other.error.total.value == pytest.approx(blue.other_aim.value)
    assert other.other_aim.value == pytest.approx(0.0, abs=1e-6)
    assert named(clamped, "white_luminance").aim == "target_clamped"
    assert named(clamped, "other_aim").aim == "target_unclamped"
    assert named(unclamped, "white_luminance").worst[0] == "tcs12-blue"
    assert named(unclamped, "other_aim").mean.value == pytest.approx(0.0, abs=1e-6)


def tinted(code: Code) -> Triple:
    """White 110 and code 128 23.7 cd/m2, both at x .3100 y .3250."""
    luminance = {255: 110.0, 128: 23.7}[code[1]]
    return (luminance * 0.31 / 0.325, luminance, luminance * (1.0 - 0.31 - 0.325) / 0.325)


def test_three_conventions_of_white() -> None:
    """The same readings under three whites, worked by hand and by colour-science: 2.1374 and 1.3072 with the target's
    white at the measured luminance, 0 and 0.0422 with the measured white, 3.0500 and 2.4906 absolute at 100 cd/m2."""
    grey = {"g.csv": "name,red,green,blue\ngrey,128,128,128\nwhite,255,255,255\n"}
    block = only("- colours: {file: g.csv, white: absolute}", tinted, files=grey)  # type: ignore[arg-type]
    white, one = patch(block, "white"), patch(block, "grey")
    for name, wanted in (
        ("white_luminance", (2.1374, 1.3072)),
        ("white_measured", (0.0, 0.0422)),
        ("absolute", (3.0500, 2.4906)),
    ):
        assert getattr(white, name).value == pytest.approx(wanted[0], abs=1e-3)
        assert getattr(one, name).value == pytest.approx(wanted[1], abs=1e-3)
    # The plan chooses which of them is split into parts.
    measured_white = only("- colours: {file: g.csv, white: measured}", tinted, files=grey)  # type: ignore[arg-type]
    assert measured_white.primary == "white_measured"
    assert patch(measured_white, "grey").absolute is None, "only where the plan asks for it"
    assert [one.name for one in measured_white.accuracy] == ["white_luminance", "white_measured"]
    assert patch(measured_white, "grey").error.total == patch(measured_white, "grey").white_measured


def off(gain: Triple) -> Screen:
    """A screen of sRGB whose red, green and blue lights are too strong or too weak."""
    space = ColourSpace(fields_of("srgb"))
    matrix = np.array(space.to_xyz)

    def seen(code: Code) -> Triple:
        xyz = np.array(space.decoded(code, 8))
        linear = np.linalg.solve(matrix, xyz) * np.array(gain)
        x, y, z = (100.0 * matrix @ linear).tolist()
        return (x, y, z)

    return seen


def test_parts_are_signed_and_make_up_the_whole() -> None:
    block = only("- colours: {chart: cie-test-colours, also: [76, 94]}", off((1.1, 1.0, 0.9)))
    for one in block.patches:
        error = one.error
        parts = [part.value for part in (error.total, error.lightness, error.chroma, error.hue)]
        assert None not in parts[:3]
        assert parts[3] is not None, one.name  # none of the chart is grey
        total, *terms = (part or 0.0 for part in parts)
        assert total == one.white_luminance.value
        # All but the rotation term, which is of weight for blues only.
        if one.name in ("tcs03-yellow-green", "tcs09-red", "tcs10-yellow", "tcs14-leaf"):
            assert total**2 == pytest.approx(sum(term**2 for term in terms), rel=0.02)
    dimmer = only("- colours: {file: g.csv}", perfect_but_dim, files=DIM)  # type: ignore[arg-type]
    assert (patch(dimmer, "grey").error.lightness.value or 0.0) < -1.0
    assert patch(dimmer, "grey").error.chroma.value == pytest.approx(0.0, abs=1e-6)


DIM = {"g.csv": "name,red,green,blue\ngrey,128,128,128\n"}


def perfect_but_dim(code: Code) -> Triple:
    x, y, z = perfect("srgb")(code)
    share = 1.0 if code == (255, 255, 255) else 0.9
    return (share * x, share * y, share * z)


def test_other_formulas_are_those_of_cie_15_and_116() -> None:
    screen = off((1.1, 1.0, 0.9))
    block = only("- colours: {chart: cie-test-colours, also: [76, 94]}", screen)
    white = np.array(screen((255, 255, 255)))
    lab_white = colour.xyz_from_xy((0.3127, 0.3290), white[1])
    space = ColourSpace(fields_of("srgb"))
    for one in block.patches:
        goal = colour.lab_from_xyz(np.array(space.decoded(one.code, 8)) * white[1], lab_white)
        sample = colour.lab_from_xyz(screen(one.code), lab_white)
        assert one.cie76 is not None
        assert one.cie94 is not None
        assert one.cie76.value == pytest.approx(float(colour.delta_e_76(goal, sample)), rel=1e-9)
        # The target is the reference: the other way round CIE 1994 gives another figure.
        assert one.cie94.value == pytest.approx(float(colour.delta_e_94(goal, sample)), rel=1e-9)
        assert one.white_luminance.value == pytest.approx(float(colour.delta_e_2000(goal, sample)), rel=1e-9)
    assert {one.name for one in block.accuracy} >= {"cie76", "cie94"}
    assert "the target as reference" in named(block, "cie94").formula
    assert patch(only("- colours: {chart: cie-test-colours}", screen), "tcs12-blue").cie76 is None


def test_averages_are_those_of_the_patches() -> None:
    block = only("- colours: {chart: cie-test-colours}", off((1.08, 1.0, 0.95)))
    values = [one.white_luminance.value or 0.0 for one in block.patches]
    found = named(block, "white_luminance")
    assert found.mean.value == pytest.approx(np.mean(values))
    assert found.median.value == pytest.approx(np.median(values))
    assert found.percentile_95.value == pytest.approx(np.percentile(values, 95.0))
    assert found.maximum.value == pytest.approx(max(values))
    ranked = sorted(block.patches, key=lambda one: -(one.white_luminance.value or 0.0))
    assert found.worst == tuple(one.name for one in ranked[:3])


def test_the_adaptation_is_stated_and_makes_a_difference() -> None:
    screen = off((1.1, 1.0, 0.9))
    bradford = only("- colours: {chart: cie-test-colours, white: measured}", screen)
    cat02 = only("- colours: {chart: cie-test-colours, white: measured, adaptation: cat02}", screen)
    assert "Bradford" in named(bradford, "white_measured").adaptation
    assert "CAT02" in named(cat02, "white_measured").adaptation
    moved = [
        abs((one.white_measured.value or 0.0) - (other.white_measured.value or 0.0))
        for one, other in zip(bradford.patches, cat02.patches, strict=True)
    ]
    assert 0.01 < max(moved) < 1.0


def test_a_curve_that_uses_black_takes_the_measured_one() -> None:
    """ITU-R BT.1886, Annex 1, channel by channel: a screen that follows it with its own black has no difference."""
    white, black, exponent = 100.0, 0.1, 2.4
    root_white, root_black = white ** (1 / exponent), black ** (1 / exponent)
    gain, lift = (root_white - root_black) ** exponent, root_black / (root_white - root_black)
    matrix = np.array(ColourSpace(fields_of("bt2020")).to_xyz)

    def seen(code: Code) -> Triple:
        channels = [gain * (one / 255.0 + lift) ** exponent for one in code]
        x, y, z = (matrix @ channels).tolist()
        return (x, y, z)

    block = only("- colours: {random: 30, space: bt2020}", seen)
    assert "black as measured, 0.1 cd/m2" in block.black
    assert named(block, "white_luminance").maximum.value == pytest.approx(0.0, abs=1e-6)


def test_what_was_not_measured_is_named_and_no_average_is_given() -> None:
    block = only("- colours: {chart: cie-test-colours}", perfect("srgb"), lacking="colours/tcs11-green")
    assert block.missing == "colour tcs11-green was not measured"
    assert not named(block, "white_luminance").mean.present
    assert patch(block, "tcs12-blue").white_luminance.present
    results = measured("- colours: {chart: cie-test-colours}", perfect("srgb"), lacking="colours/reference-white")
    assert "white was not measured" in results.of("colours")[0].missing
    assert not results.of("colours")[0].patches[0].white_luminance.present
    assert [absent.result for absent in results.absent] == ["colours"]


def test_a_black_above_white_says_what_is_wrong() -> None:
    def upside_down(code: Code) -> Triple:
        x, y, z = perfect("bt2020")((255 - code[0], 255 - code[1], 255 - code[2]))
        return (x + 1.0, y + 1.0, z + 1.0)

    block = only("- colours: {random: 5, space: bt2020}", upside_down)
    assert "is not below white" in block.patches[0].white_luminance.why


def test_ten_bits() -> None:
    block = only("- colours: {random: 20}", perfect("srgb", bits=10), head="bits: 10\n")
    assert max(max(one.code) for one in block.patches) > 255
    assert named(block, "white_luminance").maximum.value == pytest.approx(0.0, abs=1e-6)


def test_ciede2000_parts_agree_with_the_difference() -> None:
    random = np.random.default_rng(4)
    first = random.uniform((5.0, -80.0, -80.0), (95.0, 80.0, 80.0), (5000, 3))
    second = first + random.normal(0.0, 4.0, first.shape)
    parts = colour.delta_e_2000_parts(first, second)
    np.testing.assert_allclose(parts[:, 0], colour.delta_e_2000(first, second), atol=1e-12)
    # The other way round the difference is the same and every part has the other sign.
    back = colour.delta_e_2000_parts(second, first)
    np.testing.assert_allclose(back * np.array([1.0, -1.0, -1.0, -1.0]), parts, atol=1e-9)
    assert np.all(np.sign(parts[:, 1]) == np.sign(second[:, 0] - first[:, 0]))


def test_long_lists_are_computed_piece_by_piece_to_the_same_figures() -> None:
    random = np.random.default_rng(5)
    first, second = random.uniform(-80.0, 80.0, (2, 3 * colour.CHUNK + 17, 3))
    whole = colour.delta_e_2000(first, second)
    for start in (0, colour.CHUNK - 1, 3 * colour.CHUNK + 10):
        part = slice(start, start + 7)
        np.testing.assert_array_equal(whole[part], colour.delta_e_2000(first[part], second[part]))


def test_derivatives_by_x_y_luminance_and_by_xyz_are_the_same_ones() -> None:
    xyl = np.array([[0.64, 0.33, 21.0], [0.31, 0.33, 100.0], [0.15, 0.06, 7.2]])
    jacobian = by_xyz(xyl)
    light = xyz(xyl)
    for axis in range(3):
        step = np.zeros(3)
        step[axis] = 1e-5
        high, low = light + step, light - step
        moved = [np.concatenate([colour.xy_from_xyz(one), one[:, 1:2]], axis=-1) for one in (high, low)]
        np.testing.assert_allclose(jacobian[:, :, axis], (moved[0] - moved[1]) / 2e-5, rtol=1e-5, atol=1e-9)


def test_an_interval_belongs_to_every_difference_and_holds_it() -> None:
    """Readings that scatter: differences have intervals, parts too, and a difference is never below zero."""

    def noisy(code: Code) -> Triple:
        x, y, z = off((1.02, 1.0, 0.99))(code)
        wobble = 1.0 + 0.002 * ((sum(code) * 7919) % 13 - 6) / 6.0
        return (x * wobble, y * wobble, z * wobble)

    results = measured("- colours: {chart: cie-test-colours, also: [76, 94]}", noisy, scatter=0.001)
    for one in results.of("colours")[0].patches:
        for figure in (one.error.total, one.cie76, one.cie94):
            assert figure is not None
            assert figure.interval is not None
            low, high = figure.interval
            assert 0.0 <= low <= (figure.value or 0.0) <= high
        assert one.error.chroma.u is not None
    summary = named(results.of("colours")[0], "white_luminance")
    assert summary.mean.interval is not None
    assert summary.mean.interval[0] < (summary.mean.value or 0.0)


GREYS = {"g.csv": "name,red,green,blue\ngrey,128,128,128\nnearly,129,128,128\nred,200,60,60\n"}


def test_what_is_grey_has_no_hue() -> None:
    """A hue is an angle about grey: where the uncertainty holds grey, it may be any (common practice)."""
    block = only("- colours: {file: g.csv}", off((1.05, 1.0, 0.95)), files=GREYS)  # type: ignore[arg-type]
    for one in block.patches:
        assert one.error.total.value is not None
        assert one.error.chroma.value is not None
        assert (one.error.hue.value is None) == (one.name == "grey")
    assert patch(block, "grey").error.hue.why.startswith("no hue: the target has a chroma of")


def test_a_hue_that_the_meter_can_not_tell_is_none() -> None:
    """Readings of which X alone scatters by 2 %: a chroma of 0.4 is lost in it, one of 50 is not."""
    wobble = itertools.cycle((0.98, 1.02))

    def screen(code: Code) -> Triple:
        x, y, z = perfect("srgb")(code)
        return (x * next(wobble), y, z)

    block = only("- colours: {file: g.csv}", screen, files=GREYS, each=True)  # type: ignore[arg-type]
    assert patch(block, "nearly").error.hue.why.startswith("no hue: the target has a chroma of 0.")
    assert patch(block, "red").error.hue.value is not None
