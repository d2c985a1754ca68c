"""What stands out of results, by written rules: the thresholds, and how a figure is held against one.

A figure stands out where its whole 95 % coverage interval lies beyond the threshold (the guard band of JCGM 106:2012,
from memory); one of which no interval is known, by its value. Of several remarks those come first that go farthest
beyond their threshold. The rules in words: ``benchd help results``.

They are help for a reader in plain language and no rule of acceptance: nothing passes or fails by them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from benchd.analysis.uncertainty.quantity import Quantity
from benchd.report.words import count

GREY_ERROR_PERCENT = 5.0
"""Luminance of a grey against the target's curve (common practice; 2 % is seen side by side)."""
DELTA_E_2000 = 3.0
"""CIEDE2000 from which on a colour is off from memory (common practice; 1 is seen side by side)."""
DELTA_E_ITP = 5.0
"""Colour difference after ITU-R BT.2124 (common practice; 1 is about what can be seen at best)."""
DELTA_UV = 0.004
"""Distance in CIE 1976 u', v' (common practice for displays; 0.0011 is about one step of MacAdam)."""
DEVIATION_PERCENT = 10.0
"""Luminance of a place against the screen's centre (common practice)."""
COVERAGE_PERCENT = 95.0
"""Share of the target's space, below which a gamut lacks colours (common practice)."""
FULL_SCREEN_SHARE = 0.8
"""Peak of the full screen over the highest peak, below which a screen limits its light (common practice)."""
SUSTAINED_PERCENT = 90.0
"""Share of a peak that is left at the end (common practice)."""
HALO_RATIO = 2.0
"""Black near a bright window over black far from it (common practice)."""
DRIFT_PERCENT = 1.0
"""Change of the reference patch within a log (common practice; the band of a stable warm-up)."""


class Remark(NamedTuple):
    """What stands out. ``excess``: how many times its threshold it is, at least 1.

    ``about``: what it is that may hold at several points of a sweep; "": its text, whatever numbers are in it.
    """

    excess: float
    text: str
    about: str = ""

    @property
    def same(self) -> str:
        """What two remarks have in common that say the same of two points."""
        return self.about or re.sub(r"[+-]?\d[\d.]*", "", self.text)


def over(quantity: Quantity, threshold: float) -> float:
    """How many times ``threshold`` the size of a figure is; 0 where its interval does not lie beyond."""
    if quantity.value is None or quantity.bound == "below" or abs(quantity.value) <= threshold:
        return 0.0  # an interval has the value in it, and costs more than all else here
    ends = quantity.interval or (quantity.value, quantity.value)
    beyond = min(ends) > threshold or max(ends) < -threshold
    return abs(quantity.value) / threshold if beyond else 0.0


def under(quantity: Quantity, threshold: float) -> float:
    """How many times lower than ``threshold`` a figure is; 0 where its interval does not lie below."""
    if quantity.value is None or quantity.bound == "above" or quantity.value >= threshold:
        return 0.0
    ends = quantity.interval or (quantity.value, quantity.value)
    if max(ends) >= threshold:
        return 0.0
    return threshold / max(quantity.value, 1e-9 * threshold)


def several_over(quantities: Sequence[Quantity], threshold: float, things: str, unit: str) -> tuple[float, str] | None:
    """The largest excess, and ``7 of 30 colours are more than 3 dE00 off, 2 of them surely``; None without a sure one.

    The first number is what a reader counts in a table: all whose figure is beyond the ``threshold``. Surely: with the
    whole interval.
    """
    excess = [found for one in quantities if (found := over(one, threshold))]
    if not excess:
        return None
    beyond = sum(one.value is not None and one.bound != "below" and abs(one.value) > threshold for one in quantities)
    every = len(excess) == beyond
    said = f"{beyond} of {count(len(quantities), things)} {'is' if beyond == 1 else 'are'} {'surely ' if every else ''}"
    said += f"more than {threshold:g} {unit} off"
    return max(excess), said if every else f"{said}, {len(excess)} of them surely"


def foremost(remarks: Iterable[Remark]) -> list[str]:
    """The texts of those that go farthest beyond their thresholds, each once."""
    ordered = sorted(remarks, key=lambda one: -one.excess)
    return list(dict.fromkeys(one.text for one in ordered))
