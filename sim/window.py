"""A window without a screen: serves the window protocol and sends the simulated bench what it would show.

    python -m sim.window --socket PATH [--size 1920x1080] [--bits 8] [--name sim-1] [--signal sdr]

Pixels are answered from the rectangles that it was sent, and marked so: readback "simulated".
"""

from __future__ import annotations

import json
import os
import select
from typing import Any

from sim.relay import BenchGone, Relay, say, socket_argument

USAGE = "python -m sim.window --socket PATH [--size 1920x1080] [--bits 8] [--name sim-1] [--signal sdr]"

DEFAULTS = {"--bits": "8", "--name": "sim-1", "--signal": "sdr"}

Rect = tuple[int, int, int, int, tuple[int, int, int]]


class SimulatedWindow:
    """One screen that exists only as numbers."""

    def __init__(self, relay: Relay, width: int, height: int, bits: int, name: str, signal: str = "sdr") -> None:
        self._relay, self._signal = relay, signal
        self._width, self._height, self._bits, self._name = width, height, bits, name

    def answer(self, asked: dict[str, Any]) -> dict[str, Any]:
        """The answer to one message, without its ``seq``. Raises `BenchGone`."""
        if asked.get("op") == "hello":
            return {"ok": True, "identity": self._identity()}
        if asked.get("op") != "show":
            return _refused("this window has the operations hello and show")
        try:
            rects = [self._scaled(rect, int(asked["bits"])) for rect in asked["rects"]]
            pixels = [self._pixel(rects, int(x), int(y)) for x, y in asked.get("probe", [])]
        except (KeyError, TypeError, ValueError, IndexError):
            return _refused("show needs bits, rects [[x, y, w, h, r, g, b], ...] and probe [[x, y], ...]")
        problem = self.tell(rects)
        if problem:
            return _refused(problem)
        return {
            "ok": True,
            "width": self._width,
            "height": self._height,
            "screen": self._name,
            "bits": self._bits,
            "readback": "simulated",
            "pixels": pixels,
        }

    def tell(self, rects: list[Rect]) -> str:
        """Send the bench what is on the screen now; why it refused, or nothing."""
        answer = self._relay.ask(
            {
                "op": "patch",
                "width": self._width,
                "height": self._height,
                "bits": self._bits,
                "rects": [[*rect[:4], *rect[4]] for rect in rects],
            }
        )
        return str(answer.get("error", ""))

    def _identity(self) -> dict[str, Any]:
        return {
            "name": self._name,
            "width": self._width,
            "height": self._height,
            "x": 0,
            "y": 0,
            "bits": self._bits,
            "readback": "simulated",
            "renderer": "SIMULATED: no pixels are drawn",
            "awake": "not needed: there is no screen",
            "simulated": True,
            "gamma_ramp": "identity",
            "signal": self._signal,
            "signal_by": "SIMULATED: as the simulated source was started",
        }

    def _scaled(self, rect: list[int], bits: int) -> Rect:
        """A rectangle with its code as it lands in the frame buffer (rounded half up)."""
        x, y, width, height, *code = rect
        if bits != self._bits:
            top, buffer_top = (1 << bits) - 1, (1 << self._bits) - 1
            code = [int(value * buffer_top / top + 0.5) for value in code]
        red, green, blue = code
        return x, y, width, height, (red, green, blue)

    def _pixel(self, rects: list[Rect], x: int, y: int) -> tuple[int, int, int]:
        if not (0 <= x < self._width and 0 <= y < self._height):
            raise IndexError("outside the screen")
        for left, top, width, height, code in reversed(rects):
            if left <= x < left + width and top <= y < top + height:
                return code
        return (0, 0, 0)


def _refused(text: str) -> dict[str, Any]:
    return {"ok": False, "error": "refused", "text": text}


def main() -> int:
    """Answer until standard input closes, then report to the bench that the screen is black."""
    path, options = socket_argument(USAGE)
    width, height = (int(side) for side in options.get("--size", "1920x1080").split("x"))
    try:
        relay = Relay(path)
    except BenchGone as gone:
        say({"event": "display_lost", "text": str(gone)})
        return 1
    bits, name, signal = (options.get(key, left_out) for key, left_out in DEFAULTS.items())
    window = SimulatedWindow(relay, width, height, int(bits), name, signal)
    heard = b""
    while True:
        ready, _, _ = select.select([0, relay.fd], [], [])
        if relay.fd in ready:
            # The bench sends nothing by itself: it has closed the connection.
            say({"event": "display_lost", "text": "the simulated bench has gone"})
            return 1
        more = os.read(0, 65536)
        if not more:
            break
        heard += more
        while b"\n" in heard:
            line, _, heard = heard.partition(b"\n")
            asked = json.loads(line)
            try:
                say({"seq": asked.get("seq"), **window.answer(asked)})
            except BenchGone as gone:
                say({"seq": asked.get("seq"), "ok": False, "error": "lost", "text": str(gone)})
                return 1
    try:
        window.tell([(0, 0, width, height, (0, 0, 0))])
    except BenchGone:
        return 1
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
