"""Sections of the report page for what every kind of block says: plots, their figures as tables, how they were had."""

from __future__ import annotations

import re
from collections.abc import Sequence

from benchd.analysis.catalogue import Headline, headlines
from benchd.analysis.log.history import Event
from benchd.analysis.results import Chromaticity, Grayscale, Patches, Results, Uniformity, UniformityLevel
from benchd.analysis.uncertainty.quantity import Quantity, scaled
from benchd.measurements.grayscale.gamma import POINT_RULE
from benchd.report.data.document import point_text
from benchd.report.digits import number
from benchd.report.figure_text import scatter
from benchd.report.page.parts import (
    HtmlCell,
    conventions,
    esc,
    method,
    number_cell,
    plots_html,
    quantity_cells,
    section,
    table,
    tag,
    text_cell,
    warning,
)
from benchd.report.plots.plot import Plot
from benchd.report.shown import UNIT_TEXT, plain_name, with_uncertainty
from benchd.report.terminal.grayscale import BALANCE
from benchd.report.terminal.results_text import MOST_PATCHES
from benchd.report.words import capital

UNITS = {**UNIT_TEXT, "dE00": "", "xy": "", "u'v'": "", "Duv": "", "gamma": ""}
LEADS = (
    "greatest peak luminance",
    "white luminance",
    "contrast",
    "white CCT",
    "grayscale delta E mean",
    "colour delta E mean",
)
"""The figures that are set large, where they are there; four at most."""
_NAMES = {"white luminance": "White, full screen", "contrast": "Contrast", "white CCT": "Colour of white"}


def lead(found: Sequence[Headline]) -> str:
    """The few figures that a reader looks for first."""
    by_name = {one.name: one for one in found}
    by_name |= {one.name.partition(" of ")[0]: one for one in reversed(found) if one.topic == "colours"}
    items = []
    for name in [name for name in LEADS if name in by_name][:4]:
        one = by_name[name]
        value, about = with_uncertainty(one.quantity, one.kind)
        unit = UNITS.get(one.kind, "")
        shown = (
            f"{esc(value)}:1" if unit == ":1" else esc(value) + (tag("span", esc(unit), class_="unit") if unit else "")
        )
        said = [about] if about else []
        said += [f"Duv {_plain(by_name['white Duv'])}"] if name == "white CCT" and "white Duv" in by_name else []
        items.append(tag("div", tag("dt", esc(_title(name))) + tag("dd", shown + tag("small", esc(", ".join(said))))))
    return tag("dl", "".join(items), class_="lead") if items else ""


def _title(name: str) -> str:
    return _NAMES.get(name) or plain_name(name[0].upper() + name[1:])


def _plain(one: Headline) -> str:
    return with_uncertainty(one.quantity, one.kind, sign=True)[0].replace("-", "−")


def summary(results: Results, simulated: bool) -> str:
    """Every headline figure with its uncertainty; of a sweep only the ranges, its table has the rest."""
    if results.sweep:
        return _ranges(results)
    found = headlines(results)
    rows, groups = [], []
    for topic in dict.fromkeys(one.topic for one in found):
        several = [one for one in found if one.topic == topic]
        groups.append((topic[0].upper() + topic[1:], len(several)))
        for one in several:
            value, about = quantity_cells(one.quantity, one.kind, sign=one.kind == "Duv")
            stated = one.quantity.stated
            k = number_cell(f"{stated.k:.2f}") if stated and stated.k else text_cell("")
            n = number_cell(str(one.quantity.n) if one.quantity.n else "")
            note = f"{one.how}. {one.quantity.why}".strip(". ") if one.quantity.why else one.how
            unit = UNITS.get(one.kind, "")
            name = text_cell(plain_name(one.name))
            rows.append((name, value, about, text_cell(unit), k, n, text_cell(note)))
    head = ("Figure", "Value", "U (95 %)", "Unit", "k", "n", "What it is")
    shown = table(head, rows, caption="Summary of all figures", groups=groups, folded=False)
    note = (
        "U is the expanded uncertainty, k standard uncertainties: the true value is within ± U of it with 95 %, or "
        "between the two ends that stand there. "
        if results.meter_is_stated
        else "Nothing is stated of the meter: U is the scatter of the readings alone (expanded to 95 %), and the true "
        "value may be farther away. "
    ) + "Where there is none, it is not known. n: readings behind the figure."
    return lead(found) + shown + tag("p", esc(note), class_="method")


