"""Laws of the simulated scene."""

from __future__ import annotations

import time
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.patch.model import Patch, field, grey
from sim.displays import MODELS, display
from sim.inprocess import scene_of
from sim.picture import Painted
from sim.scene import Scene
from sim.truth import painted, truth_of

LAWS = settings(derandomize=True, deadline=None, database=None, max_examples=60)
NAMES = sorted(MODELS)
LCDS = [name for name in NAMES if not MODELS[name].limiting]
SCENES = {name: scene_of(name, noise="none") for name in NAMES}
CODES = st.integers(0, 255)
PLACES = st.tuples(st.floats(0.0, 1.0), st.floats(0.0, 1.0))


def luminance(scene: Scene, patch: Patch, place: tuple[float, float] = (0.5, 0.5)) -> float:
    return truth_of(scene, patch, place)[1]


@LAWS
@given(name=st.sampled_from(LCDS), code=st.tuples(CODES, CODES, CODES), place=PLACES)
def test_channels_add_up(name: str, code: tuple[int, int, int], place: tuple[float, float]) -> None:
    """Without limiting, the light of a colour is that of its channels (less the black that each carries)."""
    scene = SCENES[name]
    red, green, blue = code
    parts = [truth_of(scene, field(c), place) for c in ((red, 0, 0), (0, green, 0), (0, 0, blue))]
    black = truth_of(scene, field((0, 0, 0)), place)
    whole = truth_of(scene, field(code), place)
    for axis in range(3):
        assert whole[axis] == pytest.approx(sum(part[axis] for part in parts) - 2.0 * black[axis], rel=1e-9)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("bits", [8, 10])
def test_luminance_rises_with_every_code(name: str, bits: int) -> None:
    scene, top = SCENES[name], (1 << bits) - 1
    levels = [luminance(scene, Patch("window", grey(code), bits, area_percent=10.0)) for code in range(top + 1)]
    assert all(lower < higher for lower, higher in pairwise(levels))


@pytest.mark.parametrize("name", NAMES)
def test_each_channel_has_its_own_curve_from_0_to_1(name: str) -> None:
    shown = display(name)
    assert shown.linear((0, 0, 0), 8) == (0.0, 0.0, 0.0)
    assert shown.linear((255, 255, 255), 8) == pytest.approx((1.0, 1.0, 1.0))
    red, green, blue = shown.linear((128, 128, 128), 8)
    assert (red, green, blue) == pytest.approx([(128 / 255) ** gamma for gamma in shown.model.gamma], rel=0.001)
    if name != "miscalibrated-lcd":  # whose channels are meant to be apart
        assert red == pytest.approx(green, rel=0.05)
        assert blue == pytest.approx(green, rel=0.05)
    assert len({red, green, blue}) > 1


@LAWS
@given(name=st.sampled_from(NAMES), area=st.floats(1.0, 99.0), more=st.floats(0.1, 50.0))
def test_a_larger_white_window_is_never_brighter_under_limiting(name: str, area: float, more: float) -> None:
    scene, larger = SCENES[name], min(100.0, area + more)
    small, large = (luminance(scene, Patch("window", grey(255), area_percent=a)) for a in (area, larger))
    if MODELS[name].limiting:
        assert small >= large
    else:
        assert small == pytest.approx(large, rel=1e-3)


@LAWS
@given(area=st.floats(1.0, 90.0))
def test_the_whole_screen_gives_more_light_though_each_place_gives_less(area: float) -> None:
    scene = SCENES["emissive"]
    small, large = (area / 100.0, (area + 10.0) / 100.0)
    light = [
        share * luminance(scene, Patch("window", grey(255), area_percent=100.0 * share)) for share in (small, large)
    ]
    assert light[0] < light[1]


def test_figures_of_the_invented_displays() -> None:
    office, wide, emissive = (SCENES[name] for name in ("office-lcd", "wide-gamut-lcd", "emissive"))
    white, black = field(grey(255)), field(grey(0))
    assert luminance(office, white) == pytest.approx(350.0)
    assert luminance(office, white) / luminance(office, black) == pytest.approx(1100.0, rel=1e-6)
    assert luminance(wide, white) == pytest.approx(450.0)
    assert luminance(emissive, white) == pytest.approx(250.0, rel=0.01)
    assert luminance(emissive, Patch("window", grey(255), area_percent=10.0)) == pytest.approx(700.0, rel=0.02)
    assert luminance(emissive, black) < 0.0005


