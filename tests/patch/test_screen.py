"""When a patch counts as shown: probes, scaling of codes, and the decision."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchd.errors import PixelMismatch, WrongScreen
from benchd.patch.model import Code, Patch, Rect, field, grey
from benchd.patch.screen import ScreenIdentity, Shown, check_shown, probes_for, scaled_code

IDENTITY = ScreenIdentity("A-1", 640, 360, 0, 0, 8, "screen", "r", "awake", True)
ON = grey(255)


def owner(rects: tuple[Rect, ...], x: int, y: int) -> Code:
    return next(r.code for r in reversed(rects) if r.x <= x < r.x + r.width and r.y <= y < r.y + r.height)


def shown_of(rects: tuple[Rect, ...], probes: tuple[tuple[int, int], ...]) -> Shown:
    pixels = tuple(owner(rects, x, y) for x, y in probes)
    return Shown(640, 360, "A-1", 8, "screen", probes, pixels, 0.001)


patches = st.one_of(
    st.builds(Patch, st.just("window"), st.just(ON), area_percent=st.floats(0.1, 90)),
    st.builds(Patch, st.just("checkerboard"), st.just(ON), columns=st.integers(1, 9), rows=st.integers(1, 9)),
    st.builds(
        Patch,
        st.just("spot"),
        st.just(ON),
        area_percent=st.floats(0.1, 5),
        at=st.tuples(st.floats(0, 1), st.floats(0, 1)),
    ),
    st.just(field(ON)),
)


@given(patches)
def test_the_right_picture_is_accepted(patch: Patch) -> None:
    rects = patch.rectangles(640, 360)
    probes = probes_for(rects)
    assert len(set(probes)) == len(probes)
    assert all(0 <= x < 640 and 0 <= y < 360 for x, y in probes)
    check_shown(patch, IDENTITY, shown_of(rects, probes))


@given(
    st.sampled_from([Patch("window", ON, area_percent=10), Patch("spot", ON, area_percent=2, at=(0.3, 0.6))]),
    st.tuples(*[st.integers(-1, 1)] * 4).filter(any),
)
def test_a_rectangle_wrong_by_one_pixel_anywhere_is_refused(patch: Patch, change: tuple[int, int, int, int]) -> None:
    ground, inner = patch.rectangles(640, 360)
    wrong = Rect(*(a + b for a, b in zip(inner[:4], change, strict=True)), inner.code)
    shown = shown_of((ground, wrong), probes_for((ground, inner)))
    with pytest.raises(PixelMismatch, match=r"pixel \d+,\d+ reads"):
        check_shown(patch, IDENTITY, shown)


@given(patches, st.data())
def test_any_single_wrong_pixel_is_refused(patch: Patch, data: st.DataObject) -> None:
    rects = patch.rectangles(640, 360)
    shown = shown_of(rects, probes_for(rects))
    index = data.draw(st.integers(0, len(shown.pixels) - 1))
    pixels = list(shown.pixels)
    pixels[index] = (pixels[index][0], pixels[index][1], pixels[index][2] ^ 1)
    with pytest.raises(PixelMismatch):
        check_shown(patch, IDENTITY, replace(shown, pixels=tuple(pixels)))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"width": 641}, "has 641 x 360 pixels, but the run began with 640 x 360"),
        ({"screen": "B-2"}, "on screen 'B-2', but the run began on 'A-1'"),
        ({"bits": 10}, "has 10 bits a channel, but the run began with 8"),
    ],
)
def test_another_screen_is_refused(change: dict[str, object], words: str) -> None:
    rects = field(ON).rectangles(640, 360)
    shown = shown_of(rects, probes_for(rects))
    with pytest.raises(WrongScreen, match=words):
        check_shown(field(ON), IDENTITY, replace(shown, **change))


def test_codes_deeper_than_the_frame_buffer_are_refused() -> None:
    deep = field(grey(1023), bits=10)
    with pytest.raises(WrongScreen, match="codes of 10 bits can't be shown on a frame buffer of 8 bits"):
        check_shown(deep, IDENTITY, shown_of(field(ON).rectangles(640, 360), ((0, 0),)))


def test_without_readback_only_the_screen_is_judged() -> None:
    blind = replace(IDENTITY, readback="none")
    check_shown(field(ON), blind, Shown(640, 360, "A-1", 8, "none", (), (), 0.001))


@given(st.integers(0, 255))
def test_scaled_codes_are_the_nearest_level(code: int) -> None:
    """An 8-bit code stands for code/255 of full drive; the nearest of 1023 levels is at most half a level off."""
    deep = scaled_code(grey(code), 8, 10)[0]
    assert abs(deep / 1023 - code / 255) <= 0.5 / 1023 + 1e-12
    assert scaled_code(grey(deep), 10, 8) == grey(code)


def test_same_place_ignores_what_may_change() -> None:
    assert IDENTITY.same_place(replace(IDENTITY, renderer="other", gamma_ramp="changed", awake="no"))
    for change in ({"name": "B"}, {"width": 1}, {"height": 1}, {"x": 1}, {"y": 1}, {"bits": 10}):
        assert not IDENTITY.same_place(replace(IDENTITY, **change))