def _ranges(results: Results) -> str:
    assert results.sweep is not None
    rows = []
    for one in results.sweep.ranges:
        name = f"{one.control}" + (f" ({point_text(one.others)})" if one.others else "")
        least, most = quantity_cells(one.least, "cd/m2"), quantity_cells(one.greatest, "cd/m2")
        at = (text_cell(str(one.least_at)), text_cell(str(one.greatest_at)))
        rows.append((text_cell(name), *least, at[0], *most, at[1], number_cell(str(one.points))))
    head = ("White over", "Least, cd/m²", "U (95 %)", "at", "Greatest, cd/m²", "U (95 %)", "at", "Points")
    return table(head, rows, caption="Range of white luminance over the sweep", folded=False)


def sweep_table(results: Results) -> str:
    """One row a point."""
    sweep = results.sweep
    if sweep is None:
        return ""
    parts = (
        ("White, cd/m²", "cd/m2", "white"),
        ("Black, cd/m²", "cd/m2", "black"),
        ("Contrast, :1", "1", "contrast"),
        ("CCT, K", "K", "cct"),
        ("Duv", "Duv", "duv"),
        ("ΔE₀₀ mean", "dE00", "delta_e_mean"),
        ("Gamma fit", "gamma", "gamma"),
    )
    used = [one for one in parts if any(getattr(row, one[2]).present for row in sweep.rows)]
    head = list(sweep.controls)
    for title, *_ in used:
        head += [title, "± U"]
    rows = []
    for row in sweep.rows:
        cells = [
            number_cell(f"{row.settings[name]:g}")
            if isinstance(row.settings[name], int | float)
            else text_cell(str(row.settings[name]))
            for name in sweep.controls
        ]
        for _, kind, field in used:
            cells += quantity_cells(getattr(row, field), kind, sign=kind == "Duv")
        rows.append(cells)
    head, rows = without_empty(head, rows)
    return table(head, rows, caption="Every point of the sweep") + method(sweep.method)


def grayscale_html(block: Grayscale, plots: Sequence[Plot], prefix: str, simulated: bool) -> str:
    """Plots, averages, gamma, the table of steps."""
    inner = plots_html(plots) + _averages(block)
    rows = []
    for step in block.steps:
        error = getattr(step.delta_e, block.primary)
        rows.append(
            (
                number_cell(str(step.code)),
                number_cell(number(100 * step.signal, "%")),
                *quantity_cells(step.luminance, "cd/m2"),
                quantity_cells(step.target_luminance, "cd/m2")[0],
                quantity_cells(step.luminance_error, "%", sign=True)[0],
                quantity_cells(step.point_gamma, "gamma")[0],
                *_xy(step.chromaticity),
                quantity_cells(step.chromaticity.cct, "K")[0],
                quantity_cells(step.chromaticity.duv, "Duv", sign=True)[0],
                *(quantity_cells(_percent(one), "%")[0] for one in step.rgb_balance),
                quantity_cells(error, "dE00")[0],
            )
        )
    head: tuple[str, ...] = (
        "Code",
        "Signal, %",
        "L, cd/m²",
        "± U",
        "Target",
        "Error, %",
        "Point gamma",
        "x",
        "y",
        "CCT, K",
        "Duv",
    )
    head = (*head, "R, %", "G, %", "B, %", "ΔE₀₀")
    shown_head, shown_rows = without_empty(head, rows)
    inner += table(shown_head, shown_rows, caption="Grey steps")
    told = f"{capital(block.patch)}. Against: {block.curve}. Target luminance: {block.black}. "
    told += f"{capital(POINT_RULE)}. Balance: {BALANCE}."
    inner += tag("p", esc(told), class_="method") + "".join(warning(capital(one)) for one in block.remarks)
    inner += method(block.method) + (warning(f"Incomplete: {block.missing}") if block.missing else "")
    return section(
        prefix + _anchor(block.block), f"Grayscale{_named(block.block, 'grayscale')}", inner, simulated=simulated
    )


