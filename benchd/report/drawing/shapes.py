"""What is drawn, in points (1/72 inch) from the upper left corner, before it is SVG or pixels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from benchd.report.drawing.axes import Across

Place = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle, of which ``outline`` has the corners."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        return self.right - self.left

    @property
    def height(self) -> float:
        return self.bottom - self.top

    @property
    def outline(self) -> list[Place]:
        return [(self.left, self.top), (self.right, self.top), (self.right, self.bottom), (self.left, self.bottom)]


@dataclass(frozen=True, slots=True)
class Neutrals:
    """What everything but the figures is drawn in."""

    text: str
    faint: str
    rule: str
    fine: str
    paper: str


@dataclass(frozen=True, slots=True)
class Strokes:
    """Lines of one look, each a row of places; ``dash`` in points."""

    lines: Sequence[Sequence[Place]]
    colour: str
    width: float
    dash: tuple[float, ...] = ()
    alpha: float = 1.0


@dataclass(frozen=True, slots=True)
class Fill:
    """Areas of one colour, each within a row of places."""

    outlines: Sequence[Sequence[Place]]
    colour: str
    alpha: float = 1.0


@dataclass(frozen=True, slots=True)
class Discs:
    """Circles of one size, filled unless ``line`` is the width of their rim."""

    centres: Sequence[Place]
    radius: float
    colour: str
    line: float = 0.0
    alpha: float = 1.0


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text whose base line passes through ``at``; ``turn`` in degrees, anticlockwise."""

    text: str
    at: Place
    size: float
    colour: str
    across: Across = "start"
    turn: float = 0.0
    alpha: float = 1.0


Shape = Strokes | Fill | Discs | Text


@dataclass(frozen=True, slots=True)
class Layer:
    """Shapes in the order in which they are drawn, texts last; of those with ``clip`` what is within it is seen."""

    shapes: Sequence[Shape]
    clip: Box | None = None

    @property
    def lines_and_areas(self) -> list[Strokes | Fill | Discs]:
        """All but the texts."""
        return [one for one in self.shapes if not isinstance(one, Text)]

    @property
    def texts(self) -> list[Text]:
        """Those that lie above all else of the layer."""
        return [one for one in self.shapes if isinstance(one, Text)]
