"""What all sections of a text report share: its width, whether it has colours, headings and method lines."""

from __future__ import annotations

from typing import NamedTuple

from benchd.report.words import SIMULATED, paint, wrapped

MIN_WIDTH = 80
"""The tables can't be set on less."""

MAX_WIDTH = 160
"""Nothing gets easier to read on more."""


def page_for(width: int, colour: bool) -> Page:
    """The page for a terminal of ``width`` signs."""
    return Page(min(max(MIN_WIDTH, width), MAX_WIDTH), colour)


class Page(NamedTuple):
    """How a report is set: ``width`` in signs, terminal colours only when asked."""

    width: int = 100
    colour: bool = False

    def heading(self, title: str, detail: str) -> list[str]:
        """An empty line and the title of a section, such as ``uniformity · 5 x 5``."""
        first, *rest = wrapped(f"{title} · {detail}" if detail else title, self.width, "", "  ")
        if first.startswith(title):
            first = paint(title, "bold", self.colour) + first.removeprefix(title)
        return ["", first, *rest]

    def method(self, text: str) -> list[str]:
        """How the figures above were had: ``how: mean of ...; method after ...``."""
        return [paint(line, "dim", self.colour) for line in wrapped(f"how: {text}", self.width, "  ", "    ")]

    def prose(self, text: str, indent: str = "  ") -> list[str]:
        """A sentence."""
        return wrapped(text, self.width, indent, indent + "  ")

    def warning(self, text: str, indent: str = "  ") -> list[str]:
        """A sentence that must not be missed."""
        return [paint(line, "yellow", self.colour) for line in self.prose(text, indent)]

    def missing(self, text: str) -> list[str]:
        """What a section lacks; nothing when all was measured."""
        return self.warning(f"incomplete: {text}") if text else []

    def simulated(self, simulated: bool) -> list[str]:
        """The first and the last line of whatever a simulator took part in."""
        line = f"{SIMULATED}: a simulator took part in these figures"
        return [paint(line, "yellow", self.colour)] if simulated else []
