"""What surrounds the window: the chosen output, what is on it now, who disturbs it, and what would blank it.

`X11Desktop` checks independently: it queries the X server on a connection of its own. Blanking is suspended after the
MIT-SCREEN-SAVER extension 1.1.
"""

from __future__ import annotations

import ctypes
from collections.abc import Callable, Sequence
from contextlib import closing
from ctypes import byref, c_int, c_void_p
from dataclasses import dataclass
from typing import Any, Protocol

from benchd.clock import Deadline
from benchd.errors import ScreenDisturbed, ScreenLost, WrongScreen
from benchd.patch.model import Code
from benchd.patch.randr import Output, Outputs, ramp_word
from benchd.patch.screen import ScreenIdentity
from benchd.patch.x11 import Place, X11Pixels, XConnection

RESET_EVERY_S = 20.0
"""Shorter than any sensible blanking time."""


def saver_library() -> Any:
    """The library of the extension, or None where it is not installed."""
    try:
        return ctypes.CDLL("libXss.so.1")
    except OSError:
        return None


class Awake:
    """Suspends blanking and power saving as long as the connection lives; where it can't, resets the timer."""

    def __init__(self, server: XConnection, library: Any, reset_every_s: float = RESET_EVERY_S) -> None:
        """``library`` as `saver_library` gives it."""
        self._server, self._every_s = server, reset_every_s
        self._suspended = library is not None and _suspend(server, library)
        self._next = Deadline.after(0.0)
        self.how = (
            "the display server's blanking is suspended"
            if self._suspended
            else f"the display server's blanking timer is reset every {reset_every_s:g} s "
            "(libXss.so.1 or its extension is missing: package libxss1)"
        )
        self.tick()

    def tick(self) -> None:
        """Call it a few times in ``reset_every_s``."""
        if not self._suspended and self._next.passed:
            self._server.xlib.XResetScreenSaver(self._server.display)
            self._server.xlib.XFlush(self._server.display)
            self._next = Deadline.after(self._every_s)


def _suspend(server: XConnection, library: Any) -> bool:
    library.XScreenSaverQueryExtension.argtypes = [c_void_p, c_void_p, c_void_p]
    library.XScreenSaverSuspend.argtypes = [c_void_p, c_int]
    library.XScreenSaverSuspend.restype = None
    base, error = c_int(), c_int()
    if not library.XScreenSaverQueryExtension(server.display, byref(base), byref(error)):
        return False
    # A screen that is blank already stays so when blanking is suspended: wake it first.
    server.xlib.XResetScreenSaver(server.display)
    library.XScreenSaverSuspend(server.display, 1)
    server.sync()
    return True


PUMP_EVERY_S = 1.0


@dataclass(frozen=True, slots=True)
class Target:
    """The output that the window must cover."""

    name: str
    place: Place


class Desktop(Protocol):
    """The window's surroundings."""

    target: Target
    awake: str
    bits: int | None  # per channel of the frame buffer; None where the system does not report it
    refresh_hz: float  # pictures a second; 0: not known
    pixel_sized: bool  # the target's place is in pixels of the frame buffer, not in points

    def watch(self, windows: Sequence[int]) -> None:
        """Look after these windows, outermost first, before they are mapped."""

    def disturbance(self) -> str:
        """How the window is covered, or was since the last call, "" when it was not; takes all events of the system."""

    def verify(self) -> Place:
        """The window's place, which is the target's.

        Raises `WrongScreen` when the output changed, `ScreenDisturbed` when the window or the ramp did.
        """

    def pixels(self, points: Sequence[tuple[int, int]]) -> tuple[Code, ...] | None:
        """The codes on the screen at ``points`` of the window; None where the system can't read them."""

    def gamma_ramp(self) -> str:
        """ "identity", "changed" or "unknown"."""

    def waits_on(self) -> tuple[Sequence[int], float]:
        """Descriptors of the system's events, and after how many seconds to query anyhow."""


