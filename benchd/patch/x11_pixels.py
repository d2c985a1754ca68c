"""Pixels here and there of what an X server scans out, in one round trip however many they are.

The server copies them side by side into a small picture of ours, without an answer to each, and that picture is
fetched. Signatures after the Xlib reference, "Xlib - C Language X Interface" (X.Org), sections 5, 7 and 8.
"""

from __future__ import annotations

import ctypes
import struct
from collections.abc import Iterator, Sequence
from ctypes import POINTER, c_int, c_uint, c_ulong, c_void_p
from typing import Any

from benchd.errors import ScreenDisturbed, ScreenLost, WrongScreen
from benchd.patch.model import Code
from benchd.patch.x11 import XConnection

ALL_PLANES = 0xFFFFFFFF
Z_PIXMAP = 2
INCLUDE_INFERIORS = 1
AT_ONCE = 256
"""Pixels; the width of the small picture."""

Point = tuple[int, int]


class _XImage(ctypes.Structure):
    _fields_ = [
        *((name, c_int) for name in ("width", "height", "xoffset", "format")),
        ("data", c_void_p),
        *((name, c_int) for name in ("byte_order", "bitmap_unit", "bitmap_bit_order", "bitmap_pad")),
        *((name, c_int) for name in ("depth", "bytes_per_line", "bits_per_pixel")),
        *((name, c_ulong) for name in ("red_mask", "green_mask", "blue_mask")),
    ]


class X11Pixels:
    """What is on the root window of ``server``, all windows included."""

    def __init__(self, server: XConnection) -> None:
        """Raises `WrongScreen` when pixels are stored in a way that is not known here."""
        self._server, self._xlib = server, server.xlib
        signatures: dict[str, tuple[Any, list[Any]]] = {
            "XCreatePixmap": (c_ulong, [c_void_p, c_ulong, c_uint, c_uint, c_uint]),
            "XCreateGC": (c_void_p, [c_void_p, c_ulong, c_ulong, c_void_p]),
            "XSetSubwindowMode": (c_int, [c_void_p, c_void_p, c_int]),
            "XSetGraphicsExposures": (c_int, [c_void_p, c_void_p, c_int]),
            "XCopyArea": (c_int, [c_void_p, c_ulong, c_ulong, c_void_p, c_int, c_int, c_uint, c_uint, c_int, c_int]),
            "XGetImage": (POINTER(_XImage), [c_void_p, c_ulong, c_int, c_int, c_uint, c_uint, c_ulong, c_int]),
            "XDestroyImage": (c_int, [POINTER(_XImage)]),
        }
        for name, (result, arguments) in signatures.items():
            function = getattr(self._xlib, name)
            function.restype, function.argtypes = result, arguments
        display, root = server.display, server.root
        self._picture = self._xlib.XCreatePixmap(display, root, AT_ONCE, 1, server.depth)
        self._copier = self._xlib.XCreateGC(display, root, 0, None)
        self._xlib.XSetSubwindowMode(display, self._copier, INCLUDE_INFERIORS)
        self._xlib.XSetGraphicsExposures(display, self._copier, 0)  # or each copy would be answered by an event
        # Only a window's picture shows which bits are whose.
        order, masks, _ = self._fetch(root, 1)
        self._order = order
        self._channels = tuple((mask, (mask & -mask).bit_length() - 1) for mask in masks)

    def at(self, points: Sequence[Point]) -> tuple[Code, ...]:
        """The codes at ``points`` of the desktop, in the server's own bits.

        Raises `ScreenDisturbed` when a point is not on the desktop, where a copy would leave an old pixel.
        """
        _, _, width, height = self._server.place_in_parent(self._server.root)
        for x, y in points:
            if not (0 <= x < width and 0 <= y < height):
                raise ScreenDisturbed(f"pixel {x},{y} is not on the desktop any more; put the screen back and resume")
        found: list[Code] = []
        for first in range(0, len(points), AT_ONCE):
            found.extend(self._copied(points[first : first + AT_ONCE]))
        return tuple(found)

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