def _percent(quantity: Quantity) -> Quantity:
    return scaled(quantity, 100.0, "%")


def _averages(block: Grayscale) -> str:
    rows = []
    for one in block.delta_e:
        chosen = " (chosen by the plan)" if one.convention == block.primary else ""
        cells: list[HtmlCell] = [text_cell(one.convention.replace("_", " ") + chosen)]
        for quantity in (one.mean, one.median, one.percentile_95, one.maximum):
            cells += quantity_cells(quantity, "dE00")
        worst = "" if one.worst is None else str(one.worst)
        rows.append([*cells, number_cell(worst)])
    head: Sequence[str] = (
        *("ΔE₀₀, white", "Mean", "± U", "Median", "± U", "95th percentile", "± U", "Maximum", "± U", "at code"),
    )
    head, shown = without_empty(head, rows)
    made = table(head, shown, caption="Colour differences of the grayscale")
    made += conventions((one.convention, one.formula, one.white, one.adaptation) for one in block.delta_e)
    fits = []
    for fit in block.gamma_fits:
        kind = "white fixed" if fit.white_fixed else "free slope"
        cells = [text_cell(f"Gamma, {kind}"), *quantity_cells(fit.gamma, "gamma"), text_cell(fit.rule)]
        fits.append(cells)
    head, shown = without_empty(("Fit", "Gamma", "± U", "Rule"), fits)
    return made + table(head, shown, caption="Gamma of the grayscale")


def uniformity_html(block: Uniformity, plots: Sequence[Sequence[Plot]], prefix: str, simulated: bool) -> str:
    """Level by level: maps, figures, every place."""
    inner = ""
    for level, some in zip(block.levels, plots, strict=True):
        body = plots_html(some) + _level_figures(level) + _places(level)
        body += warning(f"Incomplete: {level.missing}") if level.missing else ""
        title = f"{level.level}, {level.columns} × {level.rows} places, {level.percent:g} % signal"
        inner += section(f"{prefix}{_anchor(block.block)}-{level.level}", title, body, simulated=simulated, level=3)
    name = f"Uniformity{_named(block.block, 'uniformity')}"
    return section(prefix + _anchor(block.block), name, inner + method(block.method), simulated=simulated)


def _level_figures(level: UniformityLevel) -> str:
    pair = " and ".join(level.max_pair_places) if level.max_pair_places else ""
    rows = []
    for name, quantity, kind, unit, note in (
        ("Mean", level.mean, "cd/m2", "cd/m²", ""),
        ("Non-uniformity", level.non_uniformity, "%", "%", "(Lmax − Lmin) / Lmax"),
        ("Least over greatest", level.min_over_max, "1", "", "Lmin / Lmax"),
        ("Worst deviation", level.worst_deviation, "%", "%", f"at {level.worst_place}, from {level.centre}"),
        ("u′v′ from the centre", level.max_delta_uv, "u'v'", "", f"at {level.max_delta_uv_place}"),
        ("u′v′ of any pair", level.max_pair_delta_uv, "u'v'", "", pair),
        ("ΔE₀₀ from the centre", level.max_delta_e, "dE00", "", f"at {level.max_delta_e_place}"),
    ):
        if quantity.present:
            cells = quantity_cells(quantity, kind, sign=name == "Worst deviation")
            rows.append((text_cell(name), *cells, text_cell(unit), text_cell(note)))
    head = ("Figure", "Value", "U (95 %)", "Unit", "What it is")
    return table(head, rows, caption=f"Uniformity of {level.level}", folded=False)


