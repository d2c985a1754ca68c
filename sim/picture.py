"""What is on the simulated screen: coloured rectangles that were sent, or samples that were looked at."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from hashlib import blake2b
from itertools import pairwise
from typing import Protocol

Code = tuple[int, int, int]
Place = tuple[float, float]


class Picture(Protocol):
    """All that the scene needs of the pixels."""

    @property
    def bits(self) -> int:
        """Bits per channel of the codes."""

    @property
    def digest(self) -> str:
        """The same for the same picture, in every process."""

    def code_at(self, place: Place) -> Code:
        """The code under ``place`` (fractions of width and height, origin top left)."""

    def coverage(self) -> tuple[tuple[Code, float], ...]:
        """Each code with the fraction of the screen that it covers; the fractions add up to 1."""


@dataclass(frozen=True, slots=True)
class Painted:
    """Rectangles ``(x, y, width, height, code)`` in pixels, painted in order on a black screen."""

    width: int
    height: int
    bits: int
    rects: tuple[tuple[int, int, int, int, Code], ...]
    digest: str = field(init=False)
    _coverage: tuple[tuple[Code, float], ...] = field(init=False)

    def __post_init__(self) -> None:
        text = repr((self.width, self.height, self.bits, self.rects)).encode()
        object.__setattr__(self, "digest", blake2b(text, digest_size=12).hexdigest())
        object.__setattr__(self, "_coverage", self._areas())

    @classmethod
    def from_flat(cls, width: int, height: int, bits: int, rects: Iterable[Sequence[int]]) -> Painted:
        """From rows ``[x, y, w, h, r, g, b]`` of whole numbers, as the protocols carry them.

        Raises ``ValueError`` for a row of another length, a number that is not whole, a code that does not
        fit ``bits``, or a size or depth that no screen has.
        """
        if not (0 < width <= 16384 and 0 < height <= 16384 and 1 <= bits <= 16):
            raise ValueError(f"no screen has {width} x {height} pixels of {bits} bits")
        painted: list[tuple[int, int, int, int, Code]] = []
        for row in rects:
            if len(row) != 7 or not all(type(value) is int for value in row):
                raise ValueError(f"a rectangle is seven whole numbers [x, y, w, h, r, g, b], not {row!r}")
            x, y, w, h, r, g, b = row
            if not all(0 <= value < (1 << bits) for value in (r, g, b)):
                raise ValueError(f"code {(r, g, b)} does not fit {bits} bits")
            painted.append((x, y, w, h, (r, g, b)))
        return cls(width, height, bits, tuple(painted))

    def code_at(self, place: Place) -> Code:
        x = min(self.width - 1, int(place[0] * self.width))
        y = min(self.height - 1, int(place[1] * self.height))
        return self.pixel(x, y)

    def pixel(self, x: int, y: int) -> Code:
        """The code of one pixel; black where nothing was painted."""
        for left, top, width, height, code in reversed(self.rects):
            if left <= x < left + width and top <= y < top + height:
                return code
        return (0, 0, 0)

    def coverage(self) -> tuple[tuple[Code, float], ...]:
        return self._coverage

    def _areas(self) -> tuple[tuple[Code, float], ...]:
        """Exact areas: between neighbouring edges of any rectangles, one pixel stands for all."""
        xs = _edges(((r[0], r[0] + r[2]) for r in self.rects), self.width)
        ys = _edges(((r[1], r[1] + r[3]) for r in self.rects), self.height)
        areas: dict[Code, int] = {}
        for top, bottom in pairwise(ys):
            for left, right in pairwise(xs):
                code = self.pixel(left, top)
                areas[code] = areas.get(code, 0) + (right - left) * (bottom - top)
        whole = self.width * self.height
        return tuple((code, area / whole) for code, area in areas.items())


def _edges(spans: Iterable[tuple[int, int]], size: int) -> list[int]:
    inner = {edge for span in spans for edge in span if 0 < edge < size}
    return [0, *sorted(inner), size]


BLACK = Painted(1, 1, 8, ())


@dataclass(frozen=True, slots=True)
class Sampled:
    """Pixels that were really on a screen: the one under the meter, and a coarse grid for the average."""

    bits: int
    local: Code
    samples: tuple[tuple[Code, int], ...]  # code, number of samples

    @property
    def digest(self) -> str:
        return blake2b(repr((self.bits, self.local, self.samples)).encode(), digest_size=12).hexdigest()

    def code_at(self, place: Place) -> Code:
        return self.local

    def coverage(self) -> tuple[tuple[Code, float], ...]:
        total = sum(count for _, count in self.samples)
        return tuple((code, count / total) for code, count in self.samples)
