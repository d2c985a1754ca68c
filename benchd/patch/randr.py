"""Outputs of an X server by name, and their gamma ramps. After the RandR protocol 1.5 (X.Org), through ctypes."""

from __future__ import annotations

import ctypes
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from ctypes import POINTER, byref, c_char_p, c_int, c_uint, c_ulong, c_ushort, c_void_p
from dataclasses import dataclass
from typing import Any

from benchd.patch.x11 import Place, Signatures, XConnection, load_library

CHANGES_OF_SCREEN_CRTC_AND_OUTPUT = 1 | 2 | 4
EVENTS = 2  # RRScreenChangeNotify and RRNotify
DISCONNECTED = 1
SIDEWAYS = 2 | 8  # rotated by 90 or 270 degrees
H_TOTAL, V_TOTAL = 2, 6  # places among a mode's timings
INTERLACED, DOUBLE_SCAN = 0x10, 0x20
RAMP_TOP = 65535
RAMP_SLACK = 257
"""One 8-bit code: servers that keep ramps in 8 bits give them back rounded or cut."""


@dataclass(frozen=True, slots=True)
class Output:
    """An output that is switched on. ``mode`` is width and height of the signal that is sent, as it is turned.

    ``refresh_hz`` follows from the mode's pixel clock and its totals, so 59.94 is not 60; 0 where they are not known.
    """

    name: str
    place: Place
    mode: tuple[int, int]
    crtc: int
    id: int
    refresh_hz: float = 0.0

    @property
    def scaled(self) -> bool:
        """True when the server resamples: then no pixel of ours is a pixel of the signal."""
        return self.mode != (self.place.width, self.place.height)


class _Mode(ctypes.Structure):
    _fields_ = [
        ("id", c_ulong),
        ("width", c_uint),
        ("height", c_uint),
        ("dot_clock", c_ulong),
        ("timing", c_uint * 8),
        ("name", c_char_p),
        ("name_length", c_uint),
        ("flags", c_ulong),
    ]


class _Resources(ctypes.Structure):
    _fields_ = [
        ("timestamp", c_ulong),
        ("config_timestamp", c_ulong),
        ("crtc_count", c_int),
        ("crtcs", POINTER(c_ulong)),
        ("output_count", c_int),
        ("outputs", POINTER(c_ulong)),
        ("mode_count", c_int),
        ("modes", POINTER(_Mode)),
    ]


class _OutputInfo(ctypes.Structure):
    _fields_ = [
        ("timestamp", c_ulong),
        ("crtc", c_ulong),
        ("name", c_void_p),
        ("name_length", c_int),
        ("width_mm", c_ulong),
        ("height_mm", c_ulong),
        ("connection", c_ushort),
    ]


class _CrtcInfo(ctypes.Structure):
    _fields_ = [
        ("timestamp", c_ulong),
        ("x", c_int),
        ("y", c_int),
        ("width", c_uint),
        ("height", c_uint),
        ("mode", c_ulong),
        ("rotation", c_ushort),
    ]


class _Gamma(ctypes.Structure):
    _fields_ = [
        ("size", c_int),
        ("red", POINTER(c_ushort)),
        ("green", POINTER(c_ushort)),
        ("blue", POINTER(c_ushort)),
    ]


_XRANDR: Signatures = {
    "XRRQueryExtension": (c_int, [c_void_p, POINTER(c_int), POINTER(c_int)]),
    "XRRSelectInput": (None, [c_void_p, c_ulong, c_int]),
    "XRRGetScreenResources": (POINTER(_Resources), [c_void_p, c_ulong]),
    "XRRGetScreenResourcesCurrent": (POINTER(_Resources), [c_void_p, c_ulong]),
    "XRRFreeScreenResources": (None, [POINTER(_Resources)]),
    "XRRGetOutputPrimary": (c_ulong, [c_void_p, c_ulong]),
    "XRRGetOutputInfo": (POINTER(_OutputInfo), [c_void_p, POINTER(_Resources), c_ulong]),
    "XRRFreeOutputInfo": (None, [POINTER(_OutputInfo)]),
    "XRRGetCrtcInfo": (POINTER(_CrtcInfo), [c_void_p, POINTER(_Resources), c_ulong]),
    "XRRFreeCrtcInfo": (None, [POINTER(_CrtcInfo)]),
    "XRRGetCrtcGamma": (POINTER(_Gamma), [c_void_p, c_ulong]),
    "XRRFreeGamma": (None, [POINTER(_Gamma)]),
}


