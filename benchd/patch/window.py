"""The window process: full screen on one output, integer rectangles, read back. The only importer of pyglet.

    python -m benchd.patch.window --monitor primary --bits 8     then questions on stdin (window_protocol.py)
    python -m benchd.patch.window --list                         the screens, as one JSON list

Black at the start, on every error and at the end.
"""

from __future__ import annotations

import argparse
import ctypes
import os
import select
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from benchd.clock import Deadline
from benchd.errors import ScreenDisturbed, ScreenError, ScreenLost, WrongScreen
from benchd.patch.desktop import Desktop, Target, X11Desktop, list_x11_screens
from benchd.patch.model import BLACK, Code, Rect, max_code
from benchd.patch.screen import ScreenIdentity, Shown, scaled_code
from benchd.patch.window_loop import EXIT_DISPLAY_LOST, Answers, leave_with_parent, refuse, serve
from benchd.patch.window_protocol import ShowRequest
from benchd.patch.x11 import Place, on_x11

CAPTION = "benchd patch"
OPENS_WITHIN_S = 5.0
APPEARS_WITHIN_S = 0.3
"""A compositor may show a frame a few refreshes late; after that, wrong pixels are wrong pixels."""
LOOK_AGAIN_S = 0.004
DRIVER_HINT = "look after the graphics driver (OpenGL 3.3; packages libgl1 and libgl1-mesa-dri)"


class PlainDesktop:
    """Surroundings on systems without an X server: geometry from the window library, no independent check."""

    bits: int | None = None
    pixel_sized = False
    refresh_hz = 0.0
    awake = "not kept awake on this system: switch blanking and power saving off manually"

    def __init__(self, monitor: str) -> None:
        """Raises `WrongScreen` without that output."""
        import pyglet.display

        screens = _plain_screens()
        default = pyglet.display.get_display().get_default_screen()
        first = (default.x, default.y)
        name = next((n for n, place in screens.items() if place[:2] == first), "") if monitor == "primary" else monitor
        if name not in screens:
            raise WrongScreen(f"there is no screen {monitor!r}; there is: {', '.join(screens) or 'none'}")
        self.target = Target(name, screens[name])

    def watch(self, windows: Sequence[int]) -> None:
        pass

    def disturbance(self) -> str:
        return ""

    def verify(self) -> Place:
        if _plain_screens().get(self.target.name) != self.target.place:
            raise WrongScreen(f"screen {self.target.name!r} was removed or changed; set it back and resume")
        return self.target.place

    def pixels(self, points: Sequence[tuple[int, int]]) -> tuple[Code, ...] | None:
        return None

    def gamma_ramp(self) -> str:
        return "unknown"

    def waits_on(self) -> tuple[Sequence[int], float]:
        return (), 0.03


def list_plain_screens() -> tuple[ScreenIdentity, ...]:
    """Every screen of a system without an X server."""
    return tuple(
        ScreenIdentity(
            name=name,
            width=place.width,
            height=place.height,
            x=place.x,
            y=place.y,
            bits=8,
            readback="buffer",
            renderer="not requested",
            awake="not requested",
            simulated=False,
        )
        for name, place in _plain_screens().items()
    )


def _plain_screens() -> dict[str, Place]:
    import pyglet.display

    found: dict[str, Place] = {}
    for screen in pyglet.display.get_display().get_screens():
        name = str(screen.get_monitor_name())
        while name in found:  # two monitors of one kind
            name += "'"
        found[name] = Place(screen.x, screen.y, screen.width, screen.height)
    return found


