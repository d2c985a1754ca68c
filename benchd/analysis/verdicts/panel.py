"""Do two displays have the same panel inside? The evidence for and against, piece by piece; no number sums it up.

A panel is the component: glass, filters and light behind it. The electronics around it can move white, gamma and
brightness at will, but neither the primaries nor the black nor the resolution; contrast they can only lower, by taking
light from white. So each piece of evidence has a weight in words, and may be inconclusive. Margins and weights
are common practice; there is no standard.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from benchd.analysis.catalogue import figures
from benchd.analysis.catalogue_figure import Figure
from benchd.analysis.meter_model.spectral import spectral_words
from benchd.analysis.results import Results
from benchd.analysis.uncertainty.quantity import Quantity, derived, difference, ratio, relabelled, scaled
from benchd.analysis.verdicts.comparison import one_meter

Finding = Literal["for", "against", "inconclusive"]
Weight = Literal["strong", "fair", "weak"]

CONTRAST, WHITE = 15.0, 0.004
"""Margins: of contrast in %, and of the colour of white in u'v'."""
LARGEST_TRIM = 0.5
"""What gains leave of a white that they trim, at least (common practice; from a bluish to a warm white it is more)."""
_PLACE = re.compile(r"deviation of (?P<level>.+) in r[0-9]+c[0-9]+\Z")
MINIMUM_CELLS = 9
"""Fewer places of a grid can look alike by chance."""
FEATURES: Mapping[str, tuple[Weight, str]] = {
    "resolution": (
        "strong",
        "a panel has one number of pixels (if both were driven with all of theirs), and many panels share it",
    ),
    "chromaticities of the primaries": (
        "strong",
        "they are made by the colour filters and the light behind them; electronics can't widen them",
    ),
    "contrast": (
        "fair",
        "set by the kind of panel, which electronics can only lower, by taking light from white; two units of one "
        "panel differ by some percent, two kinds by far more",
    ),
    "colour of black": ("fair", "what leaks through a closed panel has its own colour, which no electronics change"),
    "contrast left on a checkerboard": (
        "weak",
        "how much contrast a checkerboard leaves depends on the front glass, its coating and the meter's own glare",
    ),
    "pattern of uniformity": (
        "weak",
        "falloff from the light behind the panel is alike in all its units; a very like map is even a sign of the same "
        "unit, an unlike one only shows that the units differ",
    ),
    "colour of white": (
        "weak",
        "white is set in the factory and by the picture preset: makers tune one panel to several whites",
    ),
    "white luminance": (
        "weak",
        "brightness is a setting, and the light behind one panel comes in several strengths",
    ),
    "gamma": ("weak", "the curve is set in electronics; a different one is little evidence on the panel"),
}
"""What is looked at: its weight, and why it weighs that."""
SPECTRAL = frozenset({"chromaticities of the primaries", "colour of black", "colour of white", "white luminance"})
"""Evidence that a meter's spectral errors move."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """One piece. ``words`` has the figures and the margin; ``because`` why it weighs what it does."""

    feature: str
    finding: Finding
    weight: Weight
    words: str
    because: str


@dataclass(frozen=True, slots=True)
class PanelQuestion:
    """All evidence, the weightiest first, and what follows in a sentence. ``lacking``: what would add evidence.

    ``spectral``: why the meter's spectral errors do not cancel between the two; "" where they do.
    """

    evidence: tuple[Evidence, ...]
    answer: str
    lacking: tuple[str, ...]
    spectral: str = ""


