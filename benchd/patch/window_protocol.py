"""The words between the daemon and a window process: JSON lines, one answer a question, matched by ``seq``.

    {"seq": 1, "op": "hello"}
        -> {"seq": 1, "ok": true, "identity": {the fields of ScreenIdentity}}
    {"seq": 2, "op": "show", "bits": 8, "rects": [[x, y, w, h, r, g, b], ...], "probe": [[x, y], ...]}
        -> {"seq": 2, "ok": true, "width": 1280, "height": 720, "screen": "HDMI-1", "bits": 8,
            "readback": "screen", "pixels": [[r, g, b], ...]}
    any -> {"seq": 2, "ok": false, "error": one of ERRORS, "text": "one sentence"}
    unasked: {"event": "display_lost" or "closed", "text": "one sentence"}

End of input: the window shows black and ends. This file has the messages only, no pipe and no window.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from typing import Any

from benchd.errors import ScreenDisturbed, ScreenError, ScreenLost, WrongScreen
from benchd.patch.model import Rect
from benchd.patch.screen import ScreenIdentity, Shown

ERRORS: dict[str, type[ScreenError]] = {
    "disturbed": ScreenDisturbed,
    "lost": ScreenLost,
    "wrong_screen": WrongScreen,
    "refused": ScreenLost,  # a window that can't follow us is as good as gone
}

_ANSWER = ("width", "height", "screen", "bits", "readback", "pixels")
_IDENTITY_TYPES: dict[str, type] = {
    "name": str, "width": int, "height": int, "x": int, "y": int, "bits": int, "readback": str,
    "renderer": str, "awake": str, "simulated": bool, "gamma_ramp": str, "signal": str, "signal_by": str,
    "refresh_hz": float,
}  # fmt: skip


class NotThisProtocol(ValueError):
    """A line that is not in this protocol; the text gives the reason."""


@dataclass(frozen=True, slots=True)
class ShowRequest:
    """Rectangles in painting order, codes of ``bits`` bits, and the pixels to read back."""

    bits: int
    rects: tuple[Rect, ...]
    probes: tuple[tuple[int, int], ...]


def encode(message: dict[str, Any]) -> bytes:
    """One message as one line."""
    return json.dumps(message, separators=(",", ":")).encode() + b"\n"


def decode(line: bytes) -> dict[str, Any]:
    """One line as one message. Raises `NotThisProtocol`."""
    try:
        message = json.loads(line)
    except (ValueError, RecursionError):
        raise NotThisProtocol(f"{line[:80]!r} is not JSON") from None
    if not isinstance(message, dict):
        raise NotThisProtocol(f"{line[:80]!r} is not a JSON object")
    return message


def show_message(seq: int, request: ShowRequest) -> bytes:
    """A question of the daemon."""
    rects = [[r.x, r.y, r.width, r.height, *r.code] for r in request.rects]
    return encode({"seq": seq, "op": "show", "bits": request.bits, "rects": rects, "probe": request.probes})


def read_show(message: dict[str, Any]) -> ShowRequest:
    """The window's view of a question. Raises `NotThisProtocol`."""
    bits = message.get("bits")
    if not isinstance(bits, int) or not 1 <= bits <= 16:
        raise NotThisProtocol("bits must be a number from 1 to 16")
    if not (rects := [_ints(item, 7, "a rectangle") for item in _items(message, "rects")]):
        raise NotThisProtocol("rects must not be empty")
    top = (1 << bits) - 1
    for rect in rects:
        if min(rect[2:4]) < 1 or min(rect[4:]) < 0 or max(rect[4:]) > top:
            raise NotThisProtocol(f"rectangle {list(rect)} has no area, or codes outside 0 to {top}")
    probes = [_ints(item, 2, "a probe") for item in _items(message, "probe")]
    return ShowRequest(
        bits,
        tuple(Rect(r[0], r[1], r[2], r[3], (r[4], r[5], r[6])) for r in rects),
        tuple((p[0], p[1]) for p in probes),
    )


def answer_message(seq: int, shown: Shown) -> dict[str, Any]:
    """An answer of the window to ``show``."""
    # Not by asdict, which would copy every pixel.
    return {"seq": seq, "ok": True} | {name: getattr(shown, name) for name in _ANSWER}


def read_answer(message: dict[str, Any], probes: int) -> Shown:
    """The daemon's view of an answer to ``show`` with ``probes`` probes. Raises `NotThisProtocol`."""
    width, height, bits = (_typed(message, key, int) for key in ("width", "height", "bits"))
    pixels = tuple((p[0], p[1], p[2]) for p in (_ints(i, 3, "a pixel") for i in _items(message, "pixels")))
    readback = _typed(message, "readback", str)
    if readback != "none" and len(pixels) != probes:
        raise NotThisProtocol(f"{probes} pixels were requested and {len(pixels)} came")
    return Shown(width, height, _typed(message, "screen", str), bits, readback, pixels=pixels)


def identity_message(seq: int, identity: ScreenIdentity) -> dict[str, Any]:
    """An answer of the window to ``hello``."""
    return {"seq": seq, "ok": True, "identity": asdict(identity)}


def read_identity(fields: object) -> ScreenIdentity:
    """The daemon's view of an identity. Raises `NotThisProtocol`."""
    if not isinstance(fields, dict):
        raise NotThisProtocol("an identity must be an object")
    if unknown := sorted(set(fields) - set(_IDENTITY_TYPES)):
        raise NotThisProtocol(f"the identity has unknown fields: {', '.join(unknown)}")
    given = {"gamma_ramp": "unknown", "signal": "sdr", "signal_by": "a window requests nothing but SDR", **fields}
    given["refresh_hz"] = float(_number(given.get("refresh_hz", 0.0)))
    if given["signal"] not in ("sdr", "pq", "hlg"):
        raise NotThisProtocol(f"signal must be sdr, pq or hlg, not {given['signal']!r:.40}")
    return ScreenIdentity(**{key: _typed(given, key, kind) for key, kind in _IDENTITY_TYPES.items()})


def failure_message(seq: int, error: str, text: str) -> dict[str, Any]:
    """An answer of the window to anything that failed; ``error`` is a key of `ERRORS`."""
    return {"seq": seq, "ok": False, "error": error, "text": text}


def word_for(error: ScreenError) -> str:
    """The key of `ERRORS` for ``error``."""
    return next((word for word, kind in ERRORS.items() if isinstance(error, kind)), "refused")


def _typed(message: dict[str, Any], key: str, kind: type) -> Any:
    value = message.get(key)
    # A bool is an int in Python, and true is not a width.
    if not isinstance(value, kind) or (kind is int and isinstance(value, bool)):
        raise NotThisProtocol(f"{key} must be of type {kind.__name__}, not {value!r:.40}")
    return value


def _number(value: object) -> float:
    if not isinstance(value, (int, float)) or isinstance(value, bool) or not 0.0 <= value < 1e6:
        raise NotThisProtocol(f"refresh_hz must be a number of pictures a second, not {value!r:.40}")
    return value


def _items(message: dict[str, Any], key: str) -> list[Any]:
    items = message.get(key)
    if not isinstance(items, list):
        raise NotThisProtocol(f"{key} must be a list")
    return items


def _ints(item: object, count: int, what: str) -> tuple[int, ...]:
    if (
        not isinstance(item, list)
        or len(item) != count
        or not all(isinstance(value, int) and not isinstance(value, bool) for value in item)
    ):
        raise NotThisProtocol(f"{what} must be {count} whole numbers, not {item!r:.60}")
    return tuple(item)
