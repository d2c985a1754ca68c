"""Gamut volumes against published ones, and the laws that volumes of meshes keep."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.analysis.colour import colorimetry as colour
from benchd.analysis.colour.tone_curves import srgb
from benchd.measurements.gamut import volume
from tests.measurements.gamut.test_coverage import PRIMARIES
from tests.oracles import colour as oracle

EXACT = settings(derandomize=True, max_examples=25, deadline=None)
D65 = (0.3127, 0.3290)


def primaries(name: str) -> colour.Array:
    return colour.rgb_to_xyz_matrix(*PRIMARIES[name], D65).T


@pytest.mark.parametrize(
    ("name", "d65", "d50"),
    [
        ("sRGB/BT.709", 820_301, 833_098),
        ("opRGB", 1_195_963, 1_208_923),
        ("P3 (RP 431-2 / P3-D65)", 1_230_955, 1_233_246),
        ("BT.2020", 1_854_837, 1_856_913),
    ],
)
def test_volumes_of_standard_spaces(name: str, d65: float, d50: float) -> None:
    """By an independent computation, within 0.1 % of it; the D50 figures agree with B. Lindbloom's published ones."""
    white = colour.xyz_from_xy(D65)
    faces = volume.additive_faces(primaries(name))
    assert float(volume.lab_volume(faces, white)) == pytest.approx(d65, rel=1e-3)
    assert float(volume.lab_volume(faces, white, to_d50=True)) == pytest.approx(d50, rel=1e-3)


def test_published_volumes() -> None:
    """B. Lindbloom, Information About RGB Working Spaces (from memory): the space of IEC 61966-2-5 and sRGB."""
    white = colour.xyz_from_xy(D65)
    for name, published in (("opRGB", 1_208_631), ("sRGB/BT.709", 832_870)):
        faces = volume.additive_faces(primaries(name), 0.0, 65)
        assert float(volume.lab_volume(faces, white, to_d50=True)) == pytest.approx(published, rel=5e-4)


def test_the_602_colours_of_an_11_grid() -> None:
    """n^3 - (n - 2)^3 = 602 colours; the mesh of equal codes reads 818 886 for sRGB (independent computation)."""
    places = volume.face_places(11)
    assert len({tuple(place) for place in places.reshape(-1, 3).tolist()}) == 602
    faces = srgb(np.rint(places * 255.0) / 255.0) @ primaries("sRGB/BT.709")
    assert float(volume.lab_volume(faces, colour.xyz_from_xy(D65))) == pytest.approx(818_886, rel=5e-4)


def test_a_cube_a_ball_and_a_moved_cube() -> None:
    cube = volume.face_places(5)
    assert float(volume.enclosed(cube)) == pytest.approx(1.0, abs=1e-12)
    assert float(volume.enclosed(3.0 * cube + 7.0)) == pytest.approx(27.0, abs=1e-9)
    from_middle = volume.face_places(81) - 0.5
    ball = from_middle / np.linalg.norm(from_middle, axis=-1, keepdims=True)
    assert float(volume.enclosed(ball)) == pytest.approx(4.0 * math.pi / 3.0, rel=1e-3)


@given(seed=st.integers(0, 1000), turn=st.floats(0.0, 6.0))
@EXACT
def test_turning_and_mirroring_change_no_volume(seed: int, turn: float) -> None:
    shaken = volume.face_places(4) + 0.02 * np.sin(volume.face_places(4) * (seed + 1))
    whole = float(volume.enclosed(shaken))
    turned = shaken @ np.array(
        [[math.cos(turn), math.sin(turn), 0.0], [-math.sin(turn), math.cos(turn), 0.0], [0, 0, 1]]
    )
    assert float(volume.enclosed(turned)) == pytest.approx(whole, rel=1e-9)
    assert float(volume.enclosed(shaken * np.array([1.0, -1.0, 1.0]))) == pytest.approx(whole, rel=1e-9)


@given(seed=st.integers(0, 1000))
@EXACT
def test_the_gradient_is_that_of_the_volume(seed: int) -> None:
    random = np.random.default_rng(seed)
    mesh = volume.face_places(3) + random.normal(0.0, 0.02, (6, 3, 3, 3))
    direction = random.normal(0.0, 1.0, mesh.shape)
    h = 1e-6
    slope = (volume.enclosed(mesh + h * direction) - volume.enclosed(mesh - h * direction)) / (2.0 * h)
    assert float(slope) == pytest.approx(float((volume.gradient(mesh) * direction).sum()), rel=1e-6, abs=1e-9)


def test_ictcp_is_that_of_colour_science_and_grows_with_the_light() -> None:
    """ITU-R BT.2100 ICtCp by colour-science (absolute cd/m2), scaled 720, 360, 720 as ITU-R BT.2124 does."""
    light = volume.additive_faces(100.0 * primaries("BT.2020"), 0.0, 9)
    ours = volume.coordinates(light, light[0, 0, 0], "ictcp")
    theirs = oracle.XYZ_to_ICtCp(light) * np.array([720.0, 360.0, 720.0])
    np.testing.assert_allclose(ours, theirs, atol=0.05)
    volumes = [
        float(volume.enclosed(volume.coordinates(volume.additive_faces(level * primaries(name)), None, "ictcp")))
        for name, level in (("sRGB/BT.709", 100.0), ("BT.2020", 100.0), ("BT.2020", 1000.0))
    ]
    assert volumes[0] < volumes[1] < volumes[2]
