"""A connection of our own to the X server, through ctypes: places and visibility of windows, and pixels.

It is not the connection that draws, so what it reads is a second opinion. Pixels here and there are read in one round
trip however many they are: the server copies them side by side into a small picture of ours, without an answer to each,
and that picture is fetched. Signatures after the Xlib reference, "Xlib - C Language X Interface" (X.Org), sections 2,
5, 7, 8, 10 and 11.
"""

from __future__ import annotations

import ctypes
import os
import struct
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from ctypes import POINTER, byref, c_char_p, c_int, c_long, c_uint, c_ulong, c_void_p
from typing import Any, NamedTuple

from benchd.errors import ScreenDisturbed, ScreenLost, WrongScreen
from benchd.patch.model import Code

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


Signatures = Mapping[str, tuple[Any, Sequence[Any]]]
"""By function: what it gives, and what it takes."""


def load_library(file: str, package: str, signatures: Signatures) -> Any:
    """A system library. Raises `ScreenLost` with the package to install when it is missing."""
    try:
        library = ctypes.CDLL(file)
    except OSError:
        raise ScreenLost(f"{file} is missing; install the system package {package}") from None
    for name, (result, arguments) in signatures.items():
        function = getattr(library, name)
        function.restype, function.argtypes = result, arguments
    return library


class _XImage(ctypes.Structure):
    _fields_ = [
        *((name, c_int) for name in ("width", "height", "xoffset", "format")),
        ("data", c_void_p),
        *((name, c_int) for name in ("byte_order", "bitmap_unit", "bitmap_bit_order", "bitmap_pad")),
        *((name, c_int) for name in ("depth", "bytes_per_line", "bits_per_pixel")),
        *((name, c_ulong) for name in ("red_mask", "green_mask", "blue_mask")),
    ]


_XLIB: Signatures = {
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
    "XCreatePixmap": (c_ulong, [c_void_p, c_ulong, c_uint, c_uint, c_uint]),
    "XCreateGC": (c_void_p, [c_void_p, c_ulong, c_ulong, c_void_p]),
    "XSetSubwindowMode": (c_int, [c_void_p, c_void_p, c_int]),
    "XSetGraphicsExposures": (c_int, [c_void_p, c_void_p, c_int]),
    "XCopyArea": (c_int, [c_void_p, c_ulong, c_ulong, c_void_p, c_int, c_int, c_uint, c_uint, c_int, c_int]),
    "XGetImage": (POINTER(_XImage), [c_void_p, c_ulong, c_int, c_int, c_uint, c_uint, c_ulong, c_int]),
    "XDestroyImage": (c_int, [POINTER(_XImage)]),
}


class XConnection:
    """One connection to one X server. Not for use by two threads."""

    def __init__(self, name: str | None = None, on_lost: Callable[[], None] | None = None) -> None:
        """Connect to ``name`` (None: as in DISPLAY).

        ``on_lost`` is called, once, when the server is gone, for any connection of this process; it must
        not return, since Xlib would then end the process itself. Raises `ScreenLost` and `WrongScreen`.
        """
        self.xlib = load_library("libX11.so.6", "libx11-6", _XLIB)
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
        self._visibility = self._was_hidden = ""
        self._mapped = self._outputs_changed = True
        self.output_events = range(0)
        """The numbers of events about outputs; who sets it has selected them at the server."""

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

    def outputs_changed(self) -> bool:
        """True when an output may have changed since the last call, and at the first one.

        What happened before the server's last answer is known by now, since its answers are in order.
        """
        self._hear()
        changed, self._outputs_changed = self._outputs_changed, not self.output_events
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
            elif event.type in self.output_events:
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


ALL_PLANES = 0xFFFFFFFF
Z_PIXMAP = 2
INCLUDE_INFERIORS = 1
AT_ONCE = 256
"""Pixels; the width of the small picture."""

Point = tuple[int, int]


class X11Pixels:
    """What is on the root window of ``server``, all windows included."""

    def __init__(self, server: XConnection) -> None:
        """Raises `WrongScreen` when pixels are stored in a way that is not known here."""
        self._server, self._xlib = server, server.xlib
        display, root = server.display, server.root
        self._picture = self._xlib.XCreatePixmap(display, root, AT_ONCE, 1, server.depth)
        self._copier = self._xlib.XCreateGC(display, root, 0, None)
        self._xlib.XSetSubwindowMode(display, self._copier, INCLUDE_INFERIORS)
        self._xlib.XSetGraphicsExposures(display, self._copier, 0)  # or each copy would be answered by an event
        # Only a window's picture shows which bits are whose.
        self._order, masks, _ = self._fetch(root, 1)
        self._channels = tuple((mask, (mask & -mask).bit_length() - 1) for mask in masks)

    def at(self, points: Sequence[Point]) -> tuple[Code, ...]:
        """The codes at ``points`` of the desktop, in the server's own bits.

        Raises `ScreenDisturbed` when a point is not on the desktop, where a copy would leave an old pixel.
        """
        _, _, width, height = self._server.place_in_parent(self._server.root)
        for x, y in points:
            if not (0 <= x < width and 0 <= y < height):
                raise ScreenDisturbed(f"pixel {x},{y} is not on the desktop any more; put the screen back and resume")
        rows = (points[first : first + AT_ONCE] for first in range(0, len(points), AT_ONCE))
        return tuple(code for row in rows for code in self._copied(row))

    def _copied(self, points: Sequence[Point]) -> Iterator[Code]:
        copy, display, root = self._xlib.XCopyArea, self._server.display, self._server.root
        for column, (x, y) in enumerate(points):
            copy(display, root, self._picture, self._copier, x, y, 1, 1, column, 0)
        _, _, raw = self._fetch(self._picture, len(points))
        (red, red_shift), (green, green_shift), (blue, blue_shift) = self._channels
        for value in struct.unpack(f"{self._order}{len(points)}I", raw):
            yield (value & red) >> red_shift, (value & green) >> green_shift, (value & blue) >> blue_shift

    def _fetch(self, drawable: int, width: int) -> tuple[str, tuple[int, int, int], bytes]:
        """Byte order, channel masks and bytes of the first ``width`` pixels."""
        image = self._xlib.XGetImage(self._server.display, drawable, 0, 0, width, 1, ALL_PLANES, Z_PIXMAP)
        if not image:
            raise ScreenLost("the display server gives no pixels; look at it and resume")
        try:
            head = image.contents
            if head.bits_per_pixel != 32:
                raise WrongScreen(f"the display server stores {head.bits_per_pixel} bits a pixel; set depth 24 or 30")
            masks = (int(head.red_mask), int(head.green_mask), int(head.blue_mask))
            return ">" if head.byte_order else "<", masks, ctypes.string_at(head.data, 4 * width)
        finally:
            self._xlib.XDestroyImage(image)
