"""Colours as text: gamut against spaces in both diagrams, and lists of colours with their differences and parts."""

from __future__ import annotations

from collections.abc import Sequence

from benchd.analysis.results_colour import Accuracy, ColourPatch, Colours, Gamut
from benchd.analysis.results_swept import Sweep
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.report.digits import number
from benchd.report.figure_text import NO_HUE, bare, figure, line, no_hue
from benchd.report.terminal.text_page import Page
from benchd.report.words import PERCENTILE, columns, count, percentile_fitted

MOST_COLOURS = 40
"""Colours of a list that the text shows, the worst ones where there are more; the data have them all."""

AIMS = {"target_clamped": "clamped", "target_unclamped": "unclamped"}


def gamut_lines(block: Gamut, page: Page) -> list[str]:
    """The section of one gamut block."""
    lines = page.heading(block.block, f"full-drive colours, {block.patch}")
    if block.colours:
        rows: list[tuple[str, ...]] = [("", "cd/m2", "x", "y", "u'", "v'", "n", *(_TURN if block.hue_shifts else ()))]
        turned = {one.name: one for one in block.hue_shifts}
        for one in block.colours:
            shades = (bare(part, "xy") for part in (one.x, one.y, one.u_prime, one.v_prime))
            row = (one.name, bare(one.luminance, "cd/m2"), *shades, str(one.luminance.n))
            if block.hue_shifts:
                shift = turned.get(one.name)
                row += (bare(shift.uv, "deg", sign=True), bare(shift.lab, "deg", sign=True)) if shift else ("", "")
            rows.append(row)
        lines += [f"  {row}" for row in columns(rows, left=(0,))]
        if block.hue_shifts:
            turn = "hue: degrees that a colour is turned from the same colour of target"
            lines += page.prose(
                f"{turn} {block.target}, each about its own white; + is red to yellow, green, cyan, blue"
            )
    lines += _spaces(block, page) + _volume(block, page) + _additivity(block, page)
    return lines + page.missing(block.missing) + page.method(block.method)


_TURN = ("hue u'v'", "hue Lab")


def _spaces(block: Gamut, page: Page) -> list[str]:
    """Coverage and area in both diagrams: none of the figures stands without its diagram."""
    if not any(one.coverage_uv.present or one.coverage_xy.present for one in block.coverage):
        reasons = dict.fromkeys(one.coverage_uv.why for one in block.coverage)
        return page.warning(f"coverage absent: {'; '.join(reasons)}") if reasons else []
    heads = [
        ("", "coverage, %", "", "area ratio, %", "", "volume, %"),
        ("space", "u'v' 1976", "xy 1931", "u'v' 1976", "xy 1931", "CIELAB"),
    ]
    rows = [
        (
            one.label,
            *(bare(part, "%") for part in (one.coverage_uv, one.coverage_xy, one.area_ratio_uv, one.area_ratio_xy)),
            bare(one.volume_ratio, "%"),
        )
        for one in block.coverage
    ]
    lines = ["", *(f"  {row}" for row in columns([*heads, *rows], left=(0,)))]
    said = "coverage: what of the space the screen shows; ratios: screen over space, and no coverage"
    lines += page.prose(said)
    chief = next((one for one in block.coverage if one.space == block.target), block.coverage[0])
    for name, part in (("coverage u'v'", chief.coverage_uv), ("area ratio u'v'", chief.area_ratio_uv)):
        also = [f"of {chief.label}, CIE 1976 u'v'"]
        lines += line(name, figure(part, "%", " %"), part, "%", width=page.width, also=also)
    return lines


def _volume(block: Gamut, page: Page) -> list[str]:
    lines = [""]
    for one in block.volumes:
        shown = figure(one.volume, "volume", "")
        space = "ICtCp volume" if one.white == "ictcp" else "CIELAB volume"
        lines += line(space, shown, one.volume, "volume", width=page.width, also=[one.words])
    return lines + page.prose(f"volume {block.volume_from}", "    ")


def _additivity(block: Gamut, page: Page) -> list[str]:
    parts = [f"{one.name} {bare(one.ratio, 'balance')}" for one in block.additivity if one.ratio.present]
    if not parts:
        return page.warning(f"additivity absent: {block.additivity[0].ratio.why}") if block.additivity else []
    white = block.additivity[0].ratio
    said = page.prose(f"additivity: primaries, black taken from each, over the mixed colour: {', '.join(parts)}")
    if white.plain and abs((white.value or 1.0) - 1.0) > ADDITIVE:
        said += page.warning(f"the light does not add up: {_why_not(white.value or 1.0, block.patch)}")
    return said


