"""The HDR section of a page: peak, sustained light, tone curve, halo, colours at levels; plots and tables."""

from __future__ import annotations

from collections.abc import Sequence

from benchd.analysis.results import Results
from benchd.analysis.results_hdr import ColourLevels, Halo, Peak, Sustained, ToneCurve
from benchd.report.page.parts import HtmlCell, method, number_cell, plain, quantity_cells, table, text_cell, warning
from benchd.report.page.sections import without_empty
from benchd.report.plots.hdr import halo_plot, peak_plots, tone_plots
from benchd.report.plots.plot import Plot, at_settings

KINDS = frozenset({"peak", "sustained", "tone_curve", "halo", "colour_levels"})
"""Kinds of block that this section is for."""


def hdr_plots(several: Sequence[tuple[str, Results]], *, name: str, simulated: bool) -> list[Plot]:
    """All HDR plots of one log; of several logs the first block of each kind, overlaid."""
    made: list[Plot] = []
    if len(several) > 1:
        peaks = [(label, log.of("peak")[0]) for label, log in several if log.of("peak")]
        tones = [(label, log.of("tone_curve")[0]) for label, log in several if log.of("tone_curve")]
        made += peak_plots(peaks, name=f"{name}-peak", simulated=simulated)[:1] if peaks else []
        return made + (tone_plots(tones, name=f"{name}-tone", simulated=simulated) if tones else [])
    results = several[0][1]
    windows: list[Peak | Sustained] = [*results.of("peak"), *results.of("sustained")]
    drawn = [
        (block.block, peak_plots([("", block)], name=f"{name}{plain(block.block)}", simulated=simulated))
        for block in windows
    ]
    drawn += [
        (block.block, tone_plots([("", block)], name=f"{name}{plain(block.block)}", simulated=simulated))
        for block in results.of("tone_curve")
    ]
    drawn += [
        (block.block, [plot])
        for block in results.of("halo")
        if (plot := halo_plot(block, name=f"{name}{plain(block.block)}", simulated=simulated))
    ]
    return [plot for block, plots in drawn for plot in at_settings(plots, block)]


def hdr_html(results: Results) -> str:
    """All tables."""
    shown: list[Peak | Sustained] = [*results.of("peak"), *results.of("sustained")]
    made = "".join(_peak(one) for one in shown)
    made += "".join(_tone(one) for one in results.of("tone_curve"))
    made += "".join(_halo(one) for one in results.of("halo"))
    return made + "".join(_colours(one) for one in results.of("colour_levels"))


def _peak(block: Peak | Sustained) -> str:
    after = sorted({moment.after_s for window in block.windows for moment in window.moments})
    head = [
        "Window, %",
        "Peak, cd/m²",
        "± U",
        "after, s",
        "Trend, %/s",
        *(f"at {_span(one)}, cd/m²" for one in after),
        "under 95 % of peak, s",
    ]
    rows: list[list[HtmlCell]] = []
    for window in block.windows:
        moments = {moment.after_s: moment for moment in window.moments}
        cells = [number_cell(f"{window.area_percent:g}"), *quantity_cells(window.peak, "cd/m2")]
        cells.append(number_cell("" if window.peak_after_s is None else f"{window.peak_after_s:g}"))
        cells.append(quantity_cells(window.peak_trend, "%", sign=True)[0])
        for one in after:
            found = moments.get(one)
            cells.append(quantity_cells(found.luminance, "cd/m2")[0] if found else text_cell(""))
        cells.append(quantity_cells(window.below_95_after_s, "s")[0])
        rows.append(cells)
    return _whole(block.block, head, rows, block.method, block.missing, f"Windows of code {block.code}")


def _span(seconds: float) -> str:
    return f"{seconds:g} s" if seconds < 120 else f"{seconds / 60:g} min"


