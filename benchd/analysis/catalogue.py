"""The figures that a display is summed up, compared and judged by, under plain names such as "white luminance".

One list for the report's summary, for comparisons and for the claims of makers, so that all three speak of the same.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

from benchd.analysis.colour.target import Target
from benchd.analysis.figure_conditions import (
    Conditions,
    of_board,
    of_checkerboard,
    of_colours,
    of_gamma,
    of_gamut,
    of_gray_difference,
    of_grid,
    of_halo,
    of_levels,
    of_log,
    of_peak,
    of_tone,
)
from benchd.analysis.results import Contrast, Grayscale, Luminance, Results, Uniformity
from benchd.analysis.results_colour import Colours, Gamut
from benchd.analysis.results_hdr import ColourLevels, Halo, Peak, Sustained, ToneCurve
from benchd.analysis.results_swept import Setting, SweepRow
from benchd.analysis.uncertainty.quantity import Quantity

Better = Literal["more", "less", "nearer"]
"""Which way a figure is better: the more, the less, or the nearer to what was aimed at."""

Topic = Literal["luminance", "colour of white", "grayscale", "uniformity", "gamut", "colours", "HDR", "sweep"]


@dataclass(frozen=True, slots=True)
class Headline:
    """One figure under its plain name.

    ``kind``   which digits it is worth: "cd/m2", "1", "K", "%", "xy", "u'v'", "Duv", "dE00", "gamma"
    ``how``    what the figure means, in a few words
    ``block``  the block that it is from
    ``conditions``  what it holds for: it is compared with figures of equal conditions only
    """

    name: str
    topic: Topic
    kind: str
    better: Better
    quantity: Quantity
    how: str
    block: str
    conditions: Conditions = ()


def headlines(results: Results) -> tuple[Headline, ...]:
    """All that a log has, each name once, in the order of a report. Absent figures are left out.

    The second block of a kind has its name after the figure's: "white luminance (evening)". In a sweep every
    figure carries its point: "white luminance at brightness=50".
    """
    found: dict[str, Headline] = {}
    of_all = of_log(results)
    for one in _all(results):
        if one.quantity.present:
            name = one.name if one.name not in found else f"{one.name} ({one.block})"
            found.setdefault(name, replace(one, name=name, conditions=(*of_all, *one.conditions)))
    return tuple(found.values())


def _all(results: Results) -> Iterator[Headline]:
    if results.sweep:
        for row in results.sweep.rows:
            yield from _row(row, results)
        return
    for luminance in results.of("luminance"):
        yield from _luminance(luminance)
    for contrast in results.of("contrast"):
        yield from _contrast(contrast)
    for luminance in results.of("luminance"):
        yield from _white(luminance)
    for grayscale in results.of("grayscale"):
        yield from _grayscale(grayscale, results.target)
    for uniformity in results.of("uniformity"):
        yield from _uniformity(uniformity)
    for gamut in results.of("gamut"):
        yield from _gamut(gamut)
    for peak in results.of("peak"):
        yield from _peak(peak)
    for sustained in results.of("sustained"):
        yield from _sustained(sustained)
    for tone in results.of("tone_curve"):
        yield from _tone(tone)
    for halo in results.of("halo"):
        yield from _halo(halo)
    for levels in results.of("colour_levels"):
        yield from _levels(levels)
    for colours in results.of("colours"):
        yield from _colours(colours)


def _luminance(one: Luminance) -> Iterator[Headline]:
    yield Headline("white luminance", "luminance", "cd/m2", "more", one.white, "full screen, centre", one.block)
    yield Headline("black luminance", "luminance", "cd/m2", "less", one.black, "full screen, centre", one.block)


def _contrast(one: Contrast) -> Iterator[Headline]:
    if one.sequential:
        how = "white over black, full screen"
        yield Headline("contrast", "luminance", "1", "more", one.sequential.ratio, how, one.block)
    if one.checkerboard:
        board = one.checkerboard
        how = f"{board.columns} x {board.rows} cells, mean of both polarities"
        yield Headline(
            "checkerboard contrast", "luminance", "1", "more", board.ratio, how, one.block, of_checkerboard(one)
        )


def _white(one: Luminance) -> Iterator[Headline]:
    colour = one.white_chromaticity
    for name, kind, quantity, how in (
        ("white x", "xy", colour.x, "CIE 1931"),
        ("white y", "xy", colour.y, "CIE 1931"),
        ("white u'", "xy", colour.u_prime, "CIE 1976"),
        ("white v'", "xy", colour.v_prime, "CIE 1976"),
        ("white CCT", "K", colour.cct, "correlated colour temperature"),
        ("white Duv", "Duv", colour.duv, "distance from the Planckian locus, + greenish"),
    ):
        yield Headline(name, "colour of white", kind, "nearer", quantity, how, one.block)


def _grayscale(one: Grayscale, target: Target | None) -> Iterator[Headline]:
    for fit in one.gamma_fits:
        if fit.white_fixed:
            under = of_gamma(one, fit.rule)
            yield Headline("gamma", "grayscale", "gamma", "nearer", fit.gamma, fit.rule, one.block, under)
    for summary in one.delta_e:
        if summary.convention == one.primary:
            against = f"against {target.name}, " if target else ""
            how = f"{len(one.steps)} steps {against}{summary.formula}; white: {summary.white}"
            for word, quantity in (("mean", summary.mean), ("maximum", summary.maximum)):
                name = f"grayscale delta E {word}"
                under = of_gray_difference(one, target)
                yield Headline(name, "grayscale", "dE00", "less", quantity, how, one.block, under)


def _uniformity(one: Uniformity) -> Iterator[Headline]:
    for level in one.levels:
        grid = f"{level.columns} x {level.rows} places"
        for name, kind, quantity, how in (
            ("non-uniformity", "%", level.non_uniformity, f"(Lmax - Lmin) / Lmax, {grid}"),
            ("colour non-uniformity", "u'v'", level.max_pair_delta_uv, f"largest u'v' distance of two of {grid}"),
        ):
            name = f"{name} of {level.level}"
            yield Headline(name, "uniformity", kind, "less", quantity, how, one.block, of_grid(level))


def _gamut(one: Gamut) -> Iterator[Headline]:
    for space in one.coverage:
        for diagram, words, quantity in (
            ("u'v'", "CIE 1976", space.coverage_uv),
            ("xy", "CIE 1931", space.coverage_xy),
        ):
            how = f"shared area over the space's, {words} diagram, {one.patch}"
            name = f"coverage of {space.label} in {diagram}"
            yield Headline(name, "gamut", "%", "more", quantity, how, one.block, of_gamut(one))


def _colours(one: Colours) -> Iterator[Headline]:
    for accuracy in one.accuracy:
        if accuracy.convention == one.primary and accuracy.aim == one.aim and accuracy.formula.startswith("CIEDE2000"):
            how = f"{one.list} against {one.space}, {accuracy.formula}; white: {accuracy.white}"
            for word, quantity in (("mean", accuracy.mean), ("maximum", accuracy.maximum)):
                name = f"colour delta E {word} of {one.list.removeprefix('chart ')}"
                yield Headline(name, "colours", "dE00", "less", quantity, how, one.block, of_colours(one, accuracy))


def _peak(one: Peak) -> Iterator[Headline]:
    how = "best second of the first ten, on black"
    for window in one.windows:
        name = f"peak luminance of a {window.area_percent:g} % window"
        yield Headline(name, "HDR", "cd/m2", "more", window.peak, how, one.block, of_peak(one))
    under = of_peak(one, windows=True)
    yield Headline("maximum peak luminance", "HDR", "cd/m2", "more", one.greatest, how, one.block, under)


def _sustained(one: Sustained) -> Iterator[Headline]:
    for window in one.windows:
        if window.moments:
            last = window.moments[-1]
            name = f"sustained luminance of a {window.area_percent:g} % window"
            how = f"after {last.after_s / 60.0:g} min on black"
            under = (*of_peak(one), ("after", f"{last.after_s / 60.0:g} min"))
            yield Headline(name, "HDR", "cd/m2", "more", last.luminance, how, one.block, under)
            yield Headline(f"{name}, share of its peak", "HDR", "%", "more", last.share, how, one.block, under)


def _halo(one: Halo) -> Iterator[Headline]:
    for side in one.beside:
        if side.distance_percent == min(each.distance_percent for each in one.beside):
            how = f"window of {one.area_percent:g} % over the black {side.distance_percent:g} % of the width beside it"
            yield Headline("halo contrast", "HDR", "1", "more", side.contrast, how, one.block, of_halo(one, side))
            break
    for board in one.boards:
        how = "bright cells over the dark one in the middle, HDR signal"
        name = f"HDR contrast of a {board.cells} x {board.cells} board"
        yield Headline(name, "HDR", "1", "more", board.contrast, how, one.block, of_board(one))


def _levels(one: ColourLevels) -> Iterator[Headline]:
    how = f"colours of {one.inside} at levels, ITU-R BT.2124"
    for word, quantity in (("mean", one.mean_delta_e_itp), ("maximum", one.max_delta_e_itp)):
        name = f"HDR colour delta E ITP {word}"
        yield Headline(name, "HDR", "dE00", "less", quantity, how, one.block, of_levels(one))


def _tone(one: ToneCurve) -> Iterator[Headline]:
    how = f"{one.transfer.upper()}, steps where the screen follows the curve, window of {one.area_percent:g} %"
    for name, kind, quantity in (
        ("HDR knee", "cd/m2", one.knee),
        ("HDR tone error mean", "%", one.mean_error),
        ("HDR delta E ITP mean", "dE00", one.mean_delta_e_itp),
        ("HDR delta E ITP maximum", "dE00", one.max_delta_e_itp),
    ):
        better: Better = "more" if name == "HDR knee" else "less"
        under = of_tone(one, averaged=name != "HDR knee")
        yield Headline(name, "HDR", kind, better, quantity, how, one.block, under)


def _row(row: SweepRow, results: Results) -> Iterator[Headline]:
    at, under = point_words(row), _of_point(row, results)
    for name, kind, better, quantity in (
        ("white luminance", "cd/m2", "more", row.white),
        ("black luminance", "cd/m2", "less", row.black),
        ("contrast", "1", "more", row.contrast),
        ("white x", "xy", "nearer", row.x),
        ("white y", "xy", "nearer", row.y),
        ("white CCT", "K", "nearer", row.cct),
        ("white Duv", "Duv", "nearer", row.duv),
        ("gamma", "gamma", "nearer", row.gamma),
        ("grayscale delta E mean", "dE00", "less", row.delta_e_mean),
        ("grayscale delta E maximum", "dE00", "less", row.delta_e_max),
        (f"coverage of {row.coverage_space} in u'v'", "%", "more", row.coverage_uv),
    ):
        how: Better = better  # type: ignore[assignment]
        if quantity is not None:
            yield Headline(f"{name} at {at}", "sweep", kind, how, quantity, "", row.point, under.get(name, ()))
    for colours in row.colours:
        for word, quantity in (("mean", colours.mean), ("maximum", colours.maximum)):
            name = f"colour delta E {word} of {colours.list.removeprefix('chart ')}"
            yield Headline(f"{name} at {at}", "sweep", "dE00", "less", quantity, "", row.point, under.get(name, ()))


def _of_point(row: SweepRow, results: Results) -> dict[str, Conditions]:
    """Conditions of the figures of one point of a sweep, by their names: those of its blocks."""
    found: dict[str, Conditions] = {}
    of_blocks = (
        *(_grayscale(one, results.target) for one in results.of("grayscale") if one.block.startswith(f"{row.point}/")),
        *(_gamut(one) for one in results.of("gamut") if one.block.startswith(f"{row.point}/")),
        *(_colours(one) for one in results.of("colours") if one.block.startswith(f"{row.point}/")),
    )
    for headline in (one for several in of_blocks for one in several):
        found.setdefault(headline.name, headline.conditions)
    return found


def point_words(row: SweepRow) -> str:
    """The settings of a point: "brightness=50 preset=warm"."""
    return " ".join(f"{name}={_plain(value)}" for name, value in row.settings.items())


def _plain(value: Setting) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)
