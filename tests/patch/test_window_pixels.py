"""The real window under a virtual X server: every code and every edge, seen by another process."""

from __future__ import annotations

import random
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from benchd.errors import WrongScreen
from benchd.patch.model import Code, Patch, field, grey
from benchd.patch.window_screen import WindowScreen, list_screens
from tests.patch.conftest import OpenWindow, show
from tests.patch.x_client import XClient
from tests.patch.x_server import XServer

pytestmark = pytest.mark.screen

WIDTH, HEIGHT = 1280, 720
WHITE = grey(255)
Connect = Callable[[XServer], XClient]


@pytest.fixture(scope="module")
def screen(x24: XServer) -> WindowScreen:
    from benchd.patch.window_screen import window_command

    opened = WindowScreen(window_command("primary", 8), environment=x24.environment)
    yield opened
    opened.close()


@pytest.fixture
def eye(x24: XServer, connect: Connect) -> XClient:
    return connect(x24)


def painted(patch: Patch, width: int = WIDTH, height: int = HEIGHT) -> NDArray[np.uint16]:
    """The picture of ``patch`` by a method of its own: each pixel asks which code it has."""
    ys, xs = np.mgrid[0:height, 0:width]
    picture = np.empty((height, width, 3), dtype=np.uint16)
    match patch.kind:
        case "checkerboard":
            # Cell edges round half up: pixel x is in cell c when edge(c) <= x < edge(c + 1).
            edges_x = [int(np.floor(c * width / patch.columns + 0.5)) for c in range(1, patch.columns)]
            edges_y = [int(np.floor(r * height / patch.rows + 0.5)) for r in range(1, patch.rows)]
            odd = (np.searchsorted(edges_x, xs, side="right") + np.searchsorted(edges_y, ys, side="right")) % 2
            inside = odd == (1 if patch.inverse else 0)
        case "field":
            inside = np.ones((height, width), dtype=bool)
        case _:
            side = np.sqrt(patch.area_percent / 100)
            at_x, at_y = patch.at if patch.kind == "spot" else (0.5, 0.5)
            w, h = np.floor(side * width + 0.5), np.floor(side * height + 0.5)
            x0, y0 = np.floor(at_x * width - w / 2 + 0.5), np.floor(at_y * height - h / 2 + 0.5)
            inside = (x0 <= xs) & (xs < x0 + w) & (y0 <= ys) & (ys < y0 + h)
    picture[:] = patch.surround
    picture[inside] = patch.code
    return picture


def test_the_eye_sees_the_servers_own_colours(x24: XServer, screen: WindowScreen, eye: XClient) -> None:
    """Values of the colour names "red", "steel blue" and "gray50" after the X11 colour list (rgb.txt)."""
    screen.identify()
    for name, code in (("red", (255, 0, 0)), ("steel blue", (70, 130, 180)), ("gray50", (127, 127, 127))):
        cover = eye.cover(10, 20, 30, 40, name)
        assert (eye.grab(10, 20, 30, 40) == code).all()
        eye.uncover(cover)


def test_the_window_says_where_it_is(x24: XServer, screen: WindowScreen) -> None:
    identity = screen.identify()
    assert (identity.name, identity.width, identity.height, identity.x, identity.y) == ("screen", 1280, 720, 0, 0)
    assert (identity.bits, identity.readback, identity.simulated) == (8, "screen", False)
    (listed,) = list_screens(x24.environment)
    assert listed.same_place(identity)


def test_every_grey_is_exact_everywhere(screen: WindowScreen, eye: XClient) -> None:
    wrong = {}
    for code in range(256):
        shown = show(screen, field(grey(code)))
        assert set(shown.pixels) == {grey(code)}
        seen = eye.only_code(0, 0, WIDTH, HEIGHT)
        if seen != grey(code):
            wrong[code] = seen
    assert wrong == {}


def test_random_colours_are_exact_everywhere(screen: WindowScreen, eye: XClient) -> None:
    dice = random.Random(27)
    for _ in range(200):
        code: Code = (dice.randrange(256), dice.randrange(256), dice.randrange(256))
        show(screen, field(code))
        assert eye.only_code(0, 0, WIDTH, HEIGHT) == code


