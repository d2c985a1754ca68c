"""The gamut of invented screens: perfect ones, a white sub-pixel, a turned primary, and what is absent."""

from __future__ import annotations

import numpy as np
import pytest

from benchd.measurements.gamut.results import Gamut, SpaceCoverage
from benchd.patch.model import Code
from benchd.profile.colour_codes import Triple
from tests.analysis.colour_logs import Screen, measured, perfect
from tests.analysis.tables import rows


def only(blocks: str, screen: Screen, lacking: str = "") -> Gamut:
    (found,) = measured(blocks, screen, lacking=lacking).of("gamut")
    return found


def against(block: Gamut, space: str) -> SpaceCoverage:
    return next(one for one in block.coverage if one.space == space)


TABLE = {
    "srgb": "sRGB/BT.709",
    "oprgb": "opRGB",
    "p3-d65": "P3 (RP 431-2 / P3-D65)",
    "p3-cinema": "P3 (RP 431-2 / P3-D65)",
    "bt2020": "BT.2020",
    "ntsc-1953": "NTSC 1953",
}


@pytest.mark.parametrize("device", TABLE)
def test_perfect_screens_cover_one_another_as_the_table_says(device: str) -> None:
    """Primaries of the standards (tests/measurements/gamut/test_coverage.py), through a log and the whole analysis."""
    block = only("- gamut: {}", perfect(device))
    for space, name in TABLE.items():
        row = next(
            one for one in rows("gamut_coverage.csv") if one["device"] == TABLE[device] and one["target"] == name
        )
        found = against(block, space)
        for figure, column in (
            (found.coverage_xy, "coverage_xy"),
            (found.coverage_uv, "coverage_uv76"),
            (found.area_ratio_xy, "area_ratio_xy"),
            (found.area_ratio_uv, "area_ratio_uv76"),
        ):
            assert figure.value == pytest.approx(100.0 * float(row[column]), abs=2e-4)
            assert figure.unit == "%"


def test_volumes_of_a_perfect_screen() -> None:
    """820 301 with the screen's own white, 833 098 after Bradford to D50 (see test_volume), within 0.1 %."""
    block = only("- gamut: {}", perfect("srgb"))
    own, d50, _ictcp = block.volumes
    assert own.volume.value == pytest.approx(820_301, rel=1e-3)
    assert d50.volume.value == pytest.approx(833_098, rel=1e-3)
    assert "additive model" in block.volume_from
    assert against(block, "srgb").volume_ratio.value == pytest.approx(100.0, abs=1e-6)
    assert against(block, "p3-d65").volume_ratio.value == pytest.approx(100.0 * 820_301 / 1_230_955, abs=0.1)


def test_a_measured_mesh_says_how_much_it_takes() -> None:
    block = only("- gamut: {volume_grid: 5}", perfect("srgb"))
    assert block.volumes[0].volume.value == pytest.approx(820_301 * (1.0 - 0.0092), rel=1e-3)
    assert "measured: 5 x 5 colours on each face" in block.volume_from
    assert "takes 0.9 %" in block.volume_from
    # The spaces are meshed alike, so that the ratio does not suffer from it.
    assert against(block, "srgb").volume_ratio.value == pytest.approx(100.0, abs=0.01)


@pytest.mark.parametrize("block", ["gamut: {}", "gamut: {volume_grid: 3}"])
def test_a_volume_states_no_scatter_that_contradicts_its_uncertainty(block: str) -> None:
    """x, y and Y of one reading scatter together; a sum of squares of their parts was several times too much."""
    made = only(f"- {block}", perfect("srgb"))
    for one in (*(volume.volume for volume in made.volumes), against(made, "srgb").volume_ratio):
        assert one.value is not None
        assert one.s is None


def test_a_volume_moves_with_what_it_is_made_of() -> None:
    """Derivatives of the mesh are those of a screen that is moved a little."""
    screen = perfect("srgb")
    reference = only("- gamut: {volume_grid: 3}", screen).volumes[0].volume.value
    assert reference is not None

    def brighter_red(code: Code) -> Triple:
        x, y, z = screen(code)
        share = 1.001 if code == (255, 0, 0) else 1.0
        return (share * x, share * y, share * z)

    moved = only("- gamut: {volume_grid: 3}", brighter_red).volumes[0].volume.value
    assert moved is not None
    assert 1e-6 < abs(moved / reference - 1.0) < 1e-3


def test_light_adds_up_or_does_not() -> None:
    """IDMS, colour-signal white (from memory): 1 for an additive screen, below 1 with a white sub-pixel."""
    assert [one.name for one in only("- gamut: {}", perfect("srgb")).additivity] == [
        *("white", "cyan", "magenta", "yellow"),
    ]
    for one in only("- gamut: {}", perfect("p3-d65")).additivity:
        assert one.ratio.value == pytest.approx(1.0, abs=1e-9)

    def with_white_pixel(code: Code) -> Triple:
        x, y, z = perfect("srgb")(code)
        boost = 1.0 + 0.5 * min(code) / 255.0
        return (boost * x, boost * y, boost * z)

    white, *others = only("- gamut: {}", with_white_pixel).additivity
    assert white.ratio.value == pytest.approx(1.0 / 1.5, abs=1e-9)
    assert all(one.ratio.value == pytest.approx(1.0, abs=1e-9) for one in others)


def test_black_is_taken_from_each_primary() -> None:
    def leaking(code: Code) -> Triple:
        x, y, z = perfect("srgb")(code)
        return (x + 0.095, y + 0.1, z + 0.109)

    assert only("- gamut: {}", leaking).additivity[0].ratio.value == pytest.approx(1.0, abs=1e-9)


def test_hues_turn_the_way_that_is_said() -> None:
    straight = only("- gamut: {}", perfect("srgb"))
    assert all(abs(part.value or 0.0) < 1e-6 for one in straight.hue_shifts for part in (one.uv, one.lab))
    assert straight.target == "srgb"

    def orange_red(code: Code) -> Triple:
        x, y, z = perfect("srgb")(code)
        green = np.array(perfect("srgb")((0, 255, 0)))
        more = 0.1 * green if code == (255, 0, 0) else np.zeros(3)
        return (x + float(more[0]), y + float(more[1]), z + float(more[2]))

    turned = {one.name: one for one in only("- gamut: {}", orange_red).hue_shifts}
    assert (turned["red"].uv.value or 0.0) > 3.0
    assert (turned["red"].lab.value or 0.0) > 1.0
    assert turned["blue"].uv.value == pytest.approx(0.0, abs=1e-6)


def test_what_was_not_measured_makes_absent_what_needs_it() -> None:
    block = only("- gamut: {volume_grid: 3}", perfect("srgb"), lacking="gamut/blue")
    assert block.missing == "colour blue was not measured"
    assert not block.coverage[0].coverage_uv.present
    assert "blue" in block.coverage[0].coverage_uv.why
    assert not block.volumes[0].volume.present
    assert not block.additivity[0].ratio.present
    assert block.additivity[3].ratio.present  # yellow: red and green
    one_face = only("- gamut: {volume_grid: 3}", perfect("srgb"), lacking="gamut/128-0-0")
    assert one_face.coverage[0].coverage_uv.present
    assert not one_face.volumes[0].volume.present


def test_a_black_without_light_is_no_obstacle() -> None:
    block = only("- gamut: {volume_grid: 3}", perfect("srgb"))
    assert "black taken as 0" in block.volumes[0].volume.why
    assert block.volumes[0].volume.plain
