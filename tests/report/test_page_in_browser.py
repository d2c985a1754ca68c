"""The report page in a real browser (headless Chromium): desktop, phone, dark, paper; nothing clipped or fetched."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from benchd.analysis.analyse import analyse
from benchd.analysis.results import Results
from benchd.analysis.verdicts.comparison import Sample, compare
from benchd.analysis.verdicts.panel import same_panel
from benchd.report.data.log_reference import LogReference
from benchd.report.page.compare_page import comparison_page, comparison_plots
from benchd.report.page.results_page import Logged, report_page
from benchd.report.plots.picture import pictures
from tests.report import logged, made
from tests.report.test_html_page import sound
from tests.report.wcag import contrast, lightness

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


SWEPT = """\
plan: swept
warm_up: none
sweep:
  - {control: preset, values: [warm, cool]}
  - {control: brightness, values: [0, 10, 20, 40, 50, 60, 80, 100]}
blocks:
  - luminance: {}
  - contrast: {kinds: [sequential]}
  - grayscale: {steps: 11, only: [{brightness: [50, 100]}]}
"""

LONG = "curlew-of-the-long-name-that-nobody-may-break-" * 3

CARDS = """() => {
  document.querySelectorAll('details').forEach(one => { one.open = true; });
  const wrong = [], seen = (e) => e.getBoundingClientRect();
  for (const cell of document.querySelectorAll('table :is(tbody th, td)')) {
    const box = seen(cell), text = cell.innerText.trim();
    if (!text) continue;
    if (!box.width || box.left < -1 || box.right > innerWidth + 1) wrong.push(['out of sight', text]);
    const named = getComputedStyle(cell, '::before').content.length > 6 || cell.matches('th, .u, .unit, .figures *');
    if (!named) wrong.push(['without a name', text]);
  }
  for (const row of document.querySelectorAll('tbody tr:has(.again)')) {
    const units = [...row.querySelectorAll('td.unit')].slice(0, 2).map(one => [one.innerText, seen(one).width > 1]);
    if (String(units[0]) !== String(units[1])) wrong.push(['without its unit', row.innerText]);
  }
  for (const region of document.querySelectorAll('.scroll'))
    if (region.scrollWidth > region.clientWidth + 1) wrong.push(['scrolls', region.ariaLabel]);
  const rows = [...document.querySelectorAll('.opening tbody tr')].map(row => [...row.cells].map(one => seen(one)));
  return [document.documentElement.scrollWidth, wrong.slice(0, 9), rows.length]; }"""


TOO_WIDE = """() => [...document.querySelectorAll('table')]
  .filter(one => one.getBoundingClientRect().right > innerWidth + 1)
  .map(one => [one.caption.innerText, one.getBoundingClientRect().width, one.rows[0].cells.length])"""


def kinds_of_page() -> dict[str, str]:
    """A page of each kind: of a list of colours, a sweep, a stopped run, several logs, two samples with long names."""
    of = {name: analyse(logged.records(name, simulated=True)) for name in ("quick", "colour-standard")}
    swept = analyse(logged.records(SWEPT, simulated=True))

    def one(results: Results, name: str = "a") -> Logged:
        return Logged(results, LogReference(f"{name}.log", "ab" * 32), ())

    samples = [Sample(f"{LONG}{at}", (of["colour-standard"],), (str(at),)) for at in (1, 2)]
    logs = [[LogReference(f"{LONG}.log", "ab" * 32)] for _ in samples]
    panel = [(samples[1].label, same_panel(swept, swept))]
    plots = comparison_plots(samples)
    return {
        "colour": report_page([one(of["colour-standard"])]),
        "sweep": report_page([one(swept)]),
        "stopped": report_page([one(made.interrupted())]),
        "several": report_page([one(of["quick"]), one(replace(of["quick"], sample=LONG, note=LONG), "b")]),
        "comparison": comparison_page(compare(samples), samples, logs, panel, plots, pictures(plots, png=False)),
    }


def test_on_a_phone_every_cell_of_every_table_is_seen_under_its_name(browser: Browser, tmp_path: Path) -> None:
    """All kinds of page, 390 px wide, in light and dark; folded tables too."""
    page = browser.new_context(viewport={"width": 390, "height": 844}).new_page()
    page.set_default_timeout(60_000)
    for kind, text in kinds_of_page().items():
        sound(text)
        file = tmp_path / f"{kind}.html"
        file.write_text(text, encoding="utf-8")
        page.goto(file.as_uri())
        wide, wrong, rows = page.evaluate(CARDS)
        assert wide <= 390, kind
        assert wrong == [], kind
        assert rows > 0 or kind in ("sweep", "comparison"), kind
        table = page.locator("table").first.aria_snapshot()
        for part in ("table", "row ", "columnheader", "rowheader", "cell"):
            assert f"- {part}" in table, (kind, "a table still for who hears it", table)
        page.set_viewport_size(PAPER["viewport"])
        page.emulate_media(media="print")
        assert page.evaluate(TOO_WIDE) == [], kind
        page.emulate_media(media="screen")
        page.set_viewport_size({"width": 1280, "height": 900})
        texts = page.evaluate("[...document.querySelectorAll('dl.words dd')].map(e => e.clientWidth)")
        assert min(texts) >= 300, (kind, "a long name leaves no room for its text")
        page.set_viewport_size({"width": 390, "height": 844})
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme)
            paper, colours = page.evaluate(COLOURS)
            assert [one for one in set(colours) if contrast(one, paper) < 4.5] == [], (kind, scheme)
    page.context.close()


def test_paper_is_light_though_the_screen_is_dark(browser: Browser, file: Path) -> None:
    page = browser.new_page(**DARK)
    page.emulate_media(media="print", color_scheme="dark")
    page.goto(file.as_uri())
    assert page.evaluate("getComputedStyle(document.documentElement).colorScheme") == "light"
    page.close()


@pytest.mark.parametrize("width", [1280, 1000])
def test_no_column_of_the_differences_is_cut_off(browser: Browser, tmp_path: Path, width: int) -> None:
    """Three displays whose figures have intervals of two ends; the margin is the last column."""
    several = {
        "avocet/1": analyse(logged.records(simulated=True)),
        "plover-27/1": analyse(logged.records(simulated=True, white_cd_m2=495.0)),
        "curlew-32/second sample": analyse(logged.records(simulated=True, white_cd_m2=1110.0, black_cd_m2=0.001)),
    }
    samples = [Sample(name, (results,), (name,)) for name, results in several.items()]
    logs = [[LogReference(f"{name}.log", "ab" * 32)] for name in several]
    file = tmp_path / "page.html"
    file.write_text(comparison_page(compare(samples), samples, logs, [], []), encoding="utf-8")
    page = opened(browser, file, {"viewport": {"width": width, "height": 900}})
    assert any(" to" in text for text in page.locator("td.u").all_inner_texts()), "an interval of two ends"
    ends = "[...document.querySelectorAll('.scroll')].map(e => [e.ariaLabel, e.scrollWidth - e.clientWidth])"
    assert [one for one in page.evaluate(ends) if one[1] > 1] == []
    page.context.close()