@pytest.mark.parametrize(
    "patch",
    [
        Patch("window", WHITE, area_percent=10.0),
        Patch("window", (200, 10, 3), surround=grey(64), area_percent=18.0),
        Patch("window", WHITE, area_percent=1.0),
        Patch("window", WHITE, area_percent=100.0),
        Patch("checkerboard", WHITE),
        Patch("checkerboard", WHITE, inverse=True),
        Patch("checkerboard", (9, 8, 7), surround=(1, 2, 3), columns=7, rows=9),
        *[
            Patch("spot", WHITE, surround=grey(20), area_percent=1.3, at=(x, y))
            for x in (0.1, 0.3, 1 / 3, 0.5, 0.87)
            for y in (0.1, 0.5, 0.871)
        ],
        Patch("spot", WHITE, area_percent=4.0, at=(0.0, 1.0)),
    ],
    ids=lambda p: f"{p.kind}-{p.area_percent:g}-{p.at[0]:.2f}-{p.at[1]:.2f}-{p.columns}{p.inverse}",
)
def test_geometry_is_exact_to_the_pixel(screen: WindowScreen, eye: XClient, patch: Patch) -> None:
    show(screen, patch)
    seen = eye.grab(0, 0, WIDTH, HEIGHT)
    assert np.argwhere((seen != painted(patch)).any(axis=-1)).tolist() == []


def test_a_ten_percent_window_has_its_area(screen: WindowScreen, eye: XClient) -> None:
    """Side = sqrt(p) of width and height (common practice): 405 x 228 pixels, 10.02 % of 1280 x 720."""
    show(screen, Patch("window", WHITE, area_percent=10.0))
    assert int((eye.grab(0, 0, WIDTH, HEIGHT)[..., 0] == 255).sum()) == 405 * 228


def test_there_is_no_pointer(screen: WindowScreen, eye: XClient) -> None:
    show(screen, field(WHITE))
    assert eye.cursor_alpha() == 0


def test_it_is_black_at_the_start_and_after_a_refusal(x24: XServer, open_window: OpenWindow, eye: XClient) -> None:
    fresh = open_window(x24)
    assert not eye.grab(0, 0, WIDTH, HEIGHT).any()
    show(fresh, field(WHITE))
    with pytest.raises(WrongScreen, match="10 bits can't be shown on a frame buffer of 8"):
        show(fresh, field(grey(1023), bits=10))
    assert not eye.grab(0, 0, WIDTH, HEIGHT).any()
    show(fresh, field((1, 2, 3)))


def test_all_ten_bit_levels_are_exact(x30: XServer, open_window: OpenWindow, connect: Connect) -> None:
    deep, eye = open_window(x30, "primary", 10), connect(x30)
    assert deep.identify().bits == 10
    for code in range(1024):
        shown = show(deep, field((code, 1023 - code, code // 2), bits=10))
        assert set(shown.pixels) == {(code, 1023 - code, code // 2)}
        assert eye.only_code(0, 0, 640, 360) == (code, 1023 - code, code // 2)


def test_eight_bit_codes_land_on_the_nearest_ten_bit_level(
    x30: XServer, open_window: OpenWindow, connect: Connect
) -> None:
    deep, eye = open_window(x30, "primary", 10), connect(x30)
    for code in range(0, 256, 3):
        show(deep, field(grey(code)))
        assert eye.only_code(0, 0, 640, 360) == grey(round(code * 1023 / 255))


@pytest.mark.parametrize(("server", "bits", "has"), [("x24", 10, 8), ("x30", 8, 10)])
def test_a_depth_that_the_screen_lacks_is_refused(
    request: pytest.FixtureRequest, open_window: OpenWindow, server: str, bits: int, has: int
) -> None:
    sentence = f"no {bits}-{bits}-{bits} colour format .its frame buffer has {has} bits"
    with pytest.raises(WrongScreen, match=sentence):
        open_window(request.getfixturevalue(server), "primary", bits)


def test_the_back_buffer_is_the_witness_where_the_server_is_none(
    x24: XServer, open_window: OpenWindow, eye: XClient
) -> None:
    buffered = open_window(x24, "primary", 8, "--readback", "buffer")
    assert buffered.identify().readback == "buffer"
    for patch in (field((0, 128, 255)), Patch("checkerboard", WHITE), Patch("window", (3, 2, 1), area_percent=10)):
        show(buffered, patch)
        assert (eye.grab(0, 0, WIDTH, HEIGHT) == painted(patch)).all()
