"""A screen that the operator sets: each patch is requested by a prompt, on a pattern source of their own.

For signals that no window of this computer can emit. What is really on the screen is not checked: nothing is
read back, and the log states it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from benchd.clock import Deadline, real_now_s
from benchd.patch.model import Code, Patch
from benchd.patch.screen import ScreenIdentity, Shown, check_shown


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