def same_panel(first: Results, second: Results) -> PanelQuestion:
    """The evidence of two logs."""
    a, b = ({one.name: one for one in figures(log)} for log in (first, second))
    alike = {name: one for name, one in b.items() if name in a and one.conditions == a[name].conditions}
    found = [*_resolution(first, second), *_primaries(a, b), *_colour_of("black", 0.010, a, b), *_contrast(a, b)]
    found += [*_glare(a, alike), *_pattern(a, alike), *_white(a, alike), *_gamma(a, alike)]
    spectral = spectral_words((first.spectral, second.spectral))
    if not (first.meter_is_stated and second.meter_is_stated) and (spectral or not one_meter((first, second))):
        found = [_without_a_statement(one) for one in found]
    order = ("strong", "fair", "weak")
    found.sort(key=lambda one: (order.index(one.weight), one.finding == "inconclusive"))
    wanted = {
        "a gamut block: the primaries are the best evidence there is": "chromaticities of the primaries",
        "contrast of both": "contrast",
        "a grayscale of both: the colour of their black": "colour of black",
        "the same uniformity grid of both": "pattern of uniformity",
    }
    have = {one.feature for one in found}
    lacking = tuple(text for text, feature in wanted.items() if feature not in have)
    return PanelQuestion(tuple(found), _answer(found), lacking, spectral)


def _without_a_statement(one: Evidence) -> Evidence:
    """Evidence that may be all of the meter's own errors, which are not stated, is inconclusive."""
    if one.feature not in SPECTRAL:
        return one
    return replace(one, finding="inconclusive", words=f"{one.words}; nothing is stated of the meter's own errors")


def _answer(found: Sequence[Evidence]) -> str:
    def named(finding: Finding, *weights: Weight) -> str:
        return ", ".join(one.feature for one in found if one.finding == finding and one.weight in weights)

    against, strong = named("against", "strong"), named("for", "strong")
    doubt, fair = named("against", "fair"), named("for", "fair")
    if against:
        return f"The evidence speaks against the same panel: {against}."
    if strong and doubt:
        return f"The evidence is divided: {strong} for the same panel, {doubt} against it."
    if strong and fair:
        return f"The evidence speaks for the same panel ({strong}; also {fair}), and none of weight against it."
    if strong:
        return f"{strong} of both agree: they may well have the same panel, but more would have to agree to say so."
    if doubt:
        return f"There is evidence against the same panel ({doubt}), none of it decisive."
    return "Inconclusive: nothing that was measured of both distinguishes one panel from another."


def _evidence(feature: str, finding: Finding, words: str) -> Evidence:
    weight, because = FEATURES[feature]
    return Evidence(feature, finding, weight, words, because)


def _judged(feature: str, size: Quantity, margin: float, shown: str) -> Evidence:
    """By the 95 % interval of a difference: inside the margin, outside, or neither."""
    if size.interval is None:
        return _evidence(feature, "inconclusive", f"{shown}; its uncertainty is not known")
    low, high = size.interval
    inside, outside = -margin <= low and high <= margin, low > margin or high < -margin
    return _evidence(feature, "for" if inside else "against" if outside else "inconclusive", shown)


def _resolution(first: Results, second: Results) -> Iterator[Evidence]:
    sizes = [(log.screen.get("width"), log.screen.get("height")) for log in (first, second)]
    if all(isinstance(side, int) for size in sizes for side in size):
        words = " and ".join(f"{width} x {height} pixels" for width, height in sizes)
        yield _evidence("resolution", "inconclusive" if sizes[0] == sizes[1] else "against", words)


def distance(a: tuple[Quantity, Quantity], b: tuple[Quantity, Quantity]) -> Quantity:
    """Distance of two chromaticities (u', v' each), its uncertainty to first order."""
    du, dv = difference(a[0], b[0]), difference(a[1], b[1])
    if du.value is None or dv.value is None:
        return derived(0.0, "1", ((1.0, du), (1.0, dv)))
    size = math.hypot(du.value, dv.value)
    c, s = (du.value / size, dv.value / size) if size else (math.sqrt(0.5), math.sqrt(0.5))
    return derived(size, "1", ((c, du), (s, dv)))


Figures = Mapping[str, Figure]
Colour = tuple[Quantity, Quantity]


