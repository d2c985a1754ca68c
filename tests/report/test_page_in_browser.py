"""The report page in a real browser (headless Chromium): desktop, phone, dark, paper; nothing clipped or fetched."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from benchd.analysis.analyse import analyse
from benchd.analysis.verdicts.comparison import Sample, compare
from benchd.analysis.verdicts.panel import same_panel
from benchd.report.data.log_reference import LogReference
from benchd.report.page.compare_page import comparison_page, comparison_plots
from benchd.report.page.results_page import Logged, report_page
from benchd.report.plots.picture import pictures
from tests.report import logged

DESK: dict[str, Any] = {"viewport": {"width": 1280, "height": 900}}
DARK: dict[str, Any] = {**DESK, "color_scheme": "dark"}
PHONE: dict[str, Any] = {"viewport": {"width": 360, "height": 780}}
PAPER: dict[str, Any] = {"viewport": {"width": 688, "height": 980}}  # 182 mm between the margins of A4

TEXTS = """() => [...document.querySelectorAll('svg')].map(svg => {
  const box = svg.getBoundingClientRect();
  return [svg.closest('figure').innerText.split('\\n')[0], [box.left, box.top, box.right, box.bottom],
    [...svg.querySelectorAll('text')].filter(t => t.textContent !== 'SIMULATED' && t.textContent.trim()).map(t => {
      const b = t.getBoundingClientRect(); return [t.textContent, b.left, b.top, b.right, b.bottom]; })]; })"""

COLOURS = """() => {
  const seen = (e, name) => getComputedStyle(e)[name];
  const paper = seen(document.body, 'backgroundColor');
  const words = [...document.querySelectorAll('p, dd, dt, td, th, h1, h2, h3, summary, a, figcaption, .verdict')];
  const marks = [...document.querySelectorAll('svg text')].filter(t => t.textContent !== 'SIMULATED'
    && getComputedStyle(t).fill !== 'rgb(0, 0, 0)' && getComputedStyle(t).fill !== 'rgb(255, 255, 255)');
  return [paper, [...words.map(e => seen(e, 'color')), ...marks.map(e => seen(e, 'fill'))]]; }"""


@pytest.fixture(scope="module", params=["report", "comparison"])
def file(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A page of a standard run, and one of three displays with long names."""
    path: Path = tmp_path_factory.mktemp("pages") / f"{request.param}.html"
    results = analyse(logged.records(simulated=True))
    if request.param == "report":
        text = report_page([Logged(results, LogReference("a.log", "ab" * 32), ())])
    else:
        names = ("plover-27/first sample", "curlew-32/second sample", "avocet-27/1")
        samples = [Sample(name, (results,), (name,)) for name in names]
        logs = [[LogReference(f"{name}.log", "ab" * 32)] for name in names]
        panel = [(names[1], same_panel(results, results))]
        plots = comparison_plots(samples)
        text = comparison_page(compare(samples), samples, logs, panel, plots, pictures(plots, png=False))
    path.write_text(text, encoding="utf-8")
    return path


def opened(browser: Browser, file: Path, options: dict[str, Any]) -> Page:
    """The page; asserts that it asks for nothing but itself and that the browser has no complaint."""
    page = browser.new_context(**options).new_page()
    page.set_default_timeout(60_000)
    wrong: list[str] = []
    asked: list[str] = []
    page.on("console", lambda message: wrong.append(message.text))
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("request", lambda request: asked.append(request.url))
    page.goto(file.as_uri())
    assert wrong == []
    assert asked == [file.as_uri()]
    return page


def fits(page: Page) -> None:
    """Nothing is wider than the page, and no text of a plot is cut off or lies on another."""
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    plots = page.evaluate(TEXTS)
    assert plots
    for name, (left, top, right, bottom), texts in plots:
        for text, a, b, c, d in texts:
            assert left - 1 <= a, (name, text)
            assert top - 1 <= b, (name, text)
            assert c <= right + 1, (name, text)
            assert d <= bottom + 1, (name, text)
        for index, (text, a, b, c, d) in enumerate(texts):
            for other, e, f, g, h in texts[index + 1 :]:
                wide, high = min(c, g) - max(a, e), min(d, h) - max(b, f)
                assert wide <= 1 or high <= 3, (name, text, other)


