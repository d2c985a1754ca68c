"""The colour section of a page: the chromaticity diagram, the gamut with its coverage, colours against their target."""

from __future__ import annotations

from collections.abc import Sequence

from benchd.analysis.results import Results
from benchd.analysis.results_colour import Accuracy, Colours
from benchd.analysis.results_colour import Gamut as GamutBlock
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.report.figure_text import NO_HUE, bare, no_hue
from benchd.report.page.parts import HtmlCell, conventions, method, quantity_cells, table, text_cell
from benchd.report.plots.colours import Gamut, chromaticity_plot, error_plot, white_plot
from benchd.report.plots.plot import Plot, at_settings

CORNERS = ("red", "green", "blue")


def chromaticity_of(several: Sequence[tuple[str, Results]], *, name: str, simulated: bool) -> list[Plot]:
    """The diagram of one log, or of several overlaid; empty where no colour of white or primary is known."""
    measured, said = [], []
    for label, results in several:
        one = _measured(label or "measured", results)
        if one is not None:
            measured.append(one)
            said += _words(label, results)
    target = several[0][1].target
    spaces = []
    if target:
        spaces = [Gamut(target.name, (target.red, target.green, target.blue), target.white)]
    words = " ".join(said)
    tracks = [(label, _track(results)) for label, results in several]
    made = (
        chromaticity_plot(measured, spaces, name=name, words=words, simulated=simulated),
        white_plot(tracks, target.white if target else None, name=name, words=words, simulated=simulated),
    )
    return [plot for plot in made if plot]


def error_plots(results: Results, *, name: str, simulated: bool) -> list[Plot]:
    """Of every list of colours: from the target to what was measured."""
    made = []
    for block in results.of("colours"):
        arrows = [
            (one.name, (one.target_x, one.target_y), point)
            for one in block.patches
            if one.target_x is not None and one.target_y is not None and (point := _point(one.x, one.y))
        ]
        chosen = (one for one in block.accuracy if one.convention == block.primary and one.aim == block.aim)
        worst = next((f"Furthest off: {', '.join(one.worst[:3])}." for one in chosen if one.worst), "")
        title = f"Colours against their targets: {block.block.rpartition('/')[2]}"
        file = f"{name}{''.join(sign if sign.isalnum() else '-' for sign in block.block)}"
        plot = error_plot(arrows[:100], name=file, title=title, words=worst, simulated=simulated)
        if plot:
            made += at_settings([plot], block.block)
    return made


def _track(results: Results) -> list[tuple[float, float, float]]:
    """The grey steps that have a colour, dark to bright; else white alone."""
    colours = [
        (100.0 * step.signal, step.chromaticity) for block in results.of("grayscale")[:1] for step in block.steps
    ]
    colours = colours or [(100.0, block.white_chromaticity) for block in results.of("luminance")[:1]]
    plain = [(signal, one.u_prime, one.v_prime) for signal, one in colours if one.u_prime.plain and one.v_prime.plain]
    return sorted((signal, u.value or 0.0, v.value or 0.0) for signal, u, v in plain)


def _measured(label: str, results: Results) -> Gamut | None:
    white = next((point for block in results.of("luminance") if (point := _white(block.white_chromaticity))), None)
    primaries: tuple[tuple[float, float], ...] = ()
    for block in results.of("gamut"):
        found = {one.name: point for one in block.colours if (point := _point(one.x, one.y))}
        if not primaries and all(corner in found for corner in CORNERS):
            primaries = tuple(found[corner] for corner in CORNERS)
        white = white or found.get("white")
    points = tuple(
        point
        for block in results.of("colours")
        for one in block.patches
        if len(block.patches) <= 60 and (point := _point(one.x, one.y))
    )
    return Gamut(label, primaries, white, points) if primaries or white or points else None


def _white(colour: object) -> tuple[float, float] | None:
    return _point(getattr(colour, "x"), getattr(colour, "y"))  # noqa: B009 - Chromaticity and its kin alike


def _point(x: Quantity, y: Quantity) -> tuple[float, float] | None:
    return (x.value, y.value) if x.plain and y.plain and x.value is not None and y.value is not None else None


def _words(label: str, results: Results) -> list[str]:
    said = []
    for block in results.of("luminance")[:1]:
        colour = block.white_chromaticity
        if colour.x.plain:
            said.append(f"{label or 'White'}: x {bare(colour.x, 'xy')}, y {bare(colour.y, 'xy')}.")
    for gamut in results.of("gamut"):
        for space in gamut.coverage:
            if space.coverage_uv.present:
                said.append(f"{label} covers {bare(space.coverage_uv, '%')} % of {space.label} in u'v'.".strip())
    return said