def _primaries(mine: Figures, theirs: Figures) -> Iterator[Evidence]:
    pairs = {channel: _colours(f"full {channel}", mine, theirs) for channel in ("red", "green", "blue")}
    apart = {channel: distance(*pair) for channel, pair in pairs.items() if pair is not None}
    if len(apart) < len(pairs):
        return
    name = max(apart, key=lambda channel: apart[channel].value or 0.0)
    if apart[name].present:
        shown = f"furthest apart in {name}: u'v' {_text(apart[name], 4)}, margin 0.004"
        yield _judged("chromaticities of the primaries", apart[name], 0.004, shown)


def _colour_of(name: str, margin: float, mine: Figures, theirs: Figures) -> Iterator[Evidence]:
    pair = _colours(name, mine, theirs)
    if pair and (apart := distance(*pair)).plain:
        yield _judged(f"colour of {name}", apart, margin, f"u'v' {_text(apart, 4)} apart, margin {margin:.3f}")


def _colours(name: str, mine: Figures, theirs: Figures) -> tuple[Colour, Colour] | None:
    """u', v' of both, as quantities of two logs; None where one lacks them."""
    first, second = _colour(name, mine, "0:"), _colour(name, theirs, "1:")
    return None if first is None or second is None else (first, second)


def _colour(name: str, known: Figures, at: str) -> Colour | None:
    u, v = known.get(f"{name} u'"), known.get(f"{name} v'")
    return None if u is None or v is None else (relabelled(u.quantity, at), relabelled(v.quantity, at))


def _apart(a: Figure, b: Figure) -> Quantity:
    """Second over first, in % above it."""
    top, bottom = relabelled(b.quantity, "second:"), relabelled(a.quantity, "first:")
    return scaled(ratio(top, bottom), 100.0, "%", -100.0)


def _contrast(a: Figures, b: Figures) -> Iterator[Evidence]:
    """Against the same panel only beyond what gains could do to the white of either, where the whites differ."""
    if "contrast" not in a or "contrast" not in b or a["contrast"].conditions != b["contrast"].conditions:
        return
    change = _apart(a["contrast"], b["contrast"])
    trim = _trim(a, b)
    lowest, highest = (-100.0 * LARGEST_TRIM, 100.0 / LARGEST_TRIM - 100.0) if trim else (-CONTRAST, CONTRAST)
    if change.plain:
        shown = f"{_text(change, 1, sign=True)} %, margin {CONTRAST:g} %"
        judged = _judged("contrast", change, CONTRAST, shown)
        if judged.finding == "against" and trim and change.interval is not None:
            words = f"{shown}; {trim}, so that from {lowest:+.0f} to {highest:+.0f} % it is inconclusive"
            inside = change.interval[1] >= lowest and change.interval[0] <= highest
            judged = replace(judged, finding="inconclusive" if inside else "against", words=words)
        yield judged
        return
    words = "one is only a bound: its black is below what the meter can measure"
    apart = change.value or 0.0
    if (change.bound == "above" and apart > highest) or (change.bound == "below" and apart < lowest):
        margin = f"margin {highest if apart > 0 else -lowest:.0f} %" + (f", since {trim}" if trim else "")
        beyond = f"{'more' if apart > 0 else 'less'} by at least {abs(apart):.0f} %, {margin}"
        yield _evidence("contrast", "against", f"{words}; {beyond}")
        return
    yield _evidence("contrast", "inconclusive", words)


def _trim(a: Figures, b: Figures) -> str:
    """Why the gains of red, green and blue may lie behind a difference in contrast; "" where the whites are alike.

    A gain below its largest takes light from white, not from black: the same panel with less contrast. It shows in
    the colour of white, unless all three are lowered alike.
    """
    lowers = "gains that trim a white lower its contrast by up to half and leave black as it is"
    whites = [_colour("white", known, at) or _colour("full white", known, at) for known, at in ((a, "0:"), (b, "1:"))]
    apart = distance(*pair) if len(pair := [white for white in whites if white is not None]) == 2 else None
    if apart is None or apart.value is None:
        return f"the colour of white is not known of both, and {lowers}"
    if apart.interval is not None and apart.interval[1] <= WHITE:
        return ""
    return f"the whites may differ (u'v' {_text(apart, 4)}), and {lowers}"


