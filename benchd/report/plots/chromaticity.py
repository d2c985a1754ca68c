"""The chromaticity diagram, CIE 1976 u', v': primaries and white that were measured, the target and its coverage."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from benchd.analysis.colour.planckian import UV
from benchd.analysis.colour.target import Target
from benchd.analysis.results import Chromaticity
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.profile.colour_codes import uv_prime
from benchd.report.drawing.axes import Axes, Curve, Dash, Item, Note
from benchd.report.drawing.axis import Axis
from benchd.report.drawing.marks import MARKS, OPEN_MARKS
from benchd.report.plots.grey_labels import AXES_PT, label_greys
from benchd.report.plots.locus import LOCUS
from benchd.report.plots.plot import DASHES, Ink, Plot

Point = tuple[float, float]
Grey = tuple[float, float, float]
"""Signal in %, u', v'."""
CIRCLES = (0.002, 0.004)
"""Distances in u'v' around the target in the close-up."""

SPACE_DASHES: tuple[Dash, ...] = ((4, 2), (1, 1.2), (6, 1.5, 1, 1.5), (9, 2))
"""Of so many spaces at most, the target's first."""


@dataclass(frozen=True, slots=True)
class Chromaticities:
    """What a block, a display or a colour space has in the diagram: CIE 1931 x, y.

    ``primaries`` red, green, blue, or empty; ``points`` more colours, such as those of a chart; ``greys`` the track of
    grey steps, white last; ``words`` the same for who can't see it; ``spaces`` further ones that they are held against
    """

    label: str = ""
    primaries: tuple[Point, ...] = ()
    white: Point | None = None
    points: tuple[Point, ...] = ()
    greys: tuple[Grey, ...] = ()
    words: tuple[str, ...] = ()
    spaces: tuple[Chromaticities, ...] = ()


def point(x: Quantity, y: Quantity) -> Point | None:
    """A place in the diagram; None where it is a bound or absent."""
    return (x.value, y.value) if x.plain and y.plain and x.value is not None and y.value is not None else None


def track(several: Iterable[tuple[float, Chromaticity]]) -> tuple[Grey, ...]:
    """Grey steps, (signal in %, colour), that have a colour, dark to bright."""
    known = [(signal, point(one.u_prime, one.v_prime)) for signal, one in several]
    return tuple(sorted((signal, *at) for signal, at in known if at))


def merged(label: str, blocks: Iterable[Chromaticities]) -> Chromaticities:
    """What several blocks of one log give: the first white and primaries, the longest track, all other points."""
    several = list(blocks)
    return Chromaticities(
        label,
        next((one.primaries for one in several if one.primaries), ()),
        next((one.white for one in several if one.white), None),
        tuple(at for one in several for at in one.points),
        max((one.greys for one in several), key=len, default=()),
        tuple(words for one in several for words in one.words),
        tuple(dict.fromkeys(space for one in several for space in one.spaces)),
    )


def diagrams(measured: Sequence[Chromaticities], target: Target | None, *, name: str, simulated: bool) -> list[Plot]:
    """The diagram of one log, or of several overlaid, and white close up; none where no colour is known."""
    said = [f"{one.label or 'Measured'}: {'; '.join(one.words)}." for one in measured if one.words]
    spaces: list[Chromaticities] = []
    white = None
    if target:
        white = target.white
        spaces = [Chromaticities(target.name, (target.red, target.green, target.blue), white)]
    named = dict.fromkeys(space for one in measured for space in one.spaces)
    others = [one for one in named if one.primaries not in [space.primaries for space in spaces]]
    # More are those of no choice: a plan that names none is held against every space there is.
    spaces += others if len(spaces) + len(others) <= len(SPACE_DASHES) else []
    made = (
        chromaticity_plot(measured, spaces, name=name, words=" ".join(said), simulated=simulated),
        white_plot(measured, white, name=name, words=" ".join(said), simulated=simulated),
    )
    return [plot for plot in made if plot]


def chromaticity_plot(
    measured: Sequence[Chromaticities], spaces: Sequence[Chromaticities], *, name: str, words: str, simulated: bool
) -> Plot | None:
    """The diagram; None when there is nothing measured to be put into it. ``words`` end the text in its place."""
    measured = [replace(one, label=one.label or "measured") for one in measured if _any(one)]
    if not measured:
        return None

    def draw(axes: Axes) -> None:
        axes.add(*_locus())
        for space, dash, mark in zip(spaces, SPACE_DASHES, OPEN_MARKS, strict=False):
            axes.add(*_triangle(space, Ink.target, dash, mark, 1.1))
        for index, one in enumerate(measured):
            at = index % len(Ink.series)
            axes.add(*_triangle(one, Ink.series[at], DASHES[at], MARKS[at], 1.6))
            if one.points:
                some = [uv_prime(*point) for point in one.points]
                axes.add(Curve(some, Ink.series[at], MARKS[at], mark_size=2.6, joined=False, order=4))
        axes.x, axes.y = Axis("u′", -0.03, 0.66), Axis("v′", -0.02, 0.64)
        axes.equal, axes.columns = True, 2

    text = f"CIE 1976 u'v' chromaticity diagram. {words}".strip()
    return Plot(f"{name}-chromaticity", "Chromaticity", text, draw, simulated, height_in=4.9)


