"""Plots: the same bytes from the same figures, SIMULATED in each, nothing fetched, every colour the page's own."""

from __future__ import annotations

import io
import re
import sys
from dataclasses import replace
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from PIL import Image, ImageFont

from benchd import parallel
from benchd.analysis.analyse import analyse
from benchd.analysis.results import Results
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.measurements.grayscale.plots import plots as grayscale_plots
from benchd.profile.colour_codes import uv_prime
from benchd.report.data.log_reference import LogReference
from benchd.report.drawing.axes import Axes, Curve, Note
from benchd.report.drawing.axis import Axis
from benchd.report.drawing.layout import laid_out
from benchd.report.drawing.shapes import Text
from benchd.report.drawing.typeface import FILE
from benchd.report.page.results_page import Logged, report_plots
from benchd.report.plots.chromaticity import Chromaticities, diagrams, merged
from benchd.report.plots.grey_labels import label_greys
from benchd.report.plots.intervals import halves
from benchd.report.plots.locus import LOCUS
from benchd.report.plots.picture import Drawing, Picture, pictures
from benchd.report.plots.plot import COLOURS, DOTS_PER_INCH, ON_PAGE, Plot
from benchd.report.plots.shaded_cells import shaded_cells
from tests.oracles import colour
from tests.report import logged, made
from tests.report.test_html_page import Skew

_PNG = b"\x89PNG\r\n\x1a\n"


@pytest.fixture(scope="module")
def results() -> Results:
    return analyse(logged.records(simulated=True))


@pytest.fixture(scope="module")
def plots(results: Results) -> list[Plot]:
    return report_plots([Logged(results, LogReference("a.log", "ab" * 32), ())])


@pytest.fixture(scope="module")
def drawn(plots: list[Plot]) -> list[Picture]:
    return pictures(plots)


def test_a_standard_run_gives_its_plots(plots: list[Plot]) -> None:
    names = [plot.name for plot in plots]
    assert len(set(names)) == len(names)
    assert {"grayscale-luminance", "grayscale-gamma", "grayscale-balance", "grayscale-delta-e"} <= set(names)
    assert {"uniformity-white-luminance", "white-chromaticity", "white-close"} <= set(names)


def test_the_same_figures_give_the_same_bytes(plots: list[Plot], drawn: list[Picture]) -> None:
    assert pictures(plots[:3]) == drawn[:3]
    assert [one.inline for one in pictures(plots[:3], png=False)] == [one.inline for one in drawn[:3]]
    for one in drawn:
        assert one.png.startswith(_PNG)
        height, width, _ = pixels(one.png).shape
        assert width == round(DOTS_PER_INCH * one.plot.width_in)
        title_and_conditions = height / DOTS_PER_INCH - one.plot.height_in
        assert 0.3 < title_and_conditions < 1.0


