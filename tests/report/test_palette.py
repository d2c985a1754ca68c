"""The palette is written once: every page takes it in, uses only what is defined, and defines nothing a second time."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import benchd.report.site.page as site
from benchd.daemon import page as service
from benchd.report.drawing.marks import HATCHES, MARKS
from benchd.report.page.parts import CSS
from benchd.report.plots.intervals import target_level
from benchd.report.plots.palette import PALETTE, with_palette
from benchd.report.plots.plot import DASHES, Ink
from tests.report.wcag import contrast

SHEETS = {
    "service": Path(service.__file__).parent / "page.css",
    "ranks": Path(site.__file__).parent / "ranks.css",
    "report": CSS,
}
OWN = {"service": set[str](), "ranks": set[str](), "report": {"--ground", "--paper"}}
"""What a page sets otherwise on a screen: the report has the brighter paper of a document."""


def defined(style: str) -> list[str]:
    """Custom properties that ``style`` sets for a screen in light."""
    screen = re.split(r"@media", style)[0]
    return re.findall(r"(--[a-z0-9-]+)\s*:", screen)


@pytest.mark.parametrize("name", SHEETS)
def test_a_page_takes_the_palette_in_and_writes_none_of_it_again(name: str) -> None:
    palette = set(defined(PALETTE.read_text()))
    own = SHEETS[name].read_text()
    assert palette & set(defined(own)) == OWN[name]
    whole = with_palette(SHEETS[name])
    assert whole.startswith(PALETTE.read_text())
    assert set(re.findall(r"var\((--[a-z0-9-]+)", whole)) <= palette | set(defined(own))


def test_light_and_dark_name_the_same_colours() -> None:
    light, dark = PALETTE.read_text().split("@media", 1)
    coloured = {name for name, value in re.findall(r"(--[a-z-]+): ([^;]+);", light) if value.startswith("#")}
    assert coloured == set(re.findall(r"(--[a-z-]+): #", dark))


INKS = ("--ink", "--faint", "--act", "--warn", "--good", "--bad")
"""Colours of words."""
LINES = ("--edge", "--target", "--red", "--green", "--blue", *(f"--series-{number}" for number in range(1, 7)))
"""Colours of what a plot shows."""


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_words_and_lines_can_be_seen(dark: bool) -> None:
    """4.5 to 1 for words and 3 to 1 for lines (WCAG 2.2, 1.4.3 and 1.4.11), on paper of the report and of the ranks."""
    for sheet, inks in (("report", (*INKS, *LINES)), ("ranks", (*INKS[:4], "--edge"))):
        found: dict[str, str] = {}
        for text in (PALETTE.read_text(), SHEETS[sheet].read_text()):
            light, _, rest = text.partition("@media screen and (prefers-color-scheme: dark)")
            found |= dict(re.findall(r"(--[a-z0-9-]+): (#[0-9a-f]{6})", light))
            found |= dict(re.findall(r"(--[a-z0-9-]+): (#[0-9a-f]{6})", rest.partition("* {")[0])) if dark else {}
        for ink in inks:
            least = 4.5 if ink in INKS else 3.0
            assert contrast(rgb(found[ink]), rgb(found["--paper"])) >= least, (sheet, ink)
    aimed = [0.75 * line + 0.25 * paper for line, paper in zip(*map(levels, (Ink.target, Ink.paper)), strict=True)]
    assert contrast(f"rgb({aimed[0]}, {aimed[1]}, {aimed[2]})", rgb(Ink.paper)) >= 3.0
    assert target_level(0.0).alpha == 0.75


def test_no_series_is_told_by_its_colour_alone() -> None:
    for several in (MARKS, DASHES, HATCHES):
        assert len(set(several)) >= len(Ink.series)


def levels(colour: str) -> list[int]:
    return [int(colour[at : at + 2], 16) for at in (1, 3, 5)]


def rgb(colour: str) -> str:
    return f"rgb({', '.join(map(str, levels(colour)))})"


def test_the_service_sends_the_whole_style() -> None:
    assert service.FILES["/page.css"].body.decode() == with_palette(SHEETS["service"])
