"""A figure with its expanded uncertainty, for tables, pages and sentences: the same digits as in the results' text."""

from __future__ import annotations

from benchd.analysis.uncertainty.quantity import Quantity
from benchd.report import digits
from benchd.report.figure_text import figure

UNIT_TEXT = {"cd/m2": "cd/m²", "1": ":1", "K": "K", "%": "%"}
"""Kind of figure -> its unit as it stands behind the figure; other kinds have none."""


def plain_name(name: str) -> str:
    """The name of a figure with the trade's signs: ``grayscale ΔE₀₀ mean``."""
    return name.replace("delta E ITP", "ΔE ITP").replace("delta E ", "ΔE₀₀ ")


def with_uncertainty(quantity: Quantity, kind: str, *, sign: bool = False) -> tuple[str, str]:
    """The figure, and what is known of it at 95 %, both without unit: ``349.9`` and ``± 4.4``, or ``1.08 to 2.40``.

    The two ends stand there where the interval is not symmetrical; "" where nothing is known. "–" when absent.
    """
    if quantity.value is None:
        return "–", ""
    if quantity.bound is not None:
        return digits.bound(quantity, kind), ""
    stated = quantity.stated
    if stated is None:
        return digits.number(quantity.value, kind, quantity.s, sign=sign), ""
    text, reach = digits.with_uncertainty(quantity.value, stated.expanded, kind, sign=sign)
    if stated.expanded <= 0.0:
        return text, ""
    if stated.k is not None:
        return text, f"± {reach}"
    text, low, high = digits.with_ends(quantity.value, stated.low, stated.high, kind, sign=sign)
    return text, f"{low} to {high}"


def whole(quantity: Quantity, kind: str, *, sign: bool = False, unit: bool = True) -> str:
    """``349.9 ± 4.4 cd/m²`` or ``1.57 (1.08 to 2.40)`` on one line."""
    if quantity.value is None:
        return "–"
    unit_text = UNIT_TEXT.get(kind, "") if unit else ""
    return figure(quantity, kind, unit_text if unit_text in ("", ":1") else f" {unit_text}", sign=sign)
