"""Keeps an X server from blanking the screen while patches are shown. After the MIT-SCREEN-SAVER extension 1.1."""

from __future__ import annotations

import ctypes
from ctypes import byref, c_int, c_void_p
from typing import Any

from benchd.clock import Deadline
from benchd.patch.x11 import XConnection

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
