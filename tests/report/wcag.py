"""Contrast of colours after WCAG 2.2; ``rgb(26, 26, 26)`` as a browser writes them."""

from __future__ import annotations


def channels(colour: str) -> list[float]:
    return [float(part) for part in colour.partition("(")[2].rstrip(")").split(",")[:3]]


def lightness(colour: str) -> float:
    """Relative luminance (WCAG 2.2)."""
    linear = [c / 255 / 12.92 if c / 255 <= 0.04045 else ((c / 255 + 0.055) / 1.055) ** 2.4 for c in channels(colour)]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(first: str, second: str) -> float:
    high, low = sorted((lightness(first), lightness(second)), reverse=True)
    return (high + 0.05) / (low + 0.05)