class PatchWindow:
    """A `Surface`: the pyglet window on its desktop."""

    def __init__(self, desktop: Desktop, bits: int, look: str) -> None:
        """``look``: "auto" (the display server's pixels where they can be had) or "buffer".

        Raises `WrongScreen` when the screen has no such colour format or can't be covered.
        """
        import pyglet

        # No hidden helper window (it costs 50 ms), and pixels are pixels whatever the desktop's scale.
        pyglet.options.shadow_window = False
        pyglet.options.debug_gl = False
        pyglet.options.dpi_scaling = "real"
        import pyglet.gl
        import pyglet.window

        self._gl: Any = pyglet.gl
        self._desktop, self._bits = desktop, bits
        screen = self._matching_screen(pyglet.display.get_display())
        self._window = pyglet.window.Window(
            # A size together with fullscreen would switch the output's mode, and not back again.
            fullscreen=True,
            screen=screen,
            config=self._exact_config(screen, bits),
            visible=False,
            vsync=False,  # nothing moves: a wait for the next refresh would only add to every step
            caption=CAPTION,
        )
        self._window.push_handlers(on_expose=self._paint)
        self._window.set_mouse_visible(False)
        self._painted: tuple[Rect, ...] = ()
        self._wanted: tuple[Code, ...] = ()  # of what was painted, at the probes
        self._request: ShowRequest | None = None
        self._noticed = ""
        self._prepare()
        desktop.watch(self._handles())
        self._window.set_visible(True)
        self.black()
        self._wait_until_placed()
        self._from_buffer = look == "buffer" or desktop.pixels([(0, 0)]) is None
        self._renderer = _text(self._gl.glGetString(self._gl.GL_RENDERER))

    def _matching_screen(self, display: Any) -> Any:
        target = self._desktop.target.place
        for screen in display.get_screens():
            if (screen.x, screen.y, screen.width, screen.height) == tuple(target):
                return screen
        raise WrongScreen(f"the window library does not see screen {self._desktop.target.name!r}")

    def _exact_config(self, screen: Any, bits: int) -> Any:
        name = self._desktop.target.name
        if not screen.get_matching_configs(self._gl.Config(double_buffer=True)):
            raise ScreenLost(f"screen {name!r} offers no OpenGL; {DRIVER_HINT}")
        wanted = self._gl.Config(
            red_size=bits, green_size=bits, blue_size=bits, double_buffer=True,
            sample_buffers=0, samples=0, major_version=3, minor_version=3,
        )  # fmt: skip
        has = self._desktop.bits
        for config in screen.get_matching_configs(wanted):
            sizes = {config.red_size, config.green_size, config.blue_size}
            # A visual deeper than the root has an alpha channel that a compositor would blend with.
            plain = has is None or config.get_visual_info().depth == 3 * has
            if sizes == {bits} and not config.sample_buffers and plain:
                return config
        raise WrongScreen(
            f"screen {name!r} has no {bits}-{bits}-{bits} colour format"
            + (f" (its frame buffer has {has} bits a channel)" if has else "")
            + "; name another bits: in the bench, or set the screen's colour format"
        )

    def _prepare(self) -> None:
        gl = self._gl
        gl.glDisable(gl.GL_DITHER)
        gl.glDisable(gl.GL_BLEND)
        gl.glDisable(gl.GL_FRAMEBUFFER_SRGB)
        if gl.glIsEnabled(gl.GL_FRAMEBUFFER_SRGB) or gl.glIsEnabled(gl.GL_DITHER):
            raise WrongScreen("the graphics driver keeps encoding or dithering switched on; use another driver")
        gl.glEnable(gl.GL_SCISSOR_TEST)

    def _handles(self) -> tuple[int, ...]:
        """The X windows, outermost first: pyglet draws into a child of the one that the system manages."""
        names = ("_window", "_view")
        return tuple(int(getattr(self._window, name)) for name in names if hasattr(self._window, name))

    def _wait_until_placed(self) -> None:
        deadline = Deadline.after(OPENS_WITHIN_S)
        while True:
            self.pump()
            try:
                self._desktop.verify()
            except ScreenDisturbed as error:
                if deadline.passed:
                    raise WrongScreen(f"the window can't be put on the whole screen: {error}") from error
                select.select([], [], [], LOOK_AGAIN_S)
            else:
                return

    def identify(self) -> ScreenIdentity:
        place = self._desktop.target.place
        width, height = self._size()
        return ScreenIdentity(
            name=self._desktop.target.name,
            width=width,
            height=height,
            x=place.x,
            y=place.y,
            bits=self._bits,
            readback="buffer" if self._from_buffer else "screen",
            renderer=self._renderer,
            awake=self._desktop.awake,
            simulated=False,
            gamma_ramp=self._desktop.gamma_ramp(),
            refresh_hz=self._desktop.refresh_hz,
        )

    def show(self, request: ShowRequest) -> Shown:
        if request.bits > self._bits:
            raise WrongScreen(
                f"codes of {request.bits} bits can't be shown on a frame buffer of {self._bits} bits; "
                f"set bits: {self._bits} in the plan, or open the screen with more"
            )
        self.pump()
        # For a patch that is shown already the question is whether it stayed; painting would hide what is to be found.
        again = request == self._request
        since = self._noticed if again else ""
        self._noticed = ""
        buffer: tuple[Code, ...] = ()
        if not again or self._from_buffer:
            self._request = request
            self._painted = tuple(
                rect._replace(code=scaled_code(rect.code, request.bits, self._bits)) for rect in request.rects
            )
            self._wanted = tuple(self._painted_code(x, y) for x, y in request.probes)
            buffer = self._paint(request.probes if self._from_buffer else ())
        self.pump()
        self._desktop.verify()
        if self._noticed:
            raise ScreenDisturbed(f"the window is {self._noticed} by something; clear the screen and resume")
        if since:
            raise ScreenDisturbed(f"the window was {since} while the patch was shown; keep it clear and resume")
        if self._from_buffer:
            pixels = buffer
        else:
            pixels = self._look_at_screen(request.probes, 0.0 if again else APPEARS_WITHIN_S)
        if pixels != self._wanted:
            if again:
                raise ScreenDisturbed("the picture changed while the patch was shown; keep the screen clear and resume")
            self.black()  # the daemon will call it an error, and an error is black
        width, height = self._size()
        return Shown(
            width=width,
            height=height,
            screen=self._desktop.target.name,
            bits=self._bits,
            readback="buffer" if self._from_buffer else "screen",
            pixels=pixels,
        )

    def black(self) -> None:
        width, height = self._size()
        self._painted, self._request = (Rect(0, 0, width, height, BLACK),), None
        self._paint()

    def pump(self) -> str:
        self._window.dispatch_events()
        if now := self._desktop.disturbance():
            self._noticed = now
        return "the operator closed the window; resume to open it again" if self._window.has_exit else ""

    def close(self) -> None:
        """Let the window system take the window away."""
        self._window.close()

    def waits_on(self) -> tuple[Sequence[int], float]:
        descriptors, pause_s = self._desktop.waits_on()
        own = getattr(self._window.display, "fileno", None)
        return (*descriptors, *([own()] if own else [])), pause_s

    def _size(self) -> tuple[int, int]:
        """The frame buffer's, pixels."""
        if self._desktop.pixel_sized:
            # As verified. The window library keeps the size of the moment when the window appeared,
            # which under a window manager may be another one.
            return self._desktop.target.place[2:]
        width, height = self._window.get_framebuffer_size()
        return int(width), int(height)

    def _paint(self, probes: tuple[tuple[int, int], ...] = ()) -> tuple[Code, ...]:
        """Paint and flip; the codes at ``probes``, read from the back buffer before the flip."""
        gl, top = self._gl, max_code(self._bits)
        self._window.switch_to()
        width, height = self._size()
        # Makes the driver query the drawable's size, which may have been changed and put back.
        gl.glViewport(0, 0, width, height)
        for x, y, w, h, (red, green, blue) in self._painted:
            gl.glScissor(x, height - y - h, w, h)  # GL counts from the bottom
            gl.glClearColor(red / top, green / top, blue / top, 1.0)
            gl.glClear(gl.GL_COLOR_BUFFER_BIT)
        read = tuple(self._buffer_code(x, height - 1 - y) for x, y in probes)
        self._window.flip()
        gl.glFinish()
        return read

    def _buffer_code(self, x: int, y: int) -> Code:
        gl = self._gl
        gl.glReadBuffer(gl.GL_BACK)
        pixel = (gl.GLushort * 4)()
        gl.glReadPixels(x, y, 1, 1, gl.GL_RGBA, gl.GL_UNSIGNED_SHORT, pixel)
        red, green, blue = (scaled_code((v, v, v), 16, self._bits)[0] for v in pixel[:3])
        return (red, green, blue)

    def _look_at_screen(self, probes: tuple[tuple[int, int], ...], within_s: float) -> tuple[Code, ...]:
        """The screen's pixels once they are the painted ones, or as they are after ``within_s``."""
        deadline = Deadline.after(within_s)
        while True:
            last = deadline.passed  # queried before: after a stall, what was seen before it is void
            seen = self._desktop.pixels(probes)
            if seen is None or seen == self._wanted or last:
                return seen or ()
            select.select([], [], [], LOOK_AGAIN_S)

    def _painted_code(self, x: int, y: int) -> Code:
        inside = (r.code for r in reversed(self._painted) if r.x <= x < r.x + r.width and r.y <= y < r.y + r.height)
        return next(inside, BLACK)


