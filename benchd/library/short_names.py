"""Short names for headline figures, and how a figure is found by what was typed.

The figures themselves, with their plain names such as "white luminance", are those of `benchd.analysis.catalogue`, as
in reports, comparisons and claims; the index keeps with each what kind it is and which way it is better. Any other
figure of a log has its path as a name, such as ``uniformity/white/r2c3/luminance``.

The headline figures of a log whose plan sweeps the display's controls are those of one point of the sweep, the one with
the most white luminance; beside them each point has its own: "contrast at brightness=50". Every row names the settings.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType

SHORT: Mapping[str, str] = MappingProxyType(
    {
        "white": "white luminance",
        "black": "black luminance",
        "contrast": "contrast",
        "checker-contrast": "checkerboard contrast",
        "white-x": "white x",
        "white-y": "white y",
        "cct": "white CCT",
        "duv": "white Duv",
        "gamma": "gamma",
        "gray-de-mean": "grayscale delta E mean",
        "gray-de-max": "grayscale delta E maximum",
        "chart-de-mean": "colour delta E mean of chart24",
        "chart-de-max": "colour delta E maximum of chart24",
        "srgb-coverage": "coverage of sRGB / BT.709 in u'v'",
        "p3-coverage": "coverage of Display P3 in u'v'",
        "bt2020-coverage": "coverage of BT.2020 in u'v'",
        "hdr-peak": "maximum peak luminance",
        "hdr-peak-10": "peak luminance of a 10 % window",
        "hdr-peak-full": "peak luminance of a 100 % window",
        "hdr-sustained-10": "sustained luminance of a 10 % window",
        "hdr-knee": "HDR knee",
        "hdr-tone-error": "HDR tone error mean",
        "hdr-de-itp": "HDR delta E ITP mean",
        "halo-contrast": "halo contrast",
        "non-uniformity": "non-uniformity of white",
        "colour-non-uniformity": "colour non-uniformity of white",
    }
)
"""Short name -> the figure's plain name; in the order of the page of ranks, which has a column for each."""

AT = " at "
"""Between the name of a figure and the settings of its point of a sweep."""

_TAILS = {
    "x": "xy",
    "y": "xy",
    "u_prime": "xy",
    "v_prime": "xy",
    "cct": "K",
    "duv": "Duv",
    "gamma": "gamma",
    "delta_uv": "u'v'",
    "max_delta_uv": "u'v'",
    "max_pair_delta_uv": "u'v'",
    "max_delta_e": "dE00",
}


def full_name(typed: str, known: Iterable[str]) -> str:
    """The figure among ``known`` that was meant: its plain name, a short one, or either with hyphens for blanks.

    Capital and small letters are the same. ``typed`` itself when there is none.
    """
    if typed in (names := frozenset(known)):
        return typed
    base, at, point = typed.partition(AT)
    short = SHORT.get(base.lower())
    if short is not None and f"{short}{at}{point}" in names:
        return f"{short}{at}{point}"
    wanted = _folded(typed)
    return next((name for name in sorted(names) if _folded(name) == wanted), f"{short}{at}{point}" if short else typed)


def _folded(name: str) -> str:
    return name.lower().replace("-", " ")


def suggestions(typed: str, known: Iterable[str], most: int = 1) -> list[str]:
    """Names that are near to what was typed, short ones too where their figure is there."""
    import difflib  # for a wrong name only

    names = frozenset(known)
    short = (alias for alias, name in SHORT.items() if name in names)
    return difflib.get_close_matches(typed, sorted({*names, *short}), n=most)


def digits_of(name: str, unit: str) -> str:
    """The kind of digits (a key of `benchd.report.digits.FINEST`) of a figure that has the path ``name``."""
    if "delta_e" in name:
        return "dE00"
    return _TAILS.get(name.rpartition("/")[2], unit)