class Outputs:
    """The outputs of one X server, queried again at every call: they can change under a running window."""

    def __init__(self, server: XConnection) -> None:
        """Raises `ScreenLost` when the library is missing."""
        self._server = server
        self._lib = load_library("libXrandr.so.2", "libxrandr2", _XRANDR)
        first, unused = c_int(), c_int()
        if self._lib.XRRQueryExtension(server.display, byref(first), byref(unused)):
            self._lib.XRRSelectInput(server.display, server.root, CHANGES_OF_SCREEN_CRTC_AND_OUTPUT)
            server.output_events = range(first.value, first.value + EVENTS)

    def all(self, probe: bool = False) -> tuple[Output, ...]:
        """Every output that is switched on, in the server's order.

        ``probe``: let the server look at the cables too, which takes time and may flicker.
        """
        get = "XRRGetScreenResources" if probe else "XRRGetScreenResourcesCurrent"
        with self._freed(get, "XRRFreeScreenResources", self._server.root) as resources:
            found = [self._read(resources, output) for output in resources.outputs[: resources.output_count]]
        return tuple(output for output in found if output is not None)

    def find(self, monitor: str, probe: bool = False) -> Output | None:
        """The output called ``monitor`` (``primary``: the primary one, else the first), if it is on."""
        outputs = self.all(probe)
        if monitor != "primary":
            return next((output for output in outputs if output.name == monitor), None)
        primary = self._lib.XRRGetOutputPrimary(self._server.display, self._server.root)
        return next((output for output in outputs if output.id == primary), outputs[0] if outputs else None)

    def ramp(self, output: Output) -> tuple[tuple[int, ...], ...]:
        """The gamma ramp of ``output`` (red, green, blue; 0 to 65535); () when the server has none."""
        with self._freed("XRRGetCrtcGamma", "XRRFreeGamma", output.crtc) as gamma:
            if gamma is None:
                return ()
            return tuple(tuple(channel[: gamma.size]) for channel in (gamma.red, gamma.green, gamma.blue))

    def _read(self, resources: Any, output: int) -> Output | None:
        with self._freed("XRRGetOutputInfo", "XRRFreeOutputInfo", resources, output) as info:
            if info is None or not info.crtc or info.connection == DISCONNECTED:
                return None
            name, crtc_id = ctypes.string_at(info.name, info.name_length).decode("utf-8", "replace"), int(info.crtc)
        with self._freed("XRRGetCrtcInfo", "XRRFreeCrtcInfo", resources, crtc_id) as crtc:
            if crtc is None:
                return None
            place = Place(crtc.x, crtc.y, crtc.width, crtc.height)
            mode = _mode(resources, crtc.mode)
            size = (place.width, place.height) if mode is None else _size(mode, int(crtc.rotation))
            return Output(name, place, size, crtc_id, int(output), 0.0 if mode is None else _refresh_hz(mode))

    @contextmanager
    def _freed(self, get: str, free: str, *arguments: object) -> Iterator[Any]:
        """What the library gives, until the end of the block; None where it gives nothing."""
        found = getattr(self._lib, get)(self._server.display, *arguments)
        try:
            yield found.contents if found else None
        finally:
            if found:
                getattr(self._lib, free)(found)


def _mode(resources: Any, number: int) -> Any:
    return next((one for one in resources.modes[: resources.mode_count] if one.id == number), None)


def _size(mode: Any, rotation: int) -> tuple[int, int]:
    size = (int(mode.width), int(mode.height))
    return (size[1], size[0]) if rotation & SIDEWAYS else size


def _refresh_hz(mode: Any) -> float:
    """Pixel clock over the pixels of a whole picture, blanking included (RandR protocol 1.5, MODEINFO)."""
    across, down = float(mode.timing[H_TOTAL]), float(mode.timing[V_TOTAL])
    if mode.flags & DOUBLE_SCAN:
        down *= 2.0
    if mode.flags & INTERLACED:
        down /= 2.0
    return round(float(mode.dot_clock) / (across * down), 6) if across and down else 0.0


def ramp_word(ramp: Sequence[Sequence[int]]) -> str:
    """ "identity", "changed", or "unknown" when there is no ramp to be judged."""
    if not ramp or any(len(channel) < 2 or not any(channel) for channel in ramp):
        return "unknown"
    for channel in ramp:
        last = len(channel) - 1
        if any(abs(value - RAMP_TOP * i / last) > RAMP_SLACK for i, value in enumerate(channel)):
            return "changed"
    return "identity"
