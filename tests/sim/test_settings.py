"""The simulated display's picture settings: what each does to the light."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.patch.model import field, grey
from sim.displays import MODELS, display
from sim.inprocess import scene_of
from sim.scene import Scene
from sim.settings import D65, FROM_THE_BOX, PRESETS, SRGB_PRIMARIES, Settings, Tuned, daylight_xy
from sim.spectra import Triple
from sim.truth import main, painted, truth_of

NAMES = sorted(MODELS)


def scene(name: str, *changes: str) -> Scene:
    found = scene_of(name, noise="none")
    for change in changes:
        found.set(found.settings.but(change))
    return found


def light(found: Scene, *code: int) -> Triple:
    red, green, blue = code if len(code) == 3 else code * 3
    return truth_of(found, field((red, green, blue)))


def chromaticity(xyz: Triple) -> tuple[float, float]:
    return xyz[0] / sum(xyz), xyz[1] / sum(xyz)


@pytest.mark.parametrize("name", NAMES)
def test_out_of_the_box_nothing_is_changed(name: str) -> None:
    model = display(name)
    tuned = Tuned(model, FROM_THE_BOX)
    assert tuned.backlight == 1.0
    for code in ((0, 0, 0), (17, 128, 255), (255, 255, 255)):
        assert tuned.linear(code, 8) == model.linear(code, 8)


@pytest.mark.parametrize("name", NAMES)
def test_brightness_rises_with_its_setting_and_never_ends_in_darkness(name: str) -> None:
    levels = [light(scene(name, f"brightness={value}"), 255)[1] for value in range(0, 101, 10)]
    assert all(before < after for before, after in pairwise(levels))
    assert 0.05 * levels[-1] < levels[0] < 0.3 * levels[-1]


@pytest.mark.parametrize(("name", "dims"), [("office-lcd", True), ("wide-gamut-lcd", True), ("emissive", False)])
def test_a_backlight_dims_black_too(name: str, dims: bool) -> None:
    bright, dark = (light(scene(name, f"brightness={value}"), 0)[1] for value in (100, 0))
    assert (dark < 0.5 * bright) is dims


@pytest.mark.parametrize(("preset", "kelvin"), [("warm", 5000.0), ("cool", 9300.0)])
@pytest.mark.parametrize("name", NAMES)
def test_white_of_the_warm_and_the_cool_preset(name: str, preset: str, kelvin: float) -> None:
    assert chromaticity(light(scene(name, f"preset={preset}"), 255)) == pytest.approx(daylight_xy(kelvin), abs=4e-4)


def test_daylight() -> None:
    # CIE 15:2018, table of illuminants D50, D65 and D75: x and y of the 2-degree observer. Their temperatures are
    # 1.4388/1.4380 times the nominal ones.
    for nominal_k, x, y in ((5000, 0.3457, 0.3585), (6500, 0.3127, 0.3291), (7500, 0.2990, 0.3149)):
        assert daylight_xy(nominal_k * 1.4388 / 1.4380) == pytest.approx((x, y), abs=1.5e-4)


def test_srgb_clamps_a_wide_gamut() -> None:
    """Primaries and white of IEC 61966-2-1; the light that leaks through black moves them a little."""
    found = scene("wide-gamut-lcd", "preset=srgb")
    assert chromaticity(light(found, 255)) == pytest.approx(D65, abs=3e-4)
    for code, wanted in zip(((255, 0, 0), (0, 255, 0), (0, 0, 255)), SRGB_PRIMARIES, strict=True):
        assert chromaticity(light(found, *code)) == pytest.approx(wanted, abs=2e-3)
    native = scene("wide-gamut-lcd")
    assert chromaticity(light(native, 0, 255, 0)) != pytest.approx(SRGB_PRIMARIES[1], abs=2e-2)


def test_srgb_curve() -> None:
    found = scene("wide-gamut-lcd", "preset=srgb")
    white, black = light(found, 255)[1], light(found, 0)[1]
    # IEC 61966-2-1: code 188 is the signal 0.7373, whose light is 0.5029.
    assert (light(found, 188)[1] - black) / (white - black) == pytest.approx(0.5029, abs=5e-4)


def test_contrast_clips_above_its_middle_and_dims_below() -> None:
    usual, high, low = (scene("office-lcd", f"contrast={value}") for value in (75, 100, 20))
    assert light(high, 200)[1] > light(usual, 200)[1] > light(low, 200)[1]
    assert light(high, 255)[1] == pytest.approx(light(usual, 255)[1])
    assert light(high, 252)[1] == pytest.approx(light(high, 255)[1])
    assert light(low, 255)[1] < 0.7 * light(usual, 255)[1]


def test_gains_belong_to_the_preset_user() -> None:
    assert light(scene("office-lcd", "blue_gain=50"), 255) == light(scene("office-lcd"), 255)
    user, bluer = scene("office-lcd", "preset=user"), scene("office-lcd", "preset=user", "red_gain=50", "green_gain=50")
    assert light(bluer, 255)[0] < light(user, 255)[0]
    assert chromaticity(light(bluer, 255))[0] < chromaticity(light(user, 255))[0]


@settings(max_examples=60, derandomize=True, deadline=None)
@given(
    brightness=st.integers(0, 100),
    contrast=st.integers(0, 100),
    preset=st.sampled_from(sorted(PRESETS)),
    gain=st.integers(0, 100),
    code=st.integers(0, 254),
)
def test_a_higher_code_is_never_darker(brightness: int, contrast: int, preset: str, gain: int, code: int) -> None:
    tuned = Tuned(display("wide-gamut-lcd"), Settings(brightness, contrast, preset, gain, gain, gain))
    lower, higher = tuned.linear((code,) * 3, 8), tuned.linear((code + 1,) * 3, 8)
    assert all(0.0 <= low <= high <= 1.0 for low, high in zip(lower, higher, strict=True))


@pytest.mark.parametrize("text", ["brightness", "brightness=101", "brightness=x", "preset=vivid", "sharpness=5", ""])
def test_no_such_setting(text: str) -> None:
    with pytest.raises(ValueError, match=r"setting|brightness|preset"):
        FROM_THE_BOX.but(text)


def test_a_change_settles_and_then_stays() -> None:
    found = scene_of("office-lcd", noise="none")
    found.show(painted(field(grey(255))))
    found.advance(5.0)
    before = found.take(0.1).xyz[1]
    found.set(found.settings.but("brightness=50"))
    assert found.take(0.02).status == "unstable"
    found.advance(2.0)
    after = found.take(0.1)
    assert after.status == "ok"
    assert after.xyz[1] < 0.7 * before
    assert after.xyz[1] == pytest.approx(light(found, 255)[1], rel=1e-3)


def test_what_is_planned_happens_at_its_own_moment() -> None:
    found = scene_of("office-lcd")
    seen: list[float] = []
    found.at(5.0, lambda: seen.append(found.now_s))
    found.at(2.0, lambda: seen.append(found.now_s))
    found.advance(1.0)
    assert seen == []
    found.advance(9.0)
    assert seen == [2.0, 5.0]
    assert found.now_s == 10.0
    found.at(1.0, lambda: seen.append(found.now_s))
    assert seen[2:] == [10.0]


def test_truth_for_a_setting(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--display", "office-lcd", "--set", "brightness=50", "--set", "preset=warm"]) == 0
    told = capsys.readouterr().out
    assert "SIMULATED" in told
    assert "set to      brightness 50, contrast 75, preset warm" in told
    with pytest.raises(SystemExit):
        main(["--display", "office-lcd", "--set", "brightness=500"])