@pytest.mark.parametrize(
    ("name", "published"),
    [
        ("office-lcd", [(0.640, 0.330), (0.300, 0.600), (0.150, 0.060)]),  # ITU-R BT.709-6
        ("wide-gamut-lcd", [(0.680, 0.320), (0.265, 0.690), (0.150, 0.060)]),  # SMPTE EG 432-1 (P3)
    ],
)
def test_primaries_are_near_the_space_that_they_are_for(name: str, published: list[tuple[float, float]]) -> None:
    for code, (x, y) in zip(((255, 0, 0), (0, 255, 0), (0, 0, 255)), published, strict=True):
        xyz = truth_of(SCENES[name], field(code))
        assert xyz[0] / sum(xyz) == pytest.approx(x, abs=0.015)
        assert xyz[1] / sum(xyz) == pytest.approx(y, abs=0.015)


@LAWS
@given(name=st.sampled_from(NAMES), before=CODES, after=CODES, place=PLACES)
def test_what_has_settled_is_the_truth(name: str, before: int, after: int, place: tuple[float, float]) -> None:
    scene = scene_of(name, noise="none")
    scene.move(*place)
    scene.show(painted(field(grey(before))))
    scene.advance(0.01)
    scene.show(painted(field(grey(after))))
    scene.advance(2.0)
    taken = scene.take(0.5)
    assert taken.xyz == pytest.approx(scene.truth(scene.picture, place), rel=1e-12)
    assert taken.status in ("ok", "under")


def test_a_reading_right_after_a_change_is_wrong_and_says_so() -> None:
    scene = scene_of(noise="none")
    scene.show(painted(field(grey(255))))
    scene.advance(2.0)
    scene.show(painted(field(grey(0))))
    taken = scene.take()
    assert taken.status == "unstable"
    assert taken.xyz[1] > 2.0 * luminance(scene, field(grey(0)))


def test_settling_is_a_steady_approach_and_slower_towards_dark() -> None:
    def distance(before: int, after: int, wait_s: float) -> float:
        scene = scene_of(noise="none")
        scene.show(painted(field(grey(before))))
        scene.advance(2.0)
        scene.show(painted(field(grey(after))))
        scene.advance(wait_s)
        truth = scene.truth(scene.picture)[1]
        return abs(scene.measure(scene.now_s, 1e-6).xyz[1] - truth)

    for before, after in ((0, 255), (255, 0)):
        left = [distance(before, after, wait_s) for wait_s in (0.0, 0.01, 0.03, 0.1, 0.3)]
        assert left == sorted(left, reverse=True)
        assert left[0] > 300.0
    # After one time constant 1/e of the step is left: the definition of an exponential approach.
    model = MODELS["office-lcd"]
    step = 350.0 * (1.0 - 1.0 / 1100.0)
    assert distance(0, 255, model.rise_tau_s) / step == pytest.approx(0.36788, rel=1e-3)
    assert distance(255, 0, model.fall_tau_s) / step == pytest.approx(0.36788, rel=1e-3)


def test_a_long_reading_averages_the_transition_within_it() -> None:
    scene = scene_of(noise="none")
    scene.show(painted(field(grey(255))))
    taken = scene.take(4.0)
    # The mean of 1 - exp(-t/tau) over T is 1 - tau/T (T much longer than tau).
    expected = 350.0 * (1.0 - MODELS["office-lcd"].rise_tau_s / 4.0)
    assert taken.xyz[1] == pytest.approx(expected, rel=5e-4)
    assert taken.status == "unstable"


def test_warm_up_starts_low_and_ends_at_the_truth() -> None:
    scene = scene_of(noise="none", warm=False)
    scene.show(painted(field(grey(255))))
    scene.advance(1.0)
    cold = scene.take(0.1).xyz[1]
    scene.advance(599.0)
    after_tau = scene.take(0.1).xyz[1]
    scene.advance(8.0 * 600.0)
    warm = scene.take(0.1).xyz[1]
    truth = luminance(scene, field(grey(255)))
    assert cold / truth == pytest.approx(0.95, abs=0.005)
    assert (truth - after_tau) / (truth - cold) == pytest.approx(0.36788, rel=0.01)
    assert warm == pytest.approx(truth, rel=1e-4)


def test_drift_swings_by_its_amplitude() -> None:
    scene = scene_of(noise="none", drift_percent=0.5)
    scene.show(painted(field(grey(255))))
    readings = []
    for _ in range(180):
        scene.advance(60.0)
        readings.append(scene.take(0.1).xyz[1])
    truth = luminance(scene, field(grey(255)))
    assert max(readings) / truth == pytest.approx(1.005, abs=1e-4)
    assert min(readings) / truth == pytest.approx(0.995, abs=1e-4)


