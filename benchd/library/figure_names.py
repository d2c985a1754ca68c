"""The names of an index's figures, and how one is found by what was typed.

Headline figures have the plain names of `benchd.analysis.catalogue`, such as "white luminance", as in reports,
comparisons and claims, and some a short one beside it; the index keeps with each what kind it is and which way it is
better. Any other figure of a log has its path as a name, such as ``uniformity/white/r2c3/luminance``.

The headline figures of a log whose plan sweeps the display's controls are those of one point of the sweep, the one with
the most white luminance; beside them each point has its own: "contrast at brightness=50". Every row names the settings.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from benchd.analysis.catalogue import AT
from benchd.analysis.sweep_points import LISTED, names_at
from benchd.errors import did_you_mean
from benchd.measurements.declared_figure import plain_name, spelled_out
from benchd.measurements.former_names import figure_advice


@dataclass(frozen=True, slots=True)
class FigureNames:
    """Every name that a figure of the index has or had; ``short``: short name -> plain name.

    ``where``: the options that name the library, as a command that is printed needs them.
    """

    names: frozenset[str]
    short: Mapping[str, str]
    where: str = ""

    def meant(self, typed: str) -> str:
        """The figure that was meant: by its plain name, its short one, or either with hyphens for blanks.

        "dE00" stands for "delta E" too. Capital and small letters are the same. ``typed`` itself when there is none.
        """
        if typed in self.names:
            return typed
        base, at, point = typed.partition(AT)
        by_short = f"{self.short.get(base.lower(), '')}{at}{point}"
        if by_short in self.names:
            return by_short
        folded = next((name for name in sorted(self.names) if _folded(name) == _folded(typed)), typed)
        points = self._points(typed)
        return points[0] if folded == typed and len(points) == 1 else folded

    def _points(self, typed: str) -> list[str]:
        """The figures at the points of sweeps that ``typed`` may be of: controls in any order, some left out."""
        base, at, point = typed.partition(AT)
        return names_at(f"{self.meant(base)}{at}{point}", sorted(self.names)) if at else []

    def advice(self, typed: str, others: Iterable[str] = ()) -> str:
        """What is said of a name that no figure has: the nearest one, a short one too, or where all are listed."""
        if former := figure_advice(typed.replace("-", " ")) or figure_advice(typed):
            return f"it {former}"
        if points := self._points(typed):
            return f"several points have it: {plain_name(' or '.join(map(repr, points[:LISTED])))}"
        if points := self._points(typed.partition(AT)[0] + AT if AT in typed else ""):
            return f"the points that have it: {plain_name(', '.join(map(repr, points[:LISTED])))}"
        every = f"`benchd library list --figures{self.where}` names them all"
        known = sorted({*self.names, *self.short, *others})
        return plain_name(did_you_mean(spelled_out(typed), known, every, most=1, cutoff=0.6))


def _folded(name: str) -> str:
    return spelled_out(name).lower().replace("-", " ")
