"""The sequencer's view of a screen: show a patch, and verify that it is there.

A patch counts as shown only when the size, the screen and the pixels that were read back are the ones
asked for; `check_shown` is that decision, in one place for the real window and the simulated one.

`PromptScreen` is set by the operator, each patch on a prompt, on a pattern source of their own: for signals that no
window of this computer can emit. What is really on the screen is not checked: nothing is read back, and the log states
it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Protocol

from benchd.clock import Deadline, real_now_s
from benchd.errors import PixelMismatch, WrongScreen
from benchd.patch.model import Code, Patch, Rect, max_code


@dataclass(frozen=True, slots=True)
class ScreenIdentity:
    """Which screen: compared at the start and at every resume; a log holds one screen only."""

    name: str  # the output's name as the system gives it, such as "HDMI-1"
    width: int  # frame buffer, pixels
    height: int
    x: int  # place of the top left corner on the desktop, pixels
    y: int
    bits: int  # bits per channel of the frame buffer
    readback: str  # "screen" (pixels taken from the display server), "buffer" or "none"
    renderer: str  # who draws, for the log
    awake: str  # how the screen is kept awake, or why it can't be
    simulated: bool
    gamma_ramp: str = "unknown"  # "identity", "changed" or "unknown": the display server's own ramp
    signal: str = "sdr"  # what goes over the cable: "sdr", "pq" or "hlg"
    signal_by: str = "a window requests nothing but SDR"  # how that is known
    refresh_hz: float = 0.0  # pictures a second, from the timing of the mode; 0: not known

    def same_place(self, other: ScreenIdentity) -> bool:
        """True when both are the same output at the same place, size, depth and signal."""
        mine = (self.name, self.width, self.height, self.x, self.y, self.bits, self.signal)
        return mine == (other.name, other.width, other.height, other.x, other.y, other.bits, other.signal)


@dataclass(frozen=True, slots=True)
class Shown:
    """What was read back after a patch was drawn."""

    width: int
    height: int
    screen: str
    bits: int
    readback: str
    probes: tuple[tuple[int, int], ...] = ()
    pixels: tuple[Code, ...] = ()  # one for each probe, in the frame buffer's own bits
    elapsed_s: float = 0.0


class Screen(Protocol):
    """Three methods. ``show`` raises a `ScreenError`; ``close`` leaves the screen black."""

    def identify(self) -> ScreenIdentity:
        """Which screen this is."""

    def show(self, patch: Patch, deadline: Deadline) -> Shown:
        """Draw ``patch``, read it back, and return what was read once it is right.

        Showing the same patch again, after the readings, also shows whether it stayed undisturbed.
        """

    def close(self) -> None:
        """Show black and let go."""


def probes_for(rects: tuple[Rect, ...]) -> tuple[tuple[int, int], ...]:
    """The pixels to read back, each once: of every rectangle the centre, the corners, and the neighbours
    beyond two corners, so that a rectangle one pixel too large is noticed like one too small.
    """
    screen = rects[0]
    points: dict[tuple[int, int], None] = {}
    for rect in rects:
        right, bottom = rect.x + rect.width - 1, rect.y + rect.height - 1
        points[(rect.x + rect.width // 2, rect.y + rect.height // 2)] = None
        corners = [(x, y) for x in (rect.x, right) for y in (rect.y, bottom)]
        beyond = [(rect.x - 1, rect.y), (rect.x, rect.y - 1), (right + 1, bottom), (right, bottom + 1)]
        for x, y in (*corners, *beyond):
            if 0 <= x < screen.width and 0 <= y < screen.height:
                points[(x, y)] = None
    return tuple(points)


def scaled_code(code: Code, bits: int, buffer_bits: int) -> Code:
    """``code`` of ``bits`` bits as it lands in a frame buffer of ``buffer_bits`` bits (rounded half up)."""
    if bits == buffer_bits:
        return code
    top, buffer_top = max_code(bits), max_code(buffer_bits)
    red, green, blue = (int(value * buffer_top / top + 0.5) for value in code)
    return (red, green, blue)


def check_shown(patch: Patch, identity: ScreenIdentity, shown: Shown) -> None:
    """Decide whether ``patch`` is on the screen.

    Raises `WrongScreen` for another size, output or depth and `PixelMismatch` for a wrong pixel.
    """
    size, wanted = (shown.width, shown.height), (identity.width, identity.height)
    if size != wanted:
        raise WrongScreen(
            f"the window has {size[0]} x {size[1]} pixels, but the run began with {wanted[0]} x {wanted[1]}; "
            "put the screen back to that resolution and resume"
        )
    if shown.screen != identity.name:
        raise WrongScreen(
            f"the window is on screen {shown.screen!r}, but the run began on {identity.name!r}; "
            "connect that screen again and resume"
        )
    if shown.bits != identity.bits:
        raise WrongScreen(
            f"the frame buffer has {shown.bits} bits a channel, but the run began with {identity.bits}; "
            "set the screen's colour format back and resume"
        )
    if shown.bits < patch.bits:
        raise WrongScreen(
            f"codes of {patch.bits} bits can't be shown on a frame buffer of {shown.bits} bits; "
            f"set bits: {shown.bits} in the plan, or set the screen to a deeper colour format"
        )
    if identity.readback == "none":
        return
    rects = patch.rectangles(shown.width, shown.height)
    for (x, y), got in zip(shown.probes, shown.pixels, strict=True):
        owner = next(r for r in reversed(rects) if r.x <= x < r.x + r.width and r.y <= y < r.y + r.height)
        wanted_code = scaled_code(owner.code, patch.bits, shown.bits)
        if got != wanted_code:
            raise PixelMismatch(
                f"pixel {x},{y} reads {got} where {wanted_code} was sent; something covers the window "
                "or changes its colours (night light, colour management); remove it and resume"
            )


class PromptScreen:
    """A manual `Screen`. ``ask`` prompts the operator and returns when it is done, or raises."""

    def __init__(self, source: str, size: str, bits: int, signal: str, ask: Callable[[str], None]) -> None:
        """``source``: what it is, for the log; ``size``: its pixels, such as 3840x2160."""
        width, height = (int(side) for side in size.split("x"))
        self._source, self._ask = source, ask
        self._shown: Patch | None = None
        self._identity = ScreenIdentity(
            name=source,
            width=width,
            height=height,
            x=0,
            y=0,
            bits=bits,
            readback="none",
            renderer="a person, on a source of their own",
            awake="the person's care",
            simulated=False,
            signal=signal,
            signal_by="declared by the operator in the bench",
        )

    def identify(self) -> ScreenIdentity:
        return self._identity

    def show(self, patch: Patch, deadline: Deadline) -> Shown:
        """Prompt for ``patch``, unless it is what was requested last: that it stays is up to the operator.

        Raises what ``ask`` raises without an operator, and `WrongScreen` for codes too deep for the source.
        """
        began_s = real_now_s()
        own = self._identity
        shown = Shown(own.width, own.height, own.name, own.bits, "none")
        check_shown(patch, own, shown)
        if patch != self._shown:
            self._shown = None
            self._ask(f"Set {self._source} to: {words_for(patch, own.width, own.height)}")
            self._shown = patch
        return replace(shown, elapsed_s=real_now_s() - began_s)

    def close(self) -> None:
        """Nothing of ours is on the screen; the last requested patch is black."""


def words_for(patch: Patch, width: int, height: int) -> str:
    """A patch in words that a person can set: codes, depth, signal, and pixels where a part of the screen is meant."""
    depth = f"{patch.bits}-bit {patch.transfer.upper()} codes"
    rects = patch.rectangles(width, height)
    if patch.kind == "field":
        return f"full screen {_code(patch.code)} ({depth})"
    if patch.kind == "checkerboard":
        first, second = (patch.surround, patch.code) if patch.inverse else (patch.code, patch.surround)
        cells = f"checkerboard of {patch.columns} x {patch.rows}"
        return f"{cells}, top left {_code(first)}, beside it {_code(second)} ({depth})"
    inner = rects[-1]
    where = f"{inner.width} x {inner.height} pixels at {inner.x}, {inner.y}"
    return f"a window of {patch.area_percent:g} % ({where}), {_code(patch.code)} on {_code(patch.surround)} ({depth})"


def _code(code: Code) -> str:
    return f"code {code[0]}" if len(set(code)) == 1 else "codes " + "/".join(str(channel) for channel in code)