def _text(pointer: Any) -> str:
    return (ctypes.cast(pointer, ctypes.c_char_p).value or b"unknown").decode("utf-8", "replace")


def open_window(monitor: str, bits: int, look: str, answers: Answers) -> PatchWindow:
    """The window, black and in its place. Raises a `ScreenError`."""

    def on_lost() -> None:
        name = os.environ.get("DISPLAY", "")
        answers.send({"event": "display_lost", "text": f"the display server {name} went away or cut the connection"})
        os._exit(EXIT_DISPLAY_LOST)

    desktop: Desktop = X11Desktop(monitor, on_lost) if on_x11() else PlainDesktop(monitor)
    try:
        return PatchWindow(desktop, bits, look)
    except ScreenError:
        raise
    except Exception as error:
        # The window library has many errors of its own, and every one of them means: no window here.
        what = f"{type(error).__name__}: {error}"
        raise ScreenLost(
            f"no window can be opened on screen {desktop.target.name!r} ({what}); {DRIVER_HINT}"
        ) from error


def list_screens() -> int:
    """Print the screens as one JSON list, or why there are none, and return the exit code."""
    answers = Answers()
    try:
        screens = list_x11_screens() if on_x11() else list_plain_screens()
    except ScreenError as error:
        answers.send({"error": str(error)})
        return 1
    answers.send({"screens": [asdict(screen) for screen in screens]})
    return 0


def main(arguments: Sequence[str] | None = None) -> int:
    """The process. Returns its exit code."""
    parser = argparse.ArgumentParser(prog="benchd.patch.window", description=__doc__)
    parser.add_argument("--monitor", default="primary", help="an output's name, or primary")
    parser.add_argument("--bits", type=int, choices=(8, 10), default=8, help="bits a channel of the frame buffer")
    parser.add_argument("--readback", choices=("auto", "buffer"), default="auto", help="where pixels are read back")
    parser.add_argument("--list", action="store_true", help="print the screens and end")
    chosen = parser.parse_args(arguments)
    if chosen.list:
        return list_screens()
    leave_with_parent()
    answers = Answers()
    try:
        try:
            window = open_window(chosen.monitor, chosen.bits, chosen.readback, answers)
        except ScreenError as error:
            return refuse(error, 0, answers)
        code = serve(window, 0, answers)
        window.close()
        return code
    except BrokenPipeError:
        return 0


if __name__ == "__main__":
    raise SystemExit(main())
