"""The type of plots: DejaVu Sans, whose file lies beside this one with its licence, and how wide a text is in it.

An SVG file or a page may be shown in another type, so a width is an estimate: that of this one, by classes of signs.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

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
