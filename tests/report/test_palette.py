"""The palette is written once: every page takes it in, uses only what is defined, and defines nothing a second time."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import benchd.report.site.page as site
from benchd.daemon import page as service
from benchd.report.page.parts import CSS
from benchd.report.plots.palette import PALETTE, with_palette

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


def test_the_service_sends_the_whole_style() -> None:
    assert service.FILES["/page.css"].body.decode() == with_palette(SHEETS["service"])