def _glare(a: Figures, b: Figures) -> Iterator[Evidence]:
    whole, checkerboard = names = ("contrast", "checkerboard contrast")
    if any(name not in heads for heads in (a, b) for name in names):
        return
    first, second = (
        relabelled(ratio(heads[checkerboard].quantity, heads[whole].quantity), f"{at}:")
        for at, heads in enumerate((a, b))
    )
    if first.plain and second.plain:
        change = scaled(difference(second, first), 100.0, "%")
        shown = f"{_text(change, 1, sign=True)} points, margin 8 points"
        yield _judged("contrast left on a checkerboard", change, 8.0, shown)


def _pattern(mine: Figures, theirs: Figures) -> Iterator[Evidence]:
    """Of the first level that both have a map of."""
    places = [match for name in mine if name in theirs and (match := _PLACE.match(name))]
    level = places[0]["level"] if places else ""
    names = [match[0] for match in places if match["level"] == level]
    values = [(mine[name].quantity.value, theirs[name].quantity.value) for name in names]
    both = [(a, b) for a, b in values if a is not None and b is not None]
    if len(both) < MINIMUM_CELLS:
        return
    if (r := _correlation(both)) is None:
        return
    apart = max(abs(a - b) for a, b in both)
    words = f"the maps of {level} correlate with r = {r:.2f}; places differ by {apart:.1f} points at most"
    yield _evidence("pattern of uniformity", "for" if r > 0.9 and apart < 3.0 else "inconclusive", words)


def _correlation(pairs: Sequence[tuple[float, float]]) -> float | None:
    """Pearson's r; None where one of the two does not vary."""
    mean_a, mean_b = (math.fsum(side) / len(pairs) for side in zip(*pairs, strict=True))
    ab = math.fsum((a - mean_a) * (b - mean_b) for a, b in pairs)
    aa = math.fsum((a - mean_a) ** 2 for a, _ in pairs)
    bb = math.fsum((b - mean_b) ** 2 for _, b in pairs)
    return ab / math.sqrt(aa * bb) if aa > 0.0 and bb > 0.0 else None


def _white(a: Figures, b: Figures) -> Iterator[Evidence]:
    yield from _colour_of("white", WHITE, a, b)
    name = "white luminance"
    if name in a and name in b and (change := _apart(a[name], b[name])).plain:
        yield _judged(name, change, 10.0, f"{_text(change, 1, sign=True)} %, margin 10 %")


def _gamma(a: Figures, b: Figures) -> Iterator[Evidence]:
    if "gamma" in a and "gamma" in b:
        change = difference(relabelled(b["gamma"].quantity, "second:"), relabelled(a["gamma"].quantity, "first:"))
        if change.plain:
            yield _judged("gamma", change, 0.05, f"{_text(change, 2, sign=True)}, margin 0.05")


def _text(quantity: Quantity, decimals: int, *, sign: bool = False) -> str:
    """Value with its expanded uncertainty, or the two ends of a skew interval, for a sentence."""
    assert quantity.value is not None
    stated = quantity.stated
    if stated is not None and stated.expanded > 0.0:
        decimals = max(decimals, min(6, -math.floor(math.log10(stated.expanded))))
    style = f"{'+' if sign else ''}.{decimals}f"
    shown = f"{quantity.value:{style}}"
    if stated is None:
        return shown
    if stated.k is None:
        return f"{shown} ({stated.low:{style}} to {stated.high:{style}})"
    return f"{shown} ± {stated.expanded:.{decimals}f}"