def test_drawn_by_two_processes_they_are_the_same_bytes(
    plots: list[Plot], drawn: list[Picture], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(parallel, "cores", lambda: 2)
    monkeypatch.setattr(sys, "_current_frames", lambda: {0: None})  # the test runner's own threads hold nothing
    with Drawing(plots[:4]) as drawing:
        assert list(drawing) == drawn[:4]


def test_no_date_no_maker_no_raster_in_an_svg(drawn: list[Picture]) -> None:
    for one in drawn:
        ElementTree.fromstring(one.svg)
        for never in ("dc:date", "dc:creator", "<image", "data:", "@font-face"):
            assert never not in one.svg, (one.plot.name, never)


def test_simulated_is_burned_in_and_only_where_it_is_true(drawn: list[Picture]) -> None:
    for one in drawn:
        assert ">SIMULATED<" in one.svg
        assert ">SIMULATED<" in one.inline
        assert "SIMULATED" in re.findall(r'aria-label="([^"]*)"', one.inline)[0]
    (real,) = pictures([replace(drawn[0].plot, simulated=False)])
    assert "SIMULATED" not in real.svg + real.inline


def test_simulated_is_seen_in_every_plot(plots: list[Plot], drawn: list[Picture]) -> None:
    """Not hidden by what is drawn over it, in a map as little as between curves."""
    real = pictures([replace(one.plot, simulated=False) for one in drawn])
    for plot, one, other in zip(plots, drawn, real, strict=True):
        said, bare = pixels(one.png), pixels(other.png)
        stands_out = np.abs(said - bare).max(axis=-1) > 15
        assert stands_out.mean() > 0.01, plot.name
        rows, columns = np.nonzero(stands_out)
        assert np.ptp(columns) > 0.4 * stands_out.shape[1], plot.name
        assert np.ptp(rows) > 0.2 * stands_out.shape[0], plot.name


def texts(svg: str) -> list[str]:
    """All texts in the order in which they are drawn."""
    return [one.text or "" for one in ElementTree.fromstring(svg).iter("{http://www.w3.org/2000/svg}text")]


def test_no_number_lies_under_the_mark(drawn: list[Picture]) -> None:
    """What is written within the axes is drawn after it; all else stands outside of what it is clipped to."""
    inside = {"uniformity-white-luminance": "0.00", "white-close": "100 %", "white-chromaticity": "520"}
    for one in drawn:
        name, said = one.plot.name, texts(one.svg)
        assert re.search(r'<g clip-path="[^"]+">\s*<text[^>]*>SIMULATED<', one.svg), name
        last = len(said) - 1 - said[::-1].index("SIMULATED")
        if name in inside:
            assert said.index(inside.pop(name)) > last, name
    assert len(inside) < 3


def test_a_file_says_whose_figures_it_shows_and_how_they_were_had(drawn: list[Picture]) -> None:
    for one in drawn:
        plot = one.plot
        for words in ("plover-27/1", "plan sdr-standard", "2026-03-02", "meter LAPWING 0007", "target srgb"):
            assert words in " ".join(texts(one.svg)), plot.name
            assert words in plot.conditions
        assert Image.open(io.BytesIO(one.png)).info["Description"] == f"SIMULATED {plot.text}"
        assert f"<title>{plot.title}</title>" in one.svg


def test_greys_are_labelled_and_no_label_lies_on_another() -> None:
    axes = Axes()
    track = [(10.0 * step, 0.0004 * step, -0.0004 * step) for step in range(1, 11)]
    label_greys(axes, [track, [(signal, u + 0.0003, v) for signal, u, v in track]], 0.006, [])
    notes = [one for one in axes.items if isinstance(one, Note)]
    assert [one.text for one in notes] == ["100 %", "10 %", "50 %", "20 %", "70 %"], "of the first alone"
    axes.x = axes.y = Axis("", -0.006, 0.006)
    axes.equal = True
    assert len(texts_apart(axes, 4.8, 4.9)) == 5


def test_numbers_of_a_map_of_many_places_leave_each_other_room() -> None:
    axes = Axes()
    values = [[0.0001 * (row + column) for column in range(9)] for row in range(7)]
    texts = [[f"{one:.4f}" for one in row] for row in values]
    shaded_cells(axes, values, texts, (0.0, 0.004), label="u′v′ from the centre r4c5", more_is_dark=True)
    assert len(texts_apart(axes, 4.8, 3.25)) == 63


def texts_apart(axes: Axes, width_in: float, height_in: float) -> list[Text]:
    """The notes as they are laid out, of which no two touch, by the widths of the type itself."""
    wanted = {one.text for one in axes.items if isinstance(one, Note)}
    layers = laid_out(axes, (72.0 * width_in, 72.0 * height_in), COLOURS)
    found = [one for layer in layers for one in layer.shapes if isinstance(one, Text) and one.text in wanted]
    boxes = []
    for one in found:
        left, top, right, bottom = ImageFont.truetype(str(FILE), one.size).getbbox(one.text, anchor="ms")
        assert one.across == "middle"
        boxes.append((one.at[0] + left, one.at[1] + top, one.at[0] + right, one.at[1] + bottom))
    for at, (left, top, right, bottom) in enumerate(boxes):
        for l2, t2, r2, b2 in boxes[:at]:
            assert right < l2 or r2 < left or bottom < t2 or b2 < top, found[at].text
    return found


def pixels(png: bytes) -> Any:
    """(height, width, 3) levels from 0 to 255."""
    return np.asarray(Image.open(io.BytesIO(png)).convert("RGB"), dtype=int)


def test_a_plot_on_a_page_has_the_pages_colours_and_identifiers_of_its_own(drawn: list[Picture]) -> None:
    seen: set[str] = set()
    for one in drawn:
        text = one.inline
        assert f">{one.plot.title}<" not in text, "the page has it"
        assert "plan sdr-standard" not in text, "the page has it"
        ElementTree.fromstring(re.sub(r"\bxlink:", "", text))
        assert not any(ink in text for ink in ON_PAGE)
        assert "DejaVu" not in text
        found = re.findall(r'\bid="([^"]+)"', text)
        assert len(found) == len(set(found))
        assert not seen & set(found)
        seen |= set(found)
        assert set(re.findall(r'(?:href="|url\()#([^")]+)', text)) <= set(found)


def test_marks_in_the_plot_are_the_figures(results: Results) -> None:
    """The points of the tone plot, read back from what was drawn, are the luminances."""
    from benchd.measurements.grayscale.plots import plots as gray_plots

    block = results.of("grayscale")[0]
    axes = Axes()
    gray_plots([("", block)], name="g", simulated=False)[0].draw(axes)
    (line,) = [one for one in axes.items if isinstance(one, Curve) and one.label == "measured"]
    assert line.points == [(100 * step.signal, step.luminance.value) for step in block.steps if step.luminance.plain]


def test_nothing_to_show_makes_no_plot() -> None:
    empty = made.results(grayscale=(), uniformity=(), luminance=(), contrast=(), patches=())
    assert report_plots([Logged(empty, LogReference("a.log", "ab" * 32), ())]) == []


def test_the_spectral_locus_is_that_of_the_standard_observer() -> None:
    """Against colour-science's CIE 1931 2-degree observer (ISO/CIE 11664-1)."""
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    for nm, x, y in LOCUS:
        xyz = observer[nm]
        assert (x, y) == pytest.approx((xyz[0] / sum(xyz), xyz[1] / sum(xyz)), abs=1e-5), nm
    assert uv_prime(0.3127, 0.3290) == pytest.approx((0.1978, 0.4683), abs=5e-5)  # D65, CIE 15


def test_a_skew_interval_is_drawn_with_both_of_its_ends() -> None:
    """1.57 (1.08 to 2.40): not as far down as up."""
    assert halves(Quantity(1.57, "1", 3, sources=Skew())) == pytest.approx((0.49, 0.83))
    assert halves(Quantity(1.57, "1", 3)) == (0.0, 0.0)


def test_the_spaces_that_a_plan_names_are_drawn_each_in_its_own_dash_and_mark() -> None:
    corners = {"p3-d65": 0.68, "bt2020": 0.708, "a": 0.6, "b": 0.61, "c": 0.62}
    spaces = [
        Chromaticities(name, ((x, 0.3), (0.2, 0.7), (0.15, 0.06)), (0.3127, 0.329)) for name, x in corners.items()
    ]
    for several, names in ((spaces[:2], ["p3-d65", "bt2020"]), (spaces, [])):
        own = Chromaticities("", ((0.64, 0.33), (0.3, 0.6), (0.15, 0.06)), spaces=tuple(several))
        axes = Axes()
        plot, *_ = diagrams([merged("", [own, own])], None, name="white", simulated=False)
        plot.draw(axes)
        named = [one for one in axes.items if isinstance(one, Curve) and one.label]
        assert [one.label for one in named] == [*names, "measured"], "of a plan that names none there would be too many"
        assert len({(one.dash, one.mark) for one in named}) == len(named)


def overlaid(target: str = "srgb", second_white: float = 495.0, black: float = 0.35) -> dict[str, tuple[Plot, Axes]]:
    """The grayscale plots of two displays with one target; the second has another white."""
    both = (
        analyse(logged.records(target_name=target)),
        analyse(logged.records(target_name=target, white_cd_m2=second_white, black_cd_m2=black)),
    )
    found = {}
    for plot in grayscale_plots([(str(at), one.of("grayscale")[0]) for at, one in enumerate(both)], "gray", False):
        axes = Axes()
        plot.draw(axes)
        found[plot.name] = plot, axes
    return found


def test_displays_of_two_whites_are_drawn_in_percent_of_their_own_white_with_one_target() -> None:
    plot, axes = overlaid()["gray-luminance"]
    assert axes.y.label == "luminance, % of white (logarithmic)"
    target, *lines = [one for one in axes.items if isinstance(one, Curve) and one.joined]
    assert [one.label for one in (target, *lines)] == ["target", "0", "1"]
    for one in (target, *lines):
        assert one.points[-1] == pytest.approx((100.0, 100.0))
    for signal, light in target.points:  # IEC 61966-2-1
        assert light == pytest.approx(100.0 * ((signal / 100.0 + 0.055) / 1.055) ** 2.4, rel=1e-4)
    assert "each in percent of its own white, with the target's curve" in plot.text


def test_a_target_that_is_not_the_same_for_all_is_not_drawn_and_the_text_says_so() -> None:
    """BT.1886 lifts the curve by the black of the display."""
    found = overlaid("bt1886", second_white=384.0, black=0.05)
    for name in ("gray-luminance", "gray-gamma"):
        plot, axes = found[name]
        assert "target" not in [one.label for one in axes.items if isinstance(one, Curve)], name
        assert "without the target's curve, which is not the same for all" in plot.text, name