def _why_not(share: float, patch: str) -> str:
    """What is behind light that does not add up, and what to do about it (common practice)."""
    if share < 1.0:
        return "white has more light than its primaries, as with a white sub-pixel; a model of the primaries fails"
    if patch == "full screen":
        return "a panel that dims itself when much is lit shows less white; give the block area_percent: 10"
    return "white has less light than its primaries together; a model of the primaries fails"


ADDITIVE = 0.02
"""How far an additive screen may be from 1 (common practice)."""


def colours_lines(block: Colours, page: Page) -> list[str]:
    """The section of one list of colours."""
    lines = page.heading(block.block, f"{block.list}; {count(len(block.patches), 'colour')} against {block.space}")
    lines += page.prose(f"codes: {block.space}, {block.curve}; {block.patch}; {_outside(block)}")
    if block.source:
        lines += page.prose(f"source: {block.source}")
    if "black taken" in block.black:
        lines += page.prose(block.black)
    lines += _table(block, page)
    lines += _averages(block, page)
    return lines + page.missing(block.missing) + page.method(block.method)


def _outside(block: Colours) -> str:
    if not block.outside:
        return "the space holds all of them"
    some = f"{count(block.outside, 'colour')} outside the space"
    if block.aim == "target_clamped":
        return f"{some}, held against the clamped codes that were shown"
    return f"{some}, held against the colour that was wanted"


def _table(block: Colours, page: Page) -> list[str]:
    """One row a colour, with the parts of its difference; of a long list the worst ones."""
    judged = [one for one in block.patches if one.error.total.present]
    shown: Sequence[ColourPatch] = block.patches
    note: list[str] = []
    if len(block.patches) > MOST_COLOURS:
        ranked = sorted(judged, key=lambda one: -(one.error.total.value or 0.0))
        shown = ranked[:MOST_COLOURS]
        note = page.prose(f"the worst {len(shown)} of {len(block.patches)}; the data have them all")
    if not shown:
        return []
    more = [(f"dE{name}", name) for name in ("76", "94") if getattr(block.patches[0], f"cie{name}") is not None]
    heads = [
        ("", "", "", "", "", "target", "", "", "", "of it", "", "", *("" for _ in more)),
        ("colour", "code", "cd/m2", "x", "y", "cd/m2", "x", "y", "dE00", "L", "C", "H", *(head for head, _ in more)),
    ]
    rows = [_row(one, [name for _, name in more]) for one in shown]
    table = list(zip(*[*heads, *rows], strict=True))
    for start, end in ((6, 8), (3, 5), (3, 4), (2, 3)):  # least needed first, where the page is narrow
        if sum(max(map(len, cells)) + 2 for cells in table) <= page.width:
            break
        del table[start:end]
    return [f"  {row}" for row in columns(list(zip(*table, strict=True)), left=(0,))] + note


def _row(one: ColourPatch, more: Sequence[str]) -> tuple[str, ...]:
    mark = "*" if one.outside else ""
    goal = [number(part, "xy") if part is not None else "-" for part in (one.target_x, one.target_y)]
    error = one.error
    parts = [bare(part, "dE00", sign=True) for part in (error.lightness, error.chroma)]
    parts.append(NO_HUE if no_hue(error.hue) else bare(error.hue, "dE00", sign=True))
    return (
        one.name + mark,
        " ".join(str(channel) for channel in one.code),
        bare(one.luminance, "cd/m2"),
        bare(one.x, "xy"),
        bare(one.y, "xy"),
        bare(one.target_luminance, "cd/m2"),
        *goal,
        bare(error.total, "dE00"),
        *parts,
        *(bare(figure, "dE00") for name in more if (figure := getattr(one, f"cie{name}")) is not None),
    )


