"""A connection of our own to the X server, through ctypes: places and visibility of windows.

It is not the connection that draws, so what it reads is a second opinion. Signatures after the Xlib
reference, "Xlib - C Language X Interface" (X.Org), sections 2, 10 and 11.
"""

from __future__ import annotations

import ctypes
import os
import sys
from collections.abc import Callable
from ctypes import POINTER, byref, c_char_p, c_int, c_long, c_uint, c_ulong, c_void_p
from typing import Any, NamedTuple

from benchd.errors import ScreenLost, WrongScreen

VISIBILITY_CHANGE_MASK, STRUCTURE_NOTIFY_MASK = 1 << 16, 1 << 17
VISIBILITY_NOTIFY, UNMAP_NOTIFY, MAP_NOTIFY = 15, 18, 19
VISIBILITY_WORDS = ("", "partly covered", "covered")


class Place(NamedTuple):
    """A rectangle on the desktop, pixels, origin top left."""

    x: int
    y: int
    width: int
    height: int

    def __str__(self) -> str:
        return f"{self.width} x {self.height} at {self.x},{self.y}"


class _VisibilityEvent(ctypes.Structure):
    _fields_ = [
        ("type", c_int),
        ("serial", c_ulong),
        ("send_event", c_int),
        ("display", c_void_p),
        ("window", c_ulong),
        ("state", c_int),
    ]


class _Event(ctypes.Union):
    _fields_ = [("type", c_int), ("visibility", _VisibilityEvent), ("pad", c_long * 24)]


_IO_ERROR_HANDLER = ctypes.CFUNCTYPE(c_int, c_void_p)
_ERROR_HANDLER = ctypes.CFUNCTYPE(c_int, c_void_p, c_void_p)
# The callback objects must outlive every call from C.
_kept: list[object] = []


def load_library(file: str, package: str) -> ctypes.CDLL:
    """A system library. Raises `ScreenLost` with the package to install when it is missing."""
    try:
        return ctypes.CDLL(file)
    except OSError:
        raise ScreenLost(f"{file} is missing; install the system package {package}") from None


def _typed_xlib() -> Any:
    xlib = load_library("libX11.so.6", "libx11-6")
    signatures: dict[str, tuple[Any, list[Any]]] = {
        "XOpenDisplay": (c_void_p, [c_char_p]),
        "XCloseDisplay": (c_int, [c_void_p]),
        "XConnectionNumber": (c_int, [c_void_p]),
        "XDisplayString": (c_char_p, [c_void_p]),
        "XDefaultScreen": (c_int, [c_void_p]),
        "XDefaultRootWindow": (c_ulong, [c_void_p]),
        "XDefaultDepth": (c_int, [c_void_p, c_int]),
        "XSync": (c_int, [c_void_p, c_int]),
        "XFlush": (c_int, [c_void_p]),
        "XPending": (c_int, [c_void_p]),
        "XNextEvent": (c_int, [c_void_p, POINTER(_Event)]),
        "XSelectInput": (c_int, [c_void_p, c_ulong, c_long]),
        "XGetGeometry": (c_int, [c_void_p, c_ulong, *[c_void_p] * 7]),
        "XTranslateCoordinates": (c_int, [c_void_p, c_ulong, c_ulong, c_int, c_int, *[c_void_p] * 3]),
        "XMoveResizeWindow": (c_int, [c_void_p, c_ulong, c_int, c_int, c_uint, c_uint]),
        "XQueryExtension": (c_int, [c_void_p, c_char_p, *[POINTER(c_int)] * 3]),
        "XResetScreenSaver": (c_int, [c_void_p]),
        "XSetErrorHandler": (c_void_p, [_ERROR_HANDLER]),
        "XSetIOErrorHandler": (c_void_p, [_IO_ERROR_HANDLER]),
    }
    for name, (result, arguments) in signatures.items():
        function = getattr(xlib, name)
        function.restype, function.argtypes = result, arguments
    return xlib