def _tone(block: ToneCurve) -> str:
    rows: list[list[HtmlCell]] = []
    for name, quantity, kind, unit in (
        ("Peak of this block", block.peak, "cd/m2", "cd/m²"),
        ("Black of this block", block.black, "cd/m2", "cd/m²"),
        ("Knee", block.knee, "cd/m2", "cd/m²"),
        ("Below a hard clip, at most", block.below_clip, "%", "%"),
        ("Error, mean of the sizes", block.mean_error, "%", "%"),
        ("Error, worst", block.worst_error, "%", "%"),
        ("ΔE ITP, mean", block.mean_delta_e_itp, "dE00", ""),
        ("ΔE ITP, greatest", block.max_delta_e_itp, "dE00", ""),
    ):
        if quantity.present:
            rows.append([text_cell(name), *quantity_cells(quantity, kind), text_cell(unit)])
    if block.ending:
        rows.append([text_cell("At its end"), text_cell(block.ending), text_cell(""), text_cell("")])
    made = table(("Tone curve", "Value", "U (95 %)", "Unit"), rows, caption="Tone curve in figures", folded=False)
    steps = [
        [
            number_cell(str(step.code)),
            number_cell(f"{step.asked_cd_m2:.4g}"),
            quantity_cells(step.target, "cd/m2")[0],
            *quantity_cells(step.luminance, "cd/m2"),
            quantity_cells(step.error, "%", sign=True)[0],
            quantity_cells(step.error_codes, "gamma", sign=True)[0],
            quantity_cells(step.delta_e_itp, "dE00")[0],
            text_cell(step.region),
        ]
        for step in block.steps
    ]
    end = f". At its end: {block.clip}" if block.ending else ""
    head = ["Code", "Asked, cd/m²", "Target, cd/m²", "L, cd/m²", "± U", "Error, %", "Error, codes", "ΔE ITP", "Region"]
    return made + _whole(block.block, head, steps, f"{block.method}; {block.depth}{end}", block.missing, "Tone curve")


def _halo(block: Halo) -> str:
    beside: list[list[HtmlCell]] = [
        [
            text_cell(one.side),
            number_cell(f"{one.distance_percent:g}"),
            *quantity_cells(one.black, "cd/m2"),
            *quantity_cells(one.contrast, "1"),
            quantity_cells(one.rise, "1")[0],
        ]
        for one in block.beside
    ]
    head = ["Window", "Distance, %", "Black, cd/m²", "± U", "Contrast, :1", "± U", "Over all black"]
    shown, cells = without_empty(head, beside)
    made = table(shown, cells, caption="Black beside a bright window")
    boards: list[list[HtmlCell]] = [
        [
            text_cell(f"{one.cells} × {one.cells}"),
            *quantity_cells(one.white, "cd/m2"),
            *quantity_cells(one.black, "cd/m2"),
            *quantity_cells(one.contrast, "1"),
        ]
        for one in block.boards
    ]
    head = ["Checkerboard", "White, cd/m²", "± U", "Black, cd/m²", "± U", "Contrast, :1", "± U"]
    made += _whole(block.block, head, boards, "", block.missing, "Checkerboards")
    return made + method(f"{block.method}. {block.behaviour}")


def _colours(block: ColourLevels) -> str:
    rows: list[list[HtmlCell]] = [
        [
            text_cell(one.hue),
            number_cell(f"{one.level_cd_m2:g}"),
            *quantity_cells(one.luminance, "cd/m2"),
            quantity_cells(one.reached, "%")[0],
            *quantity_cells(one.x, "xy"),
            *quantity_cells(one.y, "xy"),
            *quantity_cells(one.delta_e_itp, "dE00"),
        ]
        for one in block.colours
    ]
    head = ["Colour", "Level, cd/m²", "L, cd/m²", "± U", "Reached, %", "x", "± U", "y", "± U", "ΔE ITP", "± U"]
    return _whole(block.block, head, rows, block.method, block.missing, f"Colours at levels, {block.inside}")


def _whole(
    name: str, head: Sequence[str], rows: Sequence[Sequence[HtmlCell]], how: str, missing: str, caption: str
) -> str:
    shown, cells = without_empty(head, rows)
    made = table(shown, cells, caption=caption) + method(how)
    return made + (warning(f"{name} is incomplete: {missing}") if missing else "")
