"""Looks at the pixels that are really on an X screen, on a connection of its own.

One pixel under the meter and thin rows over the whole screen for its average level. The signatures are those
of the Xlib reference ("Xlib - C Language X Interface", X.Org), sections 2 and 8.
"""

from __future__ import annotations

import ctypes
import os
from collections import Counter
from collections.abc import Iterator
from ctypes import POINTER, c_char_p, c_int, c_uint, c_ulong, c_void_p
from typing import Any

from sim.picture import Code, Place, Sampled

ROWS, COLUMNS = 24, 40
ALL_PLANES, Z_PIXMAP = 0xFFFFFFFF, 2


class NothingVisible(Exception):
    """There is nothing to look at; the text gives the reason."""


class _XImage(ctypes.Structure):
    _fields_ = [
        *((name, c_int) for name in ("width", "height", "xoffset", "format")),
        ("data", c_void_p),
        *((name, c_int) for name in ("byte_order", "bitmap_unit", "bitmap_bit_order", "bitmap_pad")),
        *((name, c_int) for name in ("depth", "bytes_per_line", "bits_per_pixel")),
        *((name, c_ulong) for name in ("red_mask", "green_mask", "blue_mask")),
    ]


_ON_ERROR = ctypes.CFUNCTYPE(c_int, c_void_p, c_void_p)
_ON_LOSS = ctypes.CFUNCTYPE(c_int, c_void_p)
_ON_EXIT = ctypes.CFUNCTYPE(None, c_void_p, c_void_p)
# Xlib ends the process on an error unless these are set; they must outlive every call from C.
_ignore_error = _ON_ERROR(lambda display, event: 0)
_ignore_loss = _ON_LOSS(lambda display: 0)
_ignore_exit = _ON_EXIT(lambda display, data: None)


def _xlib() -> Any:
    try:
        xlib = ctypes.CDLL("libX11.so.6")
    except OSError:
        raise NothingVisible("libX11.so.6 is missing; install the system package libx11-6") from None
    signatures: dict[str, tuple[Any, list[Any]]] = {
        "XOpenDisplay": (c_void_p, [c_char_p]),
        "XDefaultRootWindow": (c_ulong, [c_void_p]),
        "XDefaultScreen": (c_int, [c_void_p]),
        "XDisplayWidth": (c_int, [c_void_p, c_int]),
        "XDisplayHeight": (c_int, [c_void_p, c_int]),
        "XGetImage": (
            POINTER(_XImage),
            [c_void_p, c_ulong, c_int, c_int, c_uint, c_uint, c_ulong, c_int],
        ),
        "XDestroyImage": (c_int, [POINTER(_XImage)]),
        "XSetErrorHandler": (c_void_p, [_ON_ERROR]),
        "XSetIOErrorHandler": (c_void_p, [_ON_LOSS]),
        "XSetIOErrorExitHandler": (None, [c_void_p, _ON_EXIT, c_void_p]),
    }
    for name, (result, arguments) in signatures.items():
        function = getattr(xlib, name)
        function.restype, function.argtypes = result, arguments
    return xlib


class Eye:
    """``region`` is ``(x, y, width, height)`` of the monitor in front of the meter; None: the whole screen.

    Raises `NothingVisible` when the X server can't be reached.
    """

    def __init__(self, region: tuple[int, int, int, int] | None = None) -> None:
        self._xlib = _xlib()
        self._display = self._xlib.XOpenDisplay(None)
        if not self._display:
            raise NothingVisible(f"the X server {os.environ.get('DISPLAY', '(DISPLAY is not set)')} does not answer")
        self._xlib.XSetErrorHandler(_ignore_error)
        self._xlib.XSetIOErrorHandler(_ignore_loss)
        self._xlib.XSetIOErrorExitHandler(self._display, _ignore_exit, None)
        self._root = self._xlib.XDefaultRootWindow(self._display)
        screen = self._xlib.XDefaultScreen(self._display)
        whole = (
            0,
            0,
            self._xlib.XDisplayWidth(self._display, screen),
            self._xlib.XDisplayHeight(self._display, screen),
        )
        self._region = region or whole

    def look(self, place: Place) -> Sampled:
        """The pixel under ``place`` and the average level. Raises `NothingVisible` when the screen is gone."""
        left, top, width, height = self._region
        x = left + min(width - 1, int(place[0] * width))
        y = top + min(height - 1, int(place[1] * height))
        (local,) = self._row(x, y, 1, 1)
        step = max(1, width // COLUMNS)
        counts: Counter[Code] = Counter()
        for row in range(ROWS):
            counts.update(self._row(left, top + int((row + 0.5) * height / ROWS), width, step))
        return Sampled(8, local, tuple(sorted(counts.items())))

    def _row(self, x: int, y: int, width: int, step: int) -> Iterator[Code]:
        """Every ``step``-th pixel of a row, the first in the middle of the first step."""
        image = self._xlib.XGetImage(self._display, self._root, x, y, width, 1, ALL_PLANES, Z_PIXMAP)
        if not image:
            raise NothingVisible("the X server gives no pixels any more")
        try:
            shown = image.contents
            if shown.bits_per_pixel != 32 or shown.byte_order != 0 or shown.red_mask != 0xFF0000:
                raise NothingVisible("only screens of 8 bits per channel in the usual byte order can be looked at")
            data = ctypes.string_at(shown.data, width * 4)
        finally:
            self._xlib.XDestroyImage(image)
        start = 4 * (step // 2)
        return zip(data[start + 2 :: 4 * step], data[start + 1 :: 4 * step], data[start :: 4 * step], strict=True)
