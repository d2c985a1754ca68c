"""The type of plots: DejaVu Sans, whose file lies beside this one with its licence, and how wide a text is in it.

An SVG file or a page may be shown in another type, so a width is an estimate: that of this one, by classes of signs.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import NamedTuple

FILE = Path(__file__).with_name("DejaVuSans.ttf")
FAMILY = "DejaVu Sans, Liberation Sans, Arial, sans-serif"

ASCENT, DESCENT = 0.76, 0.24
"""Above and below the base line, of the size."""
MIDDLE = 0.36
"""Half of the height of a capital or figure."""

_CLASSES = (
    (0.30, "ijlI|'′’.,:; "),
    (0.40, 'frtJ()[]{}/\\!-°"″₀₁₂₃₄₅₆₇₈₉⁰¹²³'),
    (0.54, "cksvxyzLTFE?"),
    (0.78, "ABCDGHKNOQRUVXYΔ"),
    (0.84, "+<>=±−×~^w"),
    (0.98, "mMW%@—…"),
)
_OTHER = 0.63
_WIDTHS = {sign: width for width, signs in _CLASSES for sign in signs}


@cache
def width(text: str, size: float) -> float:
    """Of the widest line of a text, in the unit of ``size``."""
    return size * max(sum(_WIDTHS.get(sign, _OTHER) for sign in line) for line in text.split("\n"))


class Lines(NamedTuple):
    """A text that fits: its lines and their size."""

    texts: Sequence[str]
    size: float

    @property
    def height(self) -> float:
        """From the top of the first line to below the last, in the unit of ``size``."""
        return self.size * (ASCENT + DESCENT + LINE * (len(self.texts) - 1)) if self.texts else 0.0

    def bases(self) -> Iterator[tuple[str, float]]:
        """Each line with how far its base line is below the top of the first."""
        for number, text in enumerate(self.texts):
            yield text, (ASCENT + LINE * number) * self.size


LINE = 1.2
"""From one line to the next, of the size."""
_WAYS = ((1, 1.0), (2, 1.0), (2, 0.85), (3, 0.85), (3, 0.7), (3, 0.55))
"""So many lines, of so much of the size: the first way that a text fits. What does not fit the last one is longer than
any name of ours; its end gives way, so that it leaves room for the plot."""


def fitted(text: str, size: float, most: float) -> Lines:
    """The text in lines no wider than ``most``: in more lines, then smaller, until nothing is cut."""
    for number, share in _WAYS:
        lines = broken(text, share * size, most)
        if len(lines) <= number and " ".join(lines) == " ".join(text.split()):
            return Lines(lines, share * size)
    number, share = _WAYS[-1]
    lines = broken(text, share * size, most)
    return Lines([*lines[: number - 1], f"{lines[number - 1][:-1]}…"] if len(lines) > number else lines, share * size)


def broken(text: str, size: float, most: float) -> list[str]:
    """The text in lines no wider than ``most``, at its blanks; within a word only where that alone is wider."""
    lines: list[str] = []
    for word in text.split():
        if lines and width(f"{lines[-1]} {word}", size) <= most:
            lines[-1] += f" {word}"
            continue
        left = word
        while width(left, size) > most and len(left) > 1:
            cut = max((at for at in range(1, len(left)) if width(left[:at], size) <= most), default=1)
            lines.append(left[:cut])
            left = left[cut:]
        lines.append(left)
    return lines