class XConnection:
    """One connection to one X server. Not for use by two threads."""

    def __init__(self, name: str | None = None, on_lost: Callable[[], None] | None = None) -> None:
        """Connect to ``name`` (None: as in DISPLAY).

        ``on_lost`` is called, once, when the server is gone, for any connection of this process; it must
        not return, since Xlib would then end the process itself. Raises `ScreenLost` and `WrongScreen`.
        """
        self.xlib = _typed_xlib()
        if on_lost is not None:
            lost = on_lost  # a closure over a name that is not optional

            def gone(_display: int) -> int:
                lost()
                return 0

            handler = _IO_ERROR_HANDLER(gone)
            _kept.append(handler)
            self.xlib.XSetIOErrorHandler(handler)
        # Xlib's own handler ends the process at any refused request, such as a grab off the screen.
        quiet = _ERROR_HANDLER(lambda _display, _error: 0)
        _kept.append(quiet)
        self.xlib.XSetErrorHandler(quiet)
        self.display = self.xlib.XOpenDisplay(None if name is None else name.encode())
        if not self.display:
            name = name or os.environ.get("DISPLAY", "")
            where = f"nothing answers at DISPLAY={name}" if name else "DISPLAY is not set"
            raise ScreenLost(f"no display server can be reached ({where}); start one, or set DISPLAY")
        self.name = str(self.xlib.XDisplayString(self.display).decode())
        if self.xlib.XDefaultScreen(self.display) != 0:
            raise WrongScreen(f"DISPLAY={self.name} names a second X screen; name only the server, then the output")
        self.root = int(self.xlib.XDefaultRootWindow(self.display))
        self.depth = int(self.xlib.XDefaultDepth(self.display, 0))
        self.fd = int(self.xlib.XConnectionNumber(self.display))
        self._visibility = ""
        self._mapped = True
        self._was_hidden = ""
        self._of_outputs = range(0)
        self._outputs_changed = True

    @property
    def bits(self) -> int:
        """Bits per channel of the frame buffer. Raises `WrongScreen` for a depth without equal channels."""
        known = {24: 8, 30: 10}
        if self.depth not in known:
            raise WrongScreen(f"the display server has a colour depth of {self.depth}; set it to 24 or 30")
        return known[self.depth]

    def has_extension(self, name: str) -> bool:
        """True when the server has the extension ``name``."""
        unused = [c_int(), c_int(), c_int()]
        return bool(self.xlib.XQueryExtension(self.display, name.encode(), *(byref(u) for u in unused)))

    def place_of(self, window: int) -> Place:
        """Where ``window`` is on the desktop. Raises `ScreenLost` when it is gone."""
        x, y, child = c_int(), c_int(), c_ulong()
        inner = self.place_in_parent(window)
        self.xlib.XTranslateCoordinates(self.display, window, self.root, 0, 0, byref(x), byref(y), byref(child))
        return inner._replace(x=x.value, y=y.value)

    def place_in_parent(self, window: int) -> Place:
        """Where ``window`` is within its parent. Raises `ScreenLost` when it is gone."""
        x, y, root = c_int(), c_int(), c_ulong()
        width, height, border, depth = c_uint(), c_uint(), c_uint(), c_uint()
        out = [byref(item) for item in (root, x, y, width, height, border, depth)]
        if not self.xlib.XGetGeometry(self.display, window, *out):
            raise ScreenLost("the window was closed by another program; resume to open it again")
        return Place(x.value, y.value, width.value, height.value)

    def put(self, window: int, place: Place) -> None:
        """Request the server (or its window manager) to put ``window`` at ``place`` within its parent."""
        self.xlib.XMoveResizeWindow(self.display, window, *place)
        self.xlib.XFlush(self.display)

    def watch(self, window: int) -> None:
        """From now on `covered` is about ``window``. Call it before the window is mapped."""
        self.xlib.XSelectInput(self.display, window, VISIBILITY_CHANGE_MASK | STRUCTURE_NOTIFY_MASK)
        self.xlib.XSync(self.display, 0)

    def watch_outputs(self, events: range) -> None:
        """``events``: the numbers of those about outputs; the caller has selected them at the server."""
        self._of_outputs = events

    def outputs_changed(self) -> bool:
        """True when an output may have changed since the last call, and at the first one.

        What happened before the server's last answer is known by now, since its answers are in order.
        """
        self._hear()
        changed, self._outputs_changed = self._outputs_changed, not self._of_outputs
        return changed

    def covered(self) -> str:
        """How the watched window is hidden, or was since the last call: "" when it was not."""
        self._hear()
        since, self._was_hidden = self._was_hidden, ""
        return self._hidden() or since

    def _hear(self) -> None:
        """Take in every event that has come."""
        event = _Event()
        while self.xlib.XPending(self.display):
            self.xlib.XNextEvent(self.display, byref(event))
            if event.type == VISIBILITY_NOTIFY:
                self._visibility = VISIBILITY_WORDS[event.visibility.state]
            elif event.type in (MAP_NOTIFY, UNMAP_NOTIFY):
                self._mapped = event.type == MAP_NOTIFY
            elif event.type in self._of_outputs:
                self._outputs_changed = True
            self._was_hidden = self._hidden() or self._was_hidden

    def _hidden(self) -> str:
        return self._visibility if self._mapped else "minimised"

    def sync(self) -> None:
        """Wait until the server has answered everything so far."""
        self.xlib.XSync(self.display, 0)

    def close(self) -> None:
        """Let go of the server."""
        if self.display:
            self.xlib.XCloseDisplay(self.display)
            self.display = None


def on_x11() -> bool:
    """True on systems whose windows come from an X server."""
    return sys.platform not in ("darwin", "win32", "cygwin")
