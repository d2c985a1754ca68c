"""Outputs of an X server by name, and their gamma ramps. After the RandR protocol 1.5 (X.Org), through ctypes."""

from __future__ import annotations

import ctypes
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from ctypes import POINTER, byref, c_char_p, c_int, c_uint, c_ulong, c_ushort, c_void_p
from dataclasses import dataclass
from typing import Any

from benchd.patch.x11 import Place, XConnection, load_library

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


class Outputs:
    """The outputs of one X server, queried again at every call: they can change under a running window."""

    def __init__(self, server: XConnection) -> None:
        """Raises `ScreenLost` when the library is missing."""
        self._server = server
        self._lib: Any = load_library("libXrandr.so.2", "libxrandr2")
        signatures: dict[str, tuple[Any, list[Any]]] = {
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
        for name, (result, arguments) in signatures.items():
            function = getattr(self._lib, name)
            function.restype, function.argtypes = result, arguments
        first, unused = c_int(), c_int()
        if self._lib.XRRQueryExtension(server.display, byref(first), byref(unused)):
            self._lib.XRRSelectInput(server.display, server.root, CHANGES_OF_SCREEN_CRTC_AND_OUTPUT)
            server.watch_outputs(range(first.value, first.value + EVENTS))

    def all(self, probe: bool = False) -> tuple[Output, ...]:
        """Every output that is switched on, in the server's order.

        ``probe``: let the server look at the cables too, which takes time and may flicker.
        """
        with self._resources(probe) as resources:
            ids = resources.contents.outputs[: resources.contents.output_count]
            found = [self._read(resources, output) for output in ids]
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
        gamma = self._lib.XRRGetCrtcGamma(self._server.display, output.crtc)
        if not gamma:
            return ()
        try:
            head = gamma.contents
            return tuple(tuple(channel[: head.size]) for channel in (head.red, head.green, head.blue))
        finally:
            self._lib.XRRFreeGamma(gamma)

    def _read(self, resources: Any, output: int) -> Output | None:
        display = self._server.display
        info = self._lib.XRRGetOutputInfo(display, resources, output)
        if not info:
            return None
        try:
            head = info.contents
            name = ctypes.string_at(head.name, head.name_length).decode("utf-8", "replace")
            crtc_id, connected = int(head.crtc), head.connection != DISCONNECTED
        finally:
            self._lib.XRRFreeOutputInfo(info)
        if not crtc_id or not connected:
            return None
        crtc = self._lib.XRRGetCrtcInfo(display, resources, crtc_id)
        if not crtc:
            return None
        try:
            head = crtc.contents
            place = Place(head.x, head.y, head.width, head.height)
            mode = _mode_size(resources.contents, int(head.mode), int(head.rotation)) or (
                place.width,
                place.height,
            )
            refresh_hz = _refresh_hz(resources.contents, int(head.mode))
        finally:
            self._lib.XRRFreeCrtcInfo(crtc)
        return Output(name, place, mode, crtc_id, int(output), refresh_hz)

    @contextmanager
    def _resources(self, probe: bool) -> Iterator[Any]:
        ask = self._lib.XRRGetScreenResources if probe else self._lib.XRRGetScreenResourcesCurrent
        resources = ask(self._server.display, self._server.root)
        try:
            yield resources
        finally:
            self._lib.XRRFreeScreenResources(resources)


def _mode_size(resources: Any, mode: int, rotation: int) -> tuple[int, int] | None:
    for candidate in resources.modes[: resources.mode_count]:
        if candidate.id == mode:
            size = (int(candidate.width), int(candidate.height))
            return (size[1], size[0]) if rotation & SIDEWAYS else size
    return None


def _refresh_hz(resources: Any, mode: int) -> float:
    """Pixel clock over the pixels of a whole picture, blanking included (RandR protocol 1.5, MODEINFO)."""
    for candidate in resources.modes[: resources.mode_count]:
        if candidate.id == mode:
            across, down = float(candidate.timing[H_TOTAL]), float(candidate.timing[V_TOTAL])
            if candidate.flags & DOUBLE_SCAN:
                down *= 2.0
            if candidate.flags & INTERLACED:
                down /= 2.0
            return round(float(candidate.dot_clock) / (across * down), 6) if across and down else 0.0
    return 0.0


def ramp_word(ramp: Sequence[Sequence[int]]) -> str:
    """ "identity", "changed", or "unknown" when there is no ramp to be judged."""
    if not ramp or any(len(channel) < 2 or not any(channel) for channel in ramp):
        return "unknown"
    for channel in ramp:
        last = len(channel) - 1
        if any(abs(value - RAMP_TOP * i / last) > RAMP_SLACK for i, value in enumerate(channel)):
            return "changed"
    return "identity"