@pytest.mark.parametrize("name", NAMES)
def test_glare_lifts_the_black_cells_of_a_checkerboard_only_a_little(name: str) -> None:
    scene = SCENES[name]
    board = Patch("checkerboard", grey(255))
    black_cell, white_cell = (0.375, 0.125), (0.125, 0.125)
    lifted = luminance(scene, board, black_cell) - luminance(scene, field(grey(0)), black_cell)
    white = luminance(scene, board, white_cell)
    # Half of the screen is white: the veil is half of the glare's share.
    assert lifted / white == pytest.approx(MODELS[name].glare / 2.0, rel=0.1)


@pytest.mark.parametrize("name", NAMES)
def test_the_centre_is_the_reference_of_the_falloff(name: str) -> None:
    scene, white = SCENES[name], field(grey(255))
    assert display(name).falloff((0.5, 0.5)) == (1.0, 1.0, 1.0, 1.0)
    corners = [luminance(scene, white, (x, y)) for x in (0.0, 1.0) for y in (0.0, 1.0)]
    assert len(set(corners)) == 4
    assert all(0.7 < corner / luminance(scene, white) < 1.05 for corner in corners)


def test_range_of_the_meter() -> None:
    scene = scene_of("emissive", noise="none")
    scene.advance(1.0)
    assert scene.take().status == "under"
    blinded = Scene(display("office-lcd"), replace(scene.sensor, ceiling_cd_m2=100.0), noise="none")
    blinded.show(painted(field(grey(255))))
    blinded.advance(1.0)
    assert blinded.take().status == "over"


def test_per_patch_readings_are_the_same_after_a_restart() -> None:
    def readings(scene: Scene, code: int) -> list[object]:
        scene.show(painted(field(grey(code))))
        scene.advance(2.0)
        return [scene.take() for _ in range(3)]

    through, restarted = scene_of(seed=5), scene_of(seed=5)
    for code in (0, 90, 255):
        readings(through, code)
    assert readings(through, 128) == readings(restarted, 128)
    assert readings(scene_of(seed=6), 128) != readings(restarted, 128)


@LAWS
@given(
    rects=st.lists(
        st.tuples(st.integers(-3, 12), st.integers(-3, 12), st.integers(1, 12), st.integers(1, 12), st.integers(0, 3)),
        max_size=6,
    )
)
def test_areas_are_counted_to_the_pixel(rects: list[tuple[int, int, int, int, int]]) -> None:
    shown = Painted(13, 9, 8, tuple((x, y, w, h, (c, c, c)) for x, y, w, h, c in rects))
    counted: dict[tuple[int, int, int], int] = {}
    for y in range(9):
        for x in range(13):
            counted[shown.pixel(x, y)] = counted.get(shown.pixel(x, y), 0) + 1
    assert {code: round(share * 13 * 9) for code, share in shown.coverage()} == counted
    assert sum(share for _, share in shown.coverage()) == pytest.approx(1.0)


@LAWS
@given(place=PLACES, kind=st.sampled_from(["field", "window", "checkerboard", "spot"]), area=st.floats(0.5, 100.0))
def test_the_code_under_the_meter_is_the_one_that_the_patch_says(
    place: tuple[float, float], kind: str, area: float
) -> None:
    patch = Patch(kind, grey(200), area_percent=area, at=(0.3, 0.6))  # type: ignore[arg-type]
    assert painted(patch, 1279, 717).code_at(place) == patch.code_at(*place, 1279, 717)


def test_impossible_things_are_refused() -> None:
    scene = scene_of()
    with pytest.raises(ValueError, match="goes back"):
        scene.advance(-1.0)
    with pytest.raises(ValueError, match="not on the screen"):
        scene.move(1.5, 0.5)
    with pytest.raises(ValueError, match="takes time"):
        scene.take(0.0)
    with pytest.raises(ValueError, match="does not fit 8 bits"):
        Painted.from_flat(10, 10, 8, [[0, 0, 10, 10, 256, 0, 0]])
    with pytest.raises(ValueError, match="no screen has"):
        Painted.from_flat(0, 10, 8, [])


def test_a_reading_is_quick_to_compute() -> None:
    """Well under a millisecond, so that simulated nights pass quickly (it takes about 0.03 ms)."""
    scene = scene_of()
    scene.show(painted(Patch("checkerboard", grey(255))))
    scene.advance(2.0)
    begin = time.process_time()
    for _ in range(200):
        scene.take()
    assert (time.process_time() - begin) / 200 < 1e-3
