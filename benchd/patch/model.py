"""A patch: what is to be seen on the screen, and the integer rectangles that draw it.

Geometry is computed here, in whole pixels, by one rule (edges at ``round half up``), so that the window
process, the simulator and the log agree to the pixel. Origin: top left of the active area.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, NamedTuple

Code = tuple[int, int, int]
Kind = Literal["field", "window", "checkerboard", "spot"]
Transfer = Literal["sdr", "pq", "hlg"]
"""The scale that codes stand on: SDR, PQ (SMPTE ST 2084) or HLG (ITU-R BT.2100)."""

BLACK: Code = (0, 0, 0)
LOOKED_UP = 1440  # pixels a side on which the code in front of the meter is looked up, whatever the screen


class Rect(NamedTuple):
    """A filled rectangle in pixels: ``x``, ``y`` of its top left corner, width, height, code values."""

    x: int
    y: int
    width: int
    height: int
    code: Code


def half_up(value: float) -> int:
    """Round half up, as the trade's code levels do (common practice) (Python's ``round`` goes to even)."""
    return math.floor(value + 0.5)


def code_for(percent: float, bits: int) -> int:
    """The code nearest to ``percent`` (0 to 100) of the largest code of ``bits`` bits, half up."""
    return half_up(percent / 100.0 * max_code(bits))


def max_code(bits: int) -> int:
    """The largest code of ``bits`` bits."""
    return int((1 << bits) - 1)


def equal_codes(count: int, bits: int) -> list[int]:
    """``count`` codes from 0 to the largest in equal steps, rounded half up (whole numbers only, so exactly)."""
    top = max_code(bits)
    return [(2 * index * top + (count - 1)) // (2 * (count - 1)) for index in range(count)]


@dataclass(frozen=True, slots=True)
class Patch:
    """What is to be seen.

    field         ``code`` over the whole screen
    window        ``code`` in a centred rectangle of ``area_percent`` % of the screen's area and of the
                  screen's own aspect ratio, on ``surround``
    checkerboard  ``columns`` x ``rows`` cells of ``code`` and ``surround``; the top left cell has
                  ``code``, or ``surround`` when ``inverse``
    spot          a window of ``area_percent`` % centred on ``at`` (fractions of width and height),
                  clipped to the screen, on ``surround``
    """

    kind: Kind
    code: Code
    bits: int = 8
    surround: Code = BLACK
    area_percent: float = 100.0
    columns: int = 4
    rows: int = 4
    inverse: bool = False
    at: tuple[float, float] = (0.5, 0.5)
    transfer: Transfer = "sdr"

    def rectangles(self, width: int, height: int) -> tuple[Rect, ...]:
        """The rectangles that draw it on ``width`` x ``height`` pixels, in painting order.

        The first always covers the whole screen.
        """
        if self.kind == "field":
            return (Rect(0, 0, width, height, self.code),)
        if self.kind == "checkerboard":
            return self._cells(width, height)
        side = math.sqrt(self.area_percent / 100.0)
        centre_x, centre_y = self.at if self.kind == "spot" else (0.5, 0.5)
        x, inner_width = _span(centre_x, side, width)
        y, inner_height = _span(centre_y, side, height)
        return (Rect(0, 0, width, height, self.surround), Rect(x, y, inner_width, inner_height, self.code))

    def _cells(self, width: int, height: int) -> tuple[Rect, ...]:
        odd, even = (self.code, self.surround) if self.inverse else (self.surround, self.code)
        xs = [half_up(column * width / self.columns) for column in range(self.columns + 1)]
        ys = [half_up(row * height / self.rows) for row in range(self.rows + 1)]
        cells = [Rect(0, 0, width, height, even)]
        for row in range(self.rows):
            for column in range(self.columns):
                if (row + column) % 2:
                    x, y = xs[column], ys[row]
                    cells.append(Rect(x, y, xs[column + 1] - x, ys[row + 1] - y, odd))
        return tuple(cells)

    def code_at(self, x: float, y: float, width: int = LOOKED_UP, height: int = LOOKED_UP) -> Code:
        """The code at the place ``x``, ``y`` (fractions of width and height)."""
        pixel_x = min(width - 1, int(x * width))
        pixel_y = min(height - 1, int(y * height))
        found = self.code
        for rect in self.rectangles(width, height):
            if rect.x <= pixel_x < rect.x + rect.width and rect.y <= pixel_y < rect.y + rect.height:
                found = rect.code
        return found


def _span(centre: float, side: float, total: int) -> tuple[int, int]:
    """Start and length in pixels of a span of ``side`` (fraction) about ``centre`` (fraction)."""
    length = max(1, half_up(side * total))
    # A centred span must have equal margins, so its start comes from the whole length, not from edges.
    start = half_up(centre * total - length / 2.0)
    end = min(total, start + length)
    # At the very edge of the screen one pixel is left.
    start = min(max(0, start), total - 1)
    return start, max(1, end - start)


def field(code: Code, bits: int = 8) -> Patch:
    """A full field."""
    return Patch("field", code, bits)


def grey(code: int) -> Code:
    """The same code on all three channels."""
    return (code, code, code)
