"""What surrounds the window: the chosen output, what is on it now, and who disturbs it.

`X11Desktop` checks independently: it queries the X server on a connection of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

from benchd.errors import ScreenDisturbed, ScreenLost, WrongScreen
from benchd.patch.awake import Awake, saver_library
from benchd.patch.model import Code
from benchd.patch.randr import Output, Outputs, ramp_word
from benchd.patch.screen import ScreenIdentity
from benchd.patch.x11 import Place, XConnection
from benchd.patch.x11_pixels import X11Pixels

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
        output = self._outputs.find(monitor, probe=True)
        if output is None:
            names = ", ".join(o.name for o in self._outputs.all(probe=True)) or "none"
            raise WrongScreen(f"there is no screen {monitor!r} that is switched on; there is: {names}")
        if output.scaled:
            width, height = output.mode
            raise WrongScreen(
                f"the display server resamples screen {output.name!r} ({output.place.width} x "
                f"{output.place.height} to {width} x {height}); set its scale to 1"
            )
        self.target = Target(output.name, output.place)
        self._output: Output | None = output
        self.refresh_hz = output.refresh_hz
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
        output = self._output
        if output is None:
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
    server = XConnection()
    try:
        outputs = Outputs(server)
        return tuple(_listed(output, server, outputs) for output in outputs.all(probe=True))
    finally:
        server.close()


def _listed(output: Output, server: XConnection, outputs: Outputs) -> ScreenIdentity:
    place = output.place
    return ScreenIdentity(
        name=output.name,
        width=place.width,
        height=place.height,
        x=place.x,
        y=place.y,
        bits=server.bits,
        readback="screen",
        renderer="not requested",
        awake="not requested",
        simulated=False,
        gamma_ramp=ramp_word(outputs.ramp(output)),
        refresh_hz=output.refresh_hz,
    )