@pytest.mark.parametrize("options", [DESK, PHONE], ids=["desk", "phone"])
def test_nothing_is_clipped_and_nothing_overlaps(browser: Browser, file: Path, options: dict[str, Any]) -> None:
    page = opened(browser, file, options)
    fits(page)
    assert page.title().startswith("SIMULATED")
    wide = (
        "[...document.querySelectorAll('.scroll')].filter(e => e.scrollWidth > e.clientWidth + 1 && e.tabIndex !== 0)"
    )
    assert page.evaluate(f"{wide}.length") == 0, "what scrolls can be reached from the keyboard"
    page.context.close()


@pytest.mark.parametrize("options", [DESK, PHONE], ids=["desk", "phone"])
@pytest.mark.parametrize("file", ["comparison"], indirect=True)
def test_no_verdict_is_out_of_sight(browser: Browser, file: Path, options: dict[str, Any]) -> None:
    page = opened(browser, file, options)
    right = (
        "[...document.querySelector('table').querySelectorAll('.verdict')].map(e => e.getBoundingClientRect().right)"
    )
    ends = page.evaluate(right)
    assert ends
    assert max(ends) <= page.evaluate("innerWidth"), "of a table that is scrolled sideways"
    page.context.close()


@pytest.mark.parametrize("options", [DESK, DARK], ids=["light", "dark"])
def test_words_and_plots_can_be_read_in_light_and_dark(browser: Browser, file: Path, options: dict[str, Any]) -> None:
    """Contrast of at least 4.5:1 (WCAG 2.2, 1.4.3), and a dark page is dark."""
    page = opened(browser, file, options)
    paper, colours = page.evaluate(COLOURS)
    for colour in set(colours):
        assert contrast(colour, paper) >= 4.5, (colour, paper)
    assert (lightness(paper) < 0.05) == (options is DARK)
    page.context.close()


def test_paper_has_all_of_it(browser: Browser, file: Path) -> None:
    """Folded tables are unfolded, no row is wider than the sheet, and there is a PDF."""
    page = opened(browser, file, PAPER)
    page.emulate_media(media="print", color_scheme="dark")
    fits(page)
    tables = "[...document.querySelectorAll('table')]"
    assert page.evaluate(f"{tables}.filter(t => t.getBoundingClientRect().right > innerWidth + 1).length") == 0
    assert page.evaluate(f"{tables}.filter(t => t.getBoundingClientRect().height === 0).length") == 0
    paper, _ = page.evaluate(COLOURS)
    assert "rgba(0, 0, 0, 0)" in paper or lightness(paper) > 0.9, "paper is white, whatever the screen"
    assert page.pdf(prefer_css_page_size=True).startswith(b"%PDF")
    page.context.close()


def test_every_plot_says_what_it_shows(browser: Browser, file: Path) -> None:
    page = opened(browser, file, DESK)
    labels = page.evaluate("[...document.querySelectorAll('svg')].map(s => [s.getAttribute('role'), s.ariaLabel])")
    for role, label in labels:
        assert role == "img"
        assert label.startswith("SIMULATED ")
        assert any(sign.isdigit() for sign in label), "with figures, not only a title"
    page.context.close()


def channels(colour: str) -> list[float]:
    return [float(part) for part in colour.partition("(")[2].rstrip(")").split(",")[:3]]


def lightness(colour: str) -> float:
    """Relative luminance (WCAG 2.2)."""
    linear = [c / 255 / 12.92 if c / 255 <= 0.04045 else ((c / 255 + 0.055) / 1.055) ** 2.4 for c in channels(colour)]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(first: str, second: str) -> float:
    high, low = sorted((lightness(first), lightness(second)), reverse=True)
    return (high + 0.05) / (low + 0.05)