class X11Desktop:
    """One output of an X server."""

    pixel_sized = True

    def __init__(self, monitor: str, on_lost: Callable[[], None]) -> None:
        """Raises `ScreenLost` without a server and `WrongScreen` without that output."""
        self.server = XConnection(on_lost=on_lost)
        self._outputs = Outputs(self.server)
        self.bits: int | None = self.server.bits
        if (output := self._outputs.find(monitor, probe=True)) is None:
            names = ", ".join(o.name for o in self._outputs.all(probe=True)) or "none"
            raise WrongScreen(f"there is no screen {monitor!r} that is switched on; there is: {names}")
        if output.scaled:
            width, height = output.mode
            raise WrongScreen(
                f"the display server resamples screen {output.name!r} ({output.place.width} x "
                f"{output.place.height} to {width} x {height}); set its scale to 1"
            )
        self.target, self.refresh_hz = Target(output.name, output.place), output.refresh_hz
        self._output: Output | None = output
        self._ramp = self._outputs.ramp(output)
        self._windows: Sequence[int] = ()
        self._awake = Awake(self.server, saver_library())
        self.awake = self._awake.how
        # Under a rootless server inside another display system the root window has no pixels of its own.
        rootless = self.server.has_extension("XWAYLAND") or output.name.startswith("XWAYLAND")
        self._pixels = None if rootless else X11Pixels(self.server)

    def watch(self, windows: Sequence[int]) -> None:
        if not windows:
            raise ScreenLost("the window library does not expose its X windows; install pyglet 2.1")
        self._windows = windows
        self.server.watch(windows[0])

    def disturbance(self) -> str:
        self._awake.tick()
        return self.server.covered()

    def verify(self) -> Place:
        self._verify_output()
        target = self.target.place
        outer, *inner = self._windows
        place = self.server.place_of(outer)
        fills = all(self.server.place_in_parent(window) == target._replace(x=0, y=0) for window in inner)
        if place != target or not fills:
            self._restore()
            raise ScreenDisturbed(
                f"the window is {place} where {target} belongs; something moved or resized it, "
                "and it was put back: keep other programs and window keys away from it"
            )
        return place

    def _verify_output(self) -> None:
        name = self.target.name
        ramp = self._outputs.ramp(self._output) if self._output else ()
        if self.server.outputs_changed() or self._output is None:
            self._output = self._outputs.find(name)
            ramp = self._outputs.ramp(self._output) if self._output else ()
        if (output := self._output) is None:
            raise WrongScreen(f"screen {name!r} was switched off or unplugged; switch it on and resume")
        if output.place != self.target.place or output.scaled:
            raise WrongScreen(
                f"screen {name!r} is now {output.place}, and the window was opened for {self.target.place}; "
                "set the screen back and resume"
            )
        if ramp != self._ramp:
            raise ScreenDisturbed(
                f"the gamma ramp of screen {name!r} changed since the window was opened; "
                "switch off what changes it (night light, colour loader) and resume"
            )

    def _restore(self) -> None:
        outer, *inner = self._windows
        self.server.put(outer, self.target.place)
        for window in inner:
            self.server.put(window, self.target.place._replace(x=0, y=0))

    def pixels(self, points: Sequence[tuple[int, int]]) -> tuple[Code, ...] | None:
        if self._pixels is None:
            return None
        left, top, _, _ = self.target.place
        return self._pixels.at([(left + x, top + y) for x, y in points])

    def gamma_ramp(self) -> str:
        return ramp_word(self._outputs.ramp(self._output) if self._output else ())

    def waits_on(self) -> tuple[Sequence[int], float]:
        return (self.server.fd,), PUMP_EVERY_S


def list_x11_screens() -> tuple[ScreenIdentity, ...]:
    """Every output that is switched on. Raises `ScreenLost` without a server."""
    with closing(XConnection()) as server:
        outputs = Outputs(server)
        return tuple(
            ScreenIdentity(
                name=output.name,
                **output.place._asdict(),
                bits=server.bits,
                readback="screen",
                renderer="not requested",
                awake="not requested",
                simulated=False,
                gamma_ramp=ramp_word(outputs.ramp(output)),
                refresh_hz=output.refresh_hz,
            )
            for output in outputs.all(probe=True)
        )
