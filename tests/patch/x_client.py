"""Another client of the X server, in another process than the window: grabs pixels, covers, resizes.

Written apart from the product's own X code, and itself checked against colours that the server fills in.
"""

from __future__ import annotations

import ctypes as c
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.patch.x_server import missing

X = c.c_void_p
MODE_ALL, Z_PIXMAP = 0xFFFFFFFF, 2


class Image(c.Structure):
    """The first members of Xlib's XImage."""

    _fields_ = [
        *[(name, c.c_int) for name in ("width", "height", "xoffset", "format")],
        ("data", X),
        *[(name, c.c_int) for name in ("byte_order", "unit", "bit_order", "pad", "depth", "stride", "bpp")],
        *[(name, c.c_ulong) for name in ("red", "green", "blue")],
    ]


class Color(c.Structure):
    """Xlib's XColor."""

    _fields_ = [
        ("pixel", c.c_ulong),
        *[(name, c.c_ushort) for name in ("red", "green", "blue")],
        ("flags", c.c_char),
        ("pad", c.c_char),
    ]


class XClient:
    """One connection from the test process. The server must be alive whenever it is used."""

    def __init__(self, name: str) -> None:
        self.lib: Any = c.CDLL("libX11.so.6")
        for function in ("XOpenDisplay", "XGetImage", "XCreateGC"):
            getattr(self.lib, function).restype = X
        for function in ("XDefaultRootWindow", "XCreateSimpleWindow", "XDefaultColormap", "XBlackPixel"):
            getattr(self.lib, function).restype = c.c_ulong
        self.display = X(self.lib.XOpenDisplay(name.encode()))
        assert self.display, f"no X server at {name}"
        self.root = c.c_ulong(self.lib.XDefaultRootWindow(self.display))

    def grab(self, x: int, y: int, width: int, height: int) -> NDArray[np.uint16]:
        """Code values (height, width, 3) of a part of the root window."""
        data, bits = self._raw(x, y, width, height)
        top = (1 << bits) - 1
        return np.stack([(data >> (bits * k)) & top for k in (2, 1, 0)], axis=-1).astype(np.uint16)

    def only_code(self, x: int, y: int, width: int, height: int) -> tuple[int, int, int] | None:
        """The one code that all these pixels have; None when they differ."""
        data, bits = self._raw(x, y, width, height)
        # The server may leave anything in the bits that belong to no channel.
        data = data & ((1 << 3 * bits) - 1)
        first, top = int(data[0, 0]), (1 << bits) - 1
        if not (data == first).all():
            return None
        return (first >> (2 * bits), (first >> bits) & top, first & top)

    def _raw(self, x: int, y: int, width: int, height: int) -> tuple[NDArray[np.uint32], int]:
        raw = self.lib.XGetImage(self.display, self.root, x, y, width, height, c.c_ulong(MODE_ALL), Z_PIXMAP)
        assert raw, "the server refused the grab"
        image = c.cast(raw, c.POINTER(Image)).contents
        assert image.bpp == 32
        data = np.frombuffer(c.string_at(image.data, image.stride * height), dtype="<u4")
        data = data.reshape(height, image.stride // 4)[:, :width]
        # Channel layouts of the X protocol's TrueColor visuals of depth 24 and 30.
        bits = {24: 8, 30: 10}[image.depth]
        self.lib.XDestroyImage(X(raw))
        return data, bits

    def cover(self, x: int, y: int, width: int, height: int, color: str = "red") -> int:
        """Put a window of a named colour on top of all, without asking a window manager; its id."""
        found, exact = Color(), Color()
        colormap = c.c_ulong(self.lib.XDefaultColormap(self.display, 0))
        assert self.lib.XAllocNamedColor(self.display, colormap, color.encode(), c.byref(found), c.byref(exact))
        window = self.lib.XCreateSimpleWindow(
            self.display, self.root, x, y, width, height, 0, c.c_ulong(0), c.c_ulong(found.pixel)
        )
        self.lib.XMapRaised(self.display, c.c_ulong(window))
        self.sync()
        return int(window)

    def uncover(self, window: int) -> None:
        """Take it away again."""
        self.lib.XDestroyWindow(self.display, c.c_ulong(window))
        self.sync()

    def scribble(self, x: int, y: int, width: int, height: int) -> None:
        """Overwrite pixels with code 1, 2, 3, whoever they belong to: no window appears and nobody is told."""
        painter = X(self.lib.XCreateGC(self.display, self.root, c.c_ulong(0), None))
        self.lib.XSetSubwindowMode(self.display, painter, 1)  # IncludeInferiors
        self.lib.XSetForeground(self.display, painter, c.c_ulong(0x010203))
        self.lib.XFillRectangle(self.display, self.root, painter, x, y, width, height)
        self.lib.XFreeGC(self.display, painter)
        self.sync()

    def windows(self) -> list[int]:
        """The top-level windows, lowest first."""
        root, parent, count = c.c_ulong(), c.c_ulong(), c.c_uint()
        children = c.POINTER(c.c_ulong)()
        self.lib.XQueryTree(self.display, self.root, c.byref(root), c.byref(parent), c.byref(children), c.byref(count))
        return list(children[: count.value]) if count.value else []

    def place(self, window: int, x: int, y: int, width: int, height: int) -> None:
        """Move and resize any window."""
        self.lib.XMoveResizeWindow(self.display, c.c_ulong(window), x, y, width, height)
        self.sync()

    def ask_to_close(self, window: int) -> None:
        """As a window manager does when its close button is pressed, after ICCCM 4.2.8.1."""
        atoms = [self.lib.XInternAtom(self.display, name, 0) for name in (b"WM_PROTOCOLS", b"WM_DELETE_WINDOW")]
        message = CloseMessage(type=33, window=window, kind=atoms[0], format=32)
        message.data[0] = atoms[1]
        self.lib.XSendEvent(self.display, c.c_ulong(window), 0, c.c_long(0), c.byref(message))
        self.sync()

    def cursor_alpha(self) -> int:
        """The largest opacity (0 to 255) of the pointer's picture, after the XFIXES extension."""
        fixes: Any = c.CDLL("libXfixes.so.3")
        fixes.XFixesGetCursorImage.restype = c.POINTER(CursorImage)
        image = fixes.XFixesGetCursorImage(self.display).contents
        return max((value >> 24) & 0xFF for value in image.pixels[: image.width * image.height])

    def blanked(self) -> bool:
        """True when the server's screen saver is active, after the MIT-SCREEN-SAVER extension."""
        try:
            saver: Any = c.CDLL("libXss.so.1")
        except OSError:
            missing("libXss.so.1", "libxss1")
        saver.XScreenSaverAllocInfo.restype = c.POINTER(SaverInfo)
        info = saver.XScreenSaverAllocInfo()
        assert saver.XScreenSaverQueryInfo(self.display, self.root, info)
        return int(info.contents.state) == 1

    def sync(self) -> None:
        """Wait until the server has done all of it."""
        self.lib.XSync(self.display, 0)

    def close(self) -> None:
        """Let go."""
        self.lib.XCloseDisplay(self.display)


class CloseMessage(c.Structure):
    """Xlib's XClientMessageEvent, as large as an XEvent."""

    _fields_ = [
        ("type", c.c_int),
        ("serial", c.c_ulong),
        ("send_event", c.c_int),
        ("display", X),
        ("window", c.c_ulong),
        ("kind", c.c_ulong),
        ("format", c.c_int),
        ("data", c.c_long * 5),
        ("pad", c.c_long * 12),
    ]


class CursorImage(c.Structure):
    """The first members of XFixesCursorImage."""

    _fields_ = [
        ("x", c.c_short),
        ("y", c.c_short),
        *[(name, c.c_ushort) for name in ("width", "height", "xhot", "yhot")],
        ("serial", c.c_ulong),
        ("pixels", c.POINTER(c.c_ulong)),
    ]


class SaverInfo(c.Structure):
    """XScreenSaverInfo."""

    _fields_ = [
        ("window", c.c_ulong),
        ("state", c.c_int),
        ("kind", c.c_int),
        ("til_or_since", c.c_ulong),
        ("idle", c.c_ulong),
        ("mask", c.c_ulong),
    ]
