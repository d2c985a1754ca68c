"""A place of the grid has the same digits in the text's maps, in the plots and in the page's table."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any
from unittest.mock import patch

from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.analysis.log.log_data import collect
from benchd.analysis.log.step_light import MeterRange
from benchd.measurements.uniformity import show
from benchd.measurements.uniformity.analysis import uniformity
from benchd.measurements.uniformity.results import Uniformity
from benchd.report.page.section_html import section_html
from benchd.report.terminal.section_text import sections_text
from tests.analysis.logs import Log, xyz
from tests.measurements.uniformity.test_uniformity import WHITE, block

SIZE = 3
SHARES = st.lists(st.floats(0.3, 1.0), min_size=SIZE * SIZE, max_size=SIZE * SIZE)
SHIFTS = st.lists(st.floats(-0.01, 0.01), min_size=SIZE * SIZE, max_size=SIZE * SIZE)
AT_ODDS = (-1.0, 0.2, 0.8)
"""How three readings lie about their mean, in units of the drawn scatter."""


def measured(peak: float, shares: Sequence[float], shifts: Sequence[float], scatter: float) -> Uniformity:
    log = Log([block(SIZE, SIZE, WHITE)])
    for number, (share, shift) in enumerate(zip(shares, shifts, strict=True)):
        row, column = divmod(number, SIZE)
        labels = {"row": row + 1, "column": column + 1, "level": "white", "level_percent": 100}
        light, x, y = peak * share, 0.3127 + shift, 0.3290 - shift
        several = [xyz(light * (1.0 + scatter * odd), x + scatter * odd / 30.0, y) for odd in AT_ODDS]
        at = (0.1 * (column + 1), 0.1 * (row + 1))
        log.measure(f"uniformity/r{row + 1}c{column + 1}/white", labels, several, code=255, at=at)
    return uniformity(collect(log.end()), block(SIZE, SIZE, WHITE), MeterRange())


def of_text(found: Uniformity) -> list[list[str]]:
    """The cells of luminance, deviation and distance, from the left upper corner."""
    text = sections_text([show.section(found)], simulated=False, width=300)
    lines = [re.findall(r"\br\d((?: +\[?[-+]?\d\S*){3})", line) for line in text.splitlines()]
    maps = zip(*(line for line in lines if len(line) == SIZE), strict=True)
    return [re.sub(r"[\[\]]", "", " ".join(rows)).split() for rows in maps]


def of_plots(found: Uniformity) -> dict[str, list[str]]:
    """Name of a plot -> the cells as they are drawn."""
    drawn: dict[str, list[str]] = {}
    for plot in show.plots([("log", found)], "uniformity", False):

        def keep(
            _: Any, __: Any, texts: Sequence[Sequence[str]], *___: Any, name: str = plot.name, **____: Any
        ) -> None:
            drawn[name.rpartition("-")[2]] = [text.replace("−", "-") for row in texts for text in row]

        with patch.object(show, "shaded_cells", keep):
            plot.draw(None)
    return drawn


def of_page(found: Uniformity, head: str) -> list[str]:
    html = section_html(show.section(found), [], anchor="a", title="a", simulated=False)
    cells = re.findall(rf'data-label="{head}[^"]*"[^>]*>(.*?)</td>', html)
    plain = (re.sub(r"<[^>]+>|[\u2007\u2008]", "", cell) for cell in cells)
    return [text.replace("−", "-") for text in plain]


@settings(max_examples=40, deadline=None)
@given(
    peak=st.floats(0.02, 2000.0),
    shares=SHARES,
    shifts=SHIFTS,
    scatter=st.sampled_from((0.0, 1e-5, 1e-4, 3e-4, 1e-3, 0.01)),
)
def test_text_plots_and_page_have_the_same_digits(
    peak: float, shares: list[float], shifts: list[float], scatter: float
) -> None:
    found = measured(peak, shares, shifts, scatter)
    luminance, deviation, distance = of_text(found)
    plotted = of_plots(found)
    assert plotted["luminance"] == deviation == of_page(found, "Deviation")
    assert plotted["colour"] == distance == of_page(found, "u′v′")
    for cells in (luminance, deviation, distance):
        assert len(cells) == SIZE * SIZE
        assert len({len(text.partition(".")[2]) for text in cells}) == 1, "each cell has the same last digit"