def white_plot(
    measured: Sequence[Chromaticities], target: Point | None, *, name: str, words: str, simulated: bool
) -> Plot | None:
    """White and grey steps close up: u', v' away from the target's white, or from the first white without a target."""
    tracks = [(one.label, one.greys) for one in measured if one.greys]
    if not tracks:
        return None
    origin = uv_prime(*target) if target else tracks[0][1][-1][1:]

    def draw(axes: Axes) -> None:
        away = [0.0055]
        for radius in CIRCLES:
            turn = [2 * math.pi * step / 72 for step in range(73)]
            round_it = [(radius * math.cos(a), radius * math.sin(a)) for a in turn]
            axes.add(Curve(round_it, Ink.target, dash=(3, 2), width=0.9, order=1))
        aim = "target" if target else ""
        axes.add(Curve(((0.0, 0.0),), Ink.target, "+", mark_size=11.0, joined=False, label=aim))
        shown: list[list[Grey]] = []
        for index, (label, points) in enumerate(tracks):
            at = index % len(Ink.series)
            greys = [(signal, u - origin[0], v - origin[1]) for signal, u, v in points if signal >= 10]
            u, v = points[-1][1] - origin[0], points[-1][2] - origin[1]
            colour, mark, named = Ink.series[at], MARKS[at], f"white {label}".strip()
            if len(greys) > 1:
                track = [(u, v) for _, u, v in greys]
                axes.add(Curve(track, colour, mark, DASHES[at], 0.8, 2.2, alpha=0.75, order=3))
            axes.add(Curve(((u, v),), colour, mark, mark_size=8.0, joined=False, label=named, order=4))
            away += [abs(one) for pair in (*(grey[1:] for grey in greys), (u, v)) for one in pair]
            shown.append(greys)
        most = 1.12 * max(away)
        origin_is = "the target" if target else "the first white"
        axes.x, axes.y = (Axis(f"{one} from {origin_is}", -most, most) for one in ("u′", "v′"))
        axes.equal = True
        per_unit = AXES_PT / (2.0 * most)
        corners = [0.707 * radius * per_unit for radius in CIRCLES]
        inner_named = corners[1] - corners[0] > 12.0  # else it would lie over the name of the outer circle
        for radius in CIRCLES[0 if inner_named else 1 :]:
            axes.add(Note(f"{radius:g}", (0.707 * radius, 0.707 * radius), (3.0, 2.0), size=8.0))
        label_greys(axes, shown, most, [(0.0, 0.0, 10.0, 10.0), *((c + 16.0, c + 6.0, 34.0, 12.0) for c in corners)])

    ends = " ".join(map(_far_ends, tracks))
    first = f"those of {tracks[0][0]} with their signal" if len(tracks) > 1 else "each with its signal"
    about = f"White and the grey steps from 10 % up, {first}, close up in u'v'; circles at 0.002 and 0.004."
    text = f"{about} {ends} {words}".strip()
    return Plot(f"{name}-close", "White and greys, close up", text, draw, simulated, height_in=4.9)


def _far_ends(track: tuple[str, Sequence[Grey]]) -> str:
    """``Measured: u' 0.1980, v' 0.4685 at 10 %; u' 0.1974, v' 0.4641 at 100 %.``"""
    label, points = track
    first = next((one for one in points if one[0] >= 10), points[-1])
    said = (f"u' {u:.4f}, v' {v:.4f} at {signal:.3g} %" for signal, u, v in dict.fromkeys((first, points[-1])))
    return f"{label or 'Measured'}: {'; '.join(said)}."


def _any(one: Chromaticities) -> bool:
    return bool(one.primaries or one.white or one.points)


def _locus() -> Iterator[Item]:
    """The rim of the diagram with its wavelengths in nm, and the black bodies from 2 500 K to 20 000 K."""
    rim = [uv_prime(x, y) for _, x, y in LOCUS]
    yield Curve([*rim, rim[0]], Ink.rule, width=1.1, order=1)
    named = {nm: uv_prime(x, y) for nm, x, y in LOCUS if nm in (460, 480, 500, 520, 540, 560, 580, 600, 620)}
    for nm, at in named.items():
        if nm <= 515:
            yield Note(str(nm), at, (-4.0, 1.0), "end", "middle", 7.0, Ink.faint)
        else:
            yield Note(str(nm), at, (2.0, 4.0), size=7.0, colour=Ink.faint)
    yield Curve(list(named.values()), Ink.rule, "o", mark_size=2.4, joined=False, order=1)
    # Rows are reciprocal megakelvin in steps of 5.
    yield Curve([(u, 1.5 * v) for u, v in UV[10:81]], Ink.rule, width=0.9, order=1)


def _triangle(gamut: Chromaticities, colour: str, dash: Dash, mark: str, width: float) -> Iterator[Item]:
    label = gamut.label
    if gamut.primaries:
        corners = [uv_prime(*point) for point in (*gamut.primaries, gamut.primaries[0])]
        yield Curve(corners, colour, mark, dash, width, label=label, order=3)
        label = ""
    if gamut.white:
        white = (uv_prime(*gamut.white),)
        yield Curve(white, colour, mark, mark_size=6.5, joined=False, hollow=True, label=label, order=4)