def _averages(block: Colours, page: Page) -> list[str]:
    """Averages, each under its own words: aim, white, adaptation and formula."""
    if not any(one.mean.present for one in block.accuracy):
        reasons = dict.fromkeys(one.mean.why for one in block.accuracy)
        return page.warning(f"colour differences absent: {'; '.join(reasons)}")
    ordered = sorted(block.accuracy, key=lambda one: one.name != block.primary)
    lines = [""]
    chief = ordered[0]
    for name, part in (("mean dE00", chief.mean), ("greatest dE00", chief.maximum)):
        also = [f"{AIMS[chief.aim]}, {chief.convention}"]
        lines += line(name, figure(part, "dE00", ""), part, "dE00", width=page.width, also=also, note="")
    rows: list[tuple[str, ...]] = [
        ("difference", "aim", "white", "mean", "median", PERCENTILE, "greatest", "worst", "")
    ]
    for one in ordered:
        figures = [bare(part, "dE00") for part in (one.mean, one.median, one.percentile_95, one.maximum)]
        worst = ", ".join(one.worst[:2]) or "-"
        readings = f"n {one.mean.n}" if one.mean.present else ""
        rows.append((_formula(one), AIMS[one.aim], one.convention, *figures, worst, readings))
    lines += ["", *(f"  {row}".rstrip() for row in _fitted(rows, page.width))]
    said: dict[str, None] = {}
    for one in ordered:
        if one.mean.present:
            said[f"{one.convention}. Lab white: {one.white}. Adaptation: {one.adaptation}"] = None
        else:
            said[f"{one.convention}. Absent: {one.mean.why}"] = None
    for words in said:
        lines += page.prose(words)
    for formula in dict.fromkeys(one.formula for one in ordered):
        lines += page.prose(formula)
    notes = dict.fromkeys(one.mean.why for one in ordered if one.mean.present and one.mean.why)
    for note in notes:
        lines += page.warning(note)
    if any(one.outside for one in block.patches):
        lines += page.prose("* outside the space: its codes are clamped")
    return lines


def _fitted(rows: Sequence[tuple[str, ...]], width: int) -> list[str]:
    """The table of averages, without the readings, then with one worst colour, then without the median."""
    left = (0, 1, 2, 7, 8)
    rows = percentile_fitted(rows, width)
    lines = columns(rows, left=left)
    if max(map(len, lines)) + 2 > width:
        rows = [row[:8] for row in rows]
        lines = columns(rows, left=left[:4])
    if max(map(len, lines)) + 2 > width:
        rows = [(*row[:7], row[7].partition(",")[0]) for row in rows]
        lines = columns(rows, left=left[:4])
    if max(map(len, lines)) + 2 > width:
        lines = columns([(*row[:4], *row[5:]) for row in rows], left=(0, 1, 2, 6))
    return lines


def _formula(one: Accuracy) -> str:
    return {"cie76": "dE76", "cie94": "dE94"}.get(one.name, "dE00")


def sweep_colour_lines(sweep: Sweep, page: Page) -> list[str]:
    """The lists of colours and the gamut at each point of a sweep; nothing where none is measured."""
    names = dict.fromkeys(one.name for row in sweep.rows for one in row.colours)
    covered = dict.fromkeys(row.coverage_space for row in sweep.rows if row.coverage_space)
    if not names and not covered:
        return []
    heads: list[list[str]] = [[*([""] * len(sweep.controls))], [*sweep.controls]]
    for space in covered:
        heads[0].append(f"coverage of {space}")
        heads[1].append("u'v' 1976, %")
    for name in names:
        heads[0] += [f"{name}, dE00", ""]
        heads[1] += ["mean", "greatest"]
    rows = []
    for row in sweep.rows:
        cells = [str(row.settings[name]) for name in sweep.controls]
        cells += [_cell(row.coverage_uv if row.coverage_space == space else None, "%") for space in covered]
        for name in names:
            found = next((one for one in row.colours if one.name == name), None)
            cells += [_cell(found.mean if found else None, "dE00"), _cell(found.maximum if found else None, "dE00")]
        rows.append(cells)
    left = [index for index, name in enumerate(sweep.controls) if isinstance(sweep.rows[0].settings[name], str)]
    lines = ["", *(f"  {row}" for row in columns([*heads, *rows], left=left))]
    conventions = dict.fromkeys(one.convention for row in sweep.rows for one in row.colours)
    if conventions:
        lines += page.prose(f"colours: CIEDE2000 under the convention {' and '.join(conventions)}")
    return lines


def _cell(quantity: Quantity | None, kind: str) -> str:
    return "-" if quantity is None else bare(quantity, kind)