def _places(level: UniformityLevel) -> str:
    rows = [
        (
            text_cell(f"r{cell.row}c{cell.column}"),
            *quantity_cells(cell.luminance, "cd/m2"),
            quantity_cells(cell.deviation, "%", sign=True)[0],
            *_xy(cell.chromaticity),
            quantity_cells(cell.delta_uv, "u'v'")[0],
            quantity_cells(cell.delta_e, "dE00")[0],
        )
        for row in level.grid
        for cell in row
    ]
    head = ("Place", "L, cd/m²", "± U", "Deviation, %", "x", "y", "u′v′ from centre", "ΔE₀₀ from centre")
    shown_head, shown = without_empty(head, rows)
    return table(shown_head, shown, caption=f"Every place of {level.level}", folded=True)


def patches_html(block: Patches, prefix: str, simulated: bool) -> str:
    """The free list, its first rows."""
    rows = [
        (
            text_cell(one.name),
            text_cell(" ".join(str(channel) for channel in one.code)),
            *quantity_cells(one.luminance, "cd/m2"),
            text_cell(scatter(one.luminance, "cd/m2").removeprefix("scatter ")),
            *(quantity_cells(part, "xy")[0] for part in (one.x, one.y, one.u_prime, one.v_prime)),
        )
        for one in block.patches[:MOST_PATCHES]
    ]
    head = ("Patch", "Code", "L, cd/m²", "± U", "Scatter", "x", "y", "u′", "v′")
    inner = table(head, rows, caption=f"Patches of {block.block}")
    if len(block.patches) > MOST_PATCHES:
        inner += tag("p", f"And {len(block.patches) - MOST_PATCHES} more; the data have them all.", class_="method")
    inner += warning(f"Incomplete: {block.missing}") if block.missing else ""
    return section(
        prefix + _anchor(block.block),
        f"Patches{_named(block.block, 'patches')}",
        inner + method(block.method),
        simulated=simulated,
    )


def history_html(results: Results, events: Sequence[Event], plot: Plot | None) -> str:
    """Drift and what else happened."""
    inner = plots_html([plot]) if plot else ""
    rows = []
    for drift in results.drift:
        for reading in drift.readings:
            point = point_text(drift.settings)
            rows.append(
                (
                    text_cell(point or "reference"),
                    number_cell(str(reading.session)),
                    number_cell(f"{reading.minutes:.1f}"),
                    *quantity_cells(reading.luminance, "cd/m2"),
                    quantity_cells(reading.change, "%", sign=True)[0],
                )
            )
    head: Sequence[str] = ("Reference patch", "Session", "Minutes", "L, cd/m²", "± U", "Change, %")
    inner += table(head, rows, caption="Every reading of the reference patch", folded=True)
    inner += "".join(warning(words) for words in dict.fromkeys(one.colour.words for one in results.drift) if words)
    told = [
        (
            number_cell(f"{event.minutes:.1f}"),
            number_cell(str(event.session)),
            text_cell(event.kind),
            text_cell(event.step),
            text_cell(event.text),
        )
        for event in events
    ]
    head = ("Minutes", "Session", "Event", "Step", "What")
    faults = sum(event.kind == "fault" for event in events)
    words = f"{faults} faults" if faults else "No fault"
    inner += tag("p", esc(f"{words} in {results.sessions} session{'s' if results.sessions > 1 else ''}."))
    inner += table(head, told, caption="Faults, pauses and looks at the first patches")
    return inner


def _xy(colour: Chromaticity) -> tuple[HtmlCell, HtmlCell]:
    return quantity_cells(colour.x, "xy")[0], quantity_cells(colour.y, "xy")[0]


def without_empty(head: Sequence[str], rows: Sequence[Sequence[HtmlCell]]) -> tuple[list[str], list[list[HtmlCell]]]:
    """Without columns that no row has anything in."""
    kept = [i for i in range(len(head)) if any(row[i].html not in ("", "–") for row in rows)]
    return [head[i] for i in kept], [[row[i] for i in kept] for row in rows]


def _anchor(block: str) -> str:
    return re.sub(r"[^A-Za-z0-9]+", "-", block).strip("-")


def _named(block: str, kind: str) -> str:
    return "" if block == kind else f" · {block}"