def colour_html(results: Results) -> str:
    """Tables of the white, of the gamut and of the lists of colours."""
    inner = "" if results.sweep else _whites(results)
    for gamut in results.of("gamut"):
        inner += _gamut(gamut)
    for colours in results.of("colours"):
        inner += _colours(colours)
    return inner


def _whites(results: Results) -> str:
    rows = []
    for block in results.of("luminance"):
        colour = block.white_chromaticity
        parts = ((colour.x, "xy"), (colour.y, "xy"), (colour.u_prime, "xy"), (colour.v_prime, "xy"))
        cells: list[HtmlCell] = [text_cell("white" if block.block == "luminance" else f"white of {block.block}")]
        for quantity, kind in (*parts, (colour.cct, "K"), (colour.duv, "Duv")):
            cells += quantity_cells(quantity, kind, sign=kind == "Duv")
        rows.append(cells)
    head = ["Colour"]
    for title in ("x", "y", "u′", "v′", "CCT, K", "Duv"):
        head += [title, "± U"]
    return table(head, rows, caption="Colour of white", folded=False)


def _gamut(block: GamutBlock) -> str:
    rows = []
    for space in block.coverage:
        cells: list[HtmlCell] = [text_cell(space.label)]
        for quantity in (
            *(space.coverage_uv, space.coverage_xy),
            *(space.area_ratio_uv, space.area_ratio_xy),
            space.volume_ratio,
        ):
            cells += quantity_cells(quantity, "%")
        rows.append(cells)
    head = ["Space"]
    for title in ("Coverage u′v′, %", "Coverage xy, %", "Area ratio u′v′, %", "Area ratio xy, %", "Volume ratio, %"):
        head += [title, "± U"]
    made = table(head, rows, caption="Coverage of colour spaces", folded=False)
    rows = []
    for one in block.colours:
        cells = [text_cell(one.name), *quantity_cells(one.luminance, "cd/m2")]
        for quantity in (one.x, one.y, one.u_prime, one.v_prime):
            cells += quantity_cells(quantity, "xy")
        rows.append(cells)
    head = ["Colour", "L, cd/m²", "± U"]
    for title in ("x", "y", "u′", "v′"):
        head += [title, "± U"]
    return made + table(head, rows, caption=f"Full colours, {block.patch}") + method(block.method)


def _judged(one: Accuracy) -> str:
    """How a list of colours was judged; one that differs in its aim only is named by it."""
    name = f"{one.convention}, {one.aim.removeprefix('target_')}" if one.name == "other_aim" else one.name
    return name.replace("_", " ")


def _colours(block: Colours) -> str:
    rows = []
    for one in block.accuracy:
        chosen = one.convention == block.primary and one.aim == block.aim
        cells: list[HtmlCell] = [text_cell(f"{_judged(one)}{' (chosen by the plan)' if chosen else ''}")]
        for quantity in (one.mean, one.median, one.percentile_95, one.maximum):
            cells += quantity_cells(quantity, "dE00")
        rows.append([*cells, text_cell(", ".join(one.worst[:3]))])
    head = ["Colour difference", "Mean", "± U", "Median", "± U", "95th percentile", "± U", "Maximum", "± U", "Worst"]
    made = table(head, rows, caption=f"Colour differences of {block.list}", folded=len(rows) > 4)
    made += conventions((_judged(one), one.formula, one.white, one.adaptation) for one in block.accuracy)
    rows = []
    for patch in block.patches:
        error = patch.error
        rows.append(
            [
                text_cell(f"{patch.name}{' (outside)' if patch.outside else ''}"),
                text_cell(" ".join(str(channel) for channel in patch.code)),
                *quantity_cells(patch.luminance, "cd/m2"),
                *quantity_cells(patch.x, "xy"),
                *quantity_cells(patch.y, "xy"),
                *quantity_cells(error.total, "dE00"),
                quantity_cells(error.lightness, "dE00", sign=True)[0],
                quantity_cells(error.chroma, "dE00", sign=True)[0],
                text_cell(NO_HUE) if no_hue(error.hue) else quantity_cells(error.hue, "dE00", sign=True)[0],
            ]
        )
    head = ["Colour", "Code", "L, cd/m²", "± U", "x", "± U", "y", "± U", "ΔE₀₀", "± U", "ΔL", "ΔC", "ΔH"]
    return made + table(head, rows, caption=f"Colours of {block.list} against {block.space}") + method(block.method)
