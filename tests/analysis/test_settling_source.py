"""What settling leaves in a mean: the patch before it shines through, in luminance and colour."""

from __future__ import annotations

import math

import pytest

from benchd.analysis.noise.step_sources import settling_of

TOLD = {"settling_u_cd_m2": 0.1, "settling": {"change": [0.0, 200.0]}}


def test_between_greys_of_one_colour_the_colour_stays() -> None:
    grey, white = (47.5, 50.0, 54.5), (237.5, 250.0, 272.5)
    ((source, vector),) = settling_of("a", TOLD, grey, white)
    assert source.name == "settling of a"
    assert vector == pytest.approx((0.095, 0.1, 0.109))
    assert not source.shared
    assert math.isinf(source.dof)


def test_what_is_left_of_a_red_patch_is_red() -> None:
    """A twentieth of one per cent of the change is left: of X, Y, Z of red beside a blue of the same luminance."""
    blue, red = (62.0, 25.0, 330.0), (120.0, 25.0, 10.0)
    told = {"settling_u_cd_m2": 0.0125, "settling": {"change": [0.0, 25.0]}}
    (_, alike), (_, colour) = settling_of("b", told, blue, red)
    assert alike == pytest.approx((0.031, 0.0125, 0.165))
    assert colour == pytest.approx((0.0005 * (120.0 - 62.0), 0.0, 0.0005 * (10.0 - 330.0)))


@pytest.mark.parametrize("told", [{}, {"settling_u_cd_m2": 0.0}, {"met": False, "reached": None}])
def test_where_nothing_is_told_nothing_is_added(told: dict[str, object]) -> None:
    assert settling_of("c", told, (1.0, 1.0, 1.0), None) == []


def test_the_part_that_all_patches_share_has_a_sign() -> None:
    """0.2 cd/m2 of 200 at most, seen: a half goes the same way in all; together as much as the rectangle."""
    white = {"settling_u_cd_m2": 0.2 / math.sqrt(3.0), "settling_common_cd_m2": -0.1}
    grey = {"settling_u_cd_m2": 0.02 / math.sqrt(3.0), "settling_common_cd_m2": 0.01}
    (common, of_white), (own, apart) = settling_of("w", white, (190.0, 200.0, 218.0), None)
    (same, of_grey), _ = settling_of("g", grey, (19.0, 20.0, 21.8), None)
    assert common == same
    assert own.name == "settling of w"
    assert of_white[1] == -0.1
    assert of_grey[1] == 0.01
    assert math.hypot(of_white[1], apart[1]) == pytest.approx(0.2 / math.sqrt(3.0))
