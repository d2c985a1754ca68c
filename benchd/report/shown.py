"""A figure with its expanded uncertainty, for tables and pages: ``349.9`` and ``0.4``, digits cut where it begins.

The uncertainty gets two significant digits (JCGM 100:2008, 7.2.6, from memory: at most two), is rounded up rather
than down, and the figure ends at the same digit; neither goes beyond what the kind of figure is worth.
"""

from __future__ import annotations

from decimal import ROUND_UP

from benchd.analysis.quantity import Quantity
from benchd.report.digits import FINEST, Finest, bound, first_place, number, rounded

UNIT_TEXT = {"cd/m2": "cd/m²", "1": ":1", "K": "K", "%": "%"}
"""Kind of figure -> its unit as it stands behind the figure; other kinds have none."""


def plain_name(name: str) -> str:
    """The name of a figure with the trade's signs: ``grayscale ΔE₀₀ mean``."""
    return name.replace("delta E ITP", "ΔE ITP").replace("delta E ", "ΔE₀₀ ")


def with_uncertainty(quantity: Quantity, kind: str, *, sign: bool = False) -> tuple[str, str]:
    """The figure and its expanded uncertainty (95 %), both without unit; "" where there is none, "–" when absent."""
    if quantity.value is None:
        return "–", ""
    if quantity.bound is not None:
        return bound(quantity, kind), ""
    stated = quantity.stated
    if stated is None:
        return number(quantity.value, kind, quantity.s, sign=sign), ""
    finest = FINEST.get(kind, Finest())
    place = -finest.decimals
    if quantity.value:
        place = max(place, first_place(quantity.value) - finest.significant + 1)
    if stated.expanded > 0.0:
        place = max(place, first_place(stated.expanded) - 1)
    text = rounded(quantity.value, place)
    if sign and quantity.value > 0 and text.strip("0. "):
        text = f"+{text}"
    return text, rounded(stated.expanded, place, ROUND_UP) if stated.expanded > 0.0 else ""


def whole(quantity: Quantity, kind: str, *, sign: bool = False, unit: bool = True) -> str:
    """``349.9 ± 0.4 cd/m²`` on one line."""
    value, about = with_uncertainty(quantity, kind, sign=sign)
    unit_text = UNIT_TEXT.get(kind, "") if unit and quantity.value is not None else ""
    if kind == "1" and unit_text:
        return f"{value}:1 ± {about}" if about else f"{value}:1"
    return f"{value}{f' ± {about}' if about else ''} {unit_text}".rstrip()
