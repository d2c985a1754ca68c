"""The page of ranks in headless Chromium, from a file, with 500 samples: by keyboard, filtered, marked, on paper."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Error, Page, Request, ViewportSize, expect

from benchd.cli import main
from benchd.library.publish import site_page
from benchd.library.scan import open_library
from benchd.report.site.page import SiteCell, SiteFigure, SitePage, SiteRow, render
from tests.library.conftest import House
from tests.library.made import fill

SAMPLES = 500


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("library")
    fill(folder, SAMPLES, headlines_only=True)
    page = folder / "ranks.html"
    assert main(["library", "site", "--library", str(folder), "-o", str(page), "--title", "All <b>birds</b>"]) == 0
    return page


DESK_SIZE: ViewportSize = {"width": 1280, "height": 720}


@pytest.fixture(scope="module")
def tab(browser: Browser) -> Iterator[Page]:
    """One tab for all tests of the page: a new one would cost a second each."""
    made = browser.new_page()
    made.set_default_timeout(60_000)
    yield made
    made.close()


@pytest.fixture
def page(tab: Page, browser: Browser, file: Path, request: pytest.FixtureRequest) -> Iterator[Page]:
    """The page, loaded anew and watched: no error, no complaint of its policy, no request but for itself."""
    options: dict[str, Any] = getattr(request, "param", {})
    scripts: bool = options.get("java_script_enabled", True)
    made = tab if scripts else browser.new_page(java_script_enabled=False)
    made.set_viewport_size(options.get("viewport", DESK_SIZE))
    made.emulate_media(media="screen", color_scheme=options.get("color_scheme", "light"))
    wrong: list[str] = []
    asked: list[str] = []

    def told(error: Error) -> None:
        wrong.append(str(error))

    def complained(message: ConsoleMessage) -> None:
        wrong.append(message.text)

    def requested(one: Request) -> None:
        asked.append(one.url)

    made.on("pageerror", told)
    made.on("console", complained)
    made.on("request", requested)
    made.goto(file.as_uri())
    yield made
    assert wrong == []
    assert asked == [file.as_uri()], "it is one file"
    made.remove_listener("pageerror", told)
    made.remove_listener("console", complained)
    made.remove_listener("request", requested)
    if made is not tab:
        made.close()


def column(page: Page, name: str) -> list[str]:
    """The texts of a column, from the top."""
    script = """name => {
      const heads = [...document.querySelectorAll('thead th')];
      const index = heads.findIndex(th => th.querySelector(`button[data-order="${name}"]`));
      return [...document.querySelectorAll('#rows tr')].map(tr => tr.cells[index].innerText);
    }"""
    found: list[str] = page.evaluate(script, name)
    return found


def values(texts: list[str]) -> list[float]:
    """The values among the texts: a bound is printed rounded outward, so it says nothing of the order."""
    plain = [text for text in texts if text[0] not in "–<>"]
    return [float(text.partition(" ±")[0].replace(" ", "")) for text in plain]


def focus_on(page: Page, name: str) -> None:
    """Go there with the Tab key alone."""
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.dataset.order || document.activeElement.id") == name:
            return
    raise AssertionError(f"{name} is not reached with the Tab key")


def test_it_opens_in_the_order_of_its_first_figure(page: Page) -> None:
    assert page.title() == "SIMULATED Ranks · All <b>birds</b>"
    expect(page.locator("h1 span")).to_have_text("All <b>birds</b>")
    expect(page.locator("#rows tr")).to_have_count(SAMPLES)
    contrast = values(column(page, "contrast"))
    assert contrast == sorted(contrast, reverse=True)
    expect(page.locator("#shown")).to_have_text("500 of 500 logs, 500 of them SIMULATED")
    assert page.locator("#strip-plot .dot, #strip-plot .open").count() == SAMPLES
    assert page.locator("#pair-plot .dot, #pair-plot .open").count() == SAMPLES


def test_it_is_sorted_by_keyboard(page: Page) -> None:
    focus_on(page, "black")
    page.keyboard.press("Enter")
    head = page.locator('th:has(button[data-order="black"])')
    expect(head).to_have_attribute("aria-sort", "ascending")
    black = values(column(page, "black"))
    assert black == sorted(black), "less black is better, so it comes first"
    assert page.locator('th[aria-sort="ascending"], th[aria-sort="descending"]').count() == 1
    page.keyboard.press("Space")
    expect(head).to_have_attribute("aria-sort", "descending")
    assert values(column(page, "black")) == sorted(black, reverse=True)
    assert page.evaluate("document.activeElement.dataset.order") == "black", "the focus stays"
    focus_on(page, "day")
    page.keyboard.press("Enter")
    days = column(page, "day")
    assert days == sorted(days, reverse=True)
    assert page.locator("#rows td.rank").all_inner_texts() == [""] * SAMPLES, "a day is no rank"


def test_it_is_filtered_by_keyboard(page: Page) -> None:
    focus_on(page, "text")
    page.keyboard.type("plover-27/")
    names = column(page, "sample")
    assert 0 < len(names) < 20
    assert all(name.startswith("plover-27/") for name in names)
    expect(page.locator("#shown")).to_contain_text(f"{len(names)} of 500 logs that have “plover-27/”")
    page.keyboard.press("Control+A")
    page.keyboard.press("Delete")
    expect(page.locator("#rows tr")).to_have_count(SAMPLES)
    page.locator("#limit-figure").select_option("white")
    focus_on(page, "limit-value")
    page.keyboard.type("450")
    page.keyboard.press("Enter")
    white = values(column(page, "white"))
    assert min(white) >= 450
    assert 0 < len(white) < SAMPLES
    page.keyboard.type("much")
    page.keyboard.press("Enter")
    expect(page.locator("#limit-value")).to_have_attribute("aria-invalid", "true")
    expect(page.locator("#shown")).to_have_text("A limit needs a number, such as 1000 or 0.05.")
    page.locator("#limit-value").fill("1e9")
    page.keyboard.press("Enter")
    expect(page.locator("#none")).to_be_visible()
    page.get_by_role("button", name="Take away: White luminance at least 1000000000 cd/m²").press("Enter")
    page.get_by_role("button", name="Take away: White luminance at least 450 cd/m²").press("Enter")
    expect(page.locator("#rows tr")).to_have_count(SAMPLES)


def test_ranks_and_groups_are_those_of_the_command(page: Page, file: Path) -> None:
    folder = file.parent
    store = open_library(folder)
    made = site_page(store, store.samples(), "x")
    store.close()
    for name in ("white", "contrast"):
        page.locator(f'button[data-order="{name}"]').click()
        if page.locator(f'th:has(button[data-order="{name}"])').get_attribute("aria-sort") == "ascending":
            page.locator(f'button[data-order="{name}"]').click()
    ranks = page.locator("#rows td.rank").all_inner_texts()
    assert ranks == [row.rank for row in made.rows]
    assert column(page, "sample") == [row.sample for row in made.rows]
    assert any(rank.endswith(" =") for rank in ranks)
    shared = {rank for rank in ranks if rank.endswith(" =")}
    assert page.locator("#strip-plot .band").count() == len(shared), "one that is alone has no band"


def test_marked_samples_are_named_in_both_plots(page: Page) -> None:
    name = page.locator("button.mark").nth(3)
    text = name.inner_text()
    name.press("Space")
    expect(name).to_have_attribute("aria-pressed", "true")
    for plot in ("#strip-plot", "#pair-plot"):
        expect(page.locator(f"{plot} .label.marked")).to_have_text(text)
        expect(page.locator(f"{plot} .ring")).to_have_count(1)


def test_simulated_stands_wherever_a_figure_does(page: Page) -> None:
    expect(page.locator("#simulated")).to_contain_text("SIMULATED")
    for plot in ("#strip", "#pair"):
        expect(page.locator(f"{plot} .stamp")).to_have_text("SIMULATED")
        expect(page.locator(f"{plot} figcaption")).to_contain_text("SIMULATED")
        assert "SIMULATED" in (page.locator(f"{plot} svg").get_attribute("aria-label") or "")
    assert page.locator("#rows tr", has_text="SIMULATED").count() == SAMPLES


def test_a_plot_follows_the_width_of_the_window(page: Page) -> None:
    before = page.locator("#strip-plot svg").get_attribute("viewBox")
    page.set_viewport_size({"width": 800, "height": 700})
    expect(page.locator("#strip-plot svg")).not_to_have_attribute("viewBox", before or "")
    view = page.locator("#strip-plot svg").evaluate("it => [it.viewBox.baseVal.width, it.clientWidth]")
    assert view[0] == pytest.approx(view[1], abs=1.0)


@pytest.mark.parametrize(
    "page",
    [{"viewport": {"width": 390, "height": 844}}, {"viewport": {"width": 320, "height": 640}, "color_scheme": "dark"}],
    indirect=True,
)
def test_on_a_phone_a_row_is_a_card_and_nothing_scrolls_sideways(page: Page) -> None:
    width = page.viewport_size["width"] if page.viewport_size else 0
    # Figures of a library of colours have long names.
    long = "Colour delta E mean of saturations 20, 40, 60, 80, 100 %, straight from white in CIE 1976 u', v'"
    page.evaluate("(long) => document.querySelectorAll('select').forEach((one) => one.add(new Option(long)))", long)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert page.locator(".wide").evaluate("it => it.scrollWidth <= it.clientWidth")
    card = page.locator("#rows tr").first
    for cell in card.locator("th, td:not(:empty, .absent)").all():
        box = cell.bounding_box()
        assert box is not None
        assert box["width"] > 0
        assert 0 <= box["x"] <= box["x"] + box["width"] <= width + 1
    expect(card.locator(".remarks")).to_contain_text("SIMULATED")
    named = card.locator(".here").evaluate("it => getComputedStyle(it, '::before').content")
    assert "ontrast" in named, "each figure under the name of its column, that of the order first"
    heard = card.aria_snapshot()
    assert heard.startswith("- row"), "and for readers who hear it the table is one still"
    assert "- rowheader" in heard
    page.get_by_role("button", name="Day").click()
    expect(page.locator('th[aria-sort="descending"]')).to_have_text("Day")
    for button in page.locator("button:visible").all()[:12]:
        size = button.bounding_box()
        assert size is not None
        assert size["height"] >= 36


@pytest.mark.parametrize("page", [{"color_scheme": "light"}, {"color_scheme": "dark"}], indirect=True)
def test_text_can_be_read(page: Page) -> None:
    """Contrast of text at least 4.5 to 1 (W3C WCAG 2.2, 1.4.3; the formula of relative luminance from memory)."""
    script = """() => {
      const light = (rgb) => rgb.match(/[\\d.]+/g).slice(0, 3).map((c) => c / 255)
        .map((c) => (c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4))
        .reduce((sum, c, i) => sum + c * [0.2126, 0.7152, 0.0722][i], 0);
      const ratio = (a, b) => (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
      const ground = (it) => { for (let at = it; at; at = at.parentElement) {
        const found = getComputedStyle(at).backgroundColor;
        if (!/, 0\\)|transparent/.test(found)) return light(found); } };
      return ['h1', 'h2', '#about', '#simulated', '#shown', 'figcaption', 'thead button', 'tbody td', '.sim', '.log',
        'footer p', 'label', '#turn'].map((name) => { const it = document.querySelector(name);
        return [name, ratio(light(getComputedStyle(it).color), ground(it))]; });
    }"""
    for name, ratio in page.evaluate(script):
        assert ratio >= 4.5, name


def test_on_paper_the_whole_table_stands_without_controls(page: Page) -> None:
    page.emulate_media(media="print")
    expect(page.locator("#limit")).to_be_hidden()
    expect(page.locator("#turn")).to_be_hidden()
    expect(page.locator("#strip-plot svg")).to_be_visible()
    assert page.locator(".wide").evaluate("it => getComputedStyle(it).maxHeight") == "none"
    expect(page.locator("#simulated")).to_be_visible()


@pytest.mark.parametrize("page", [{"java_script_enabled": False}], indirect=True)
def test_without_scripts_it_is_a_table(page: Page) -> None:
    expect(page.locator("#rows tr")).to_have_count(SAMPLES)
    expect(page.locator("#find")).to_be_hidden()
    expect(page.locator("#rows td.rank").first).to_have_text("1")


def row(sample: str, **changes: Any) -> SiteRow:
    own: dict[str, Any] = {
        "rank": "1",
        "sample": sample,
        "model": "m",
        "cells": (SiteCell("3", 3.0, float("-inf"), None, "below", 'a "why"'),),
        "day": "2026-01-01",
        "plan": "p",
        "note": "n",
        "notice": "",
        "log": "ab",
        "simulated": False,
        "latest": True,
    }
    return SiteRow(**(own | changes))


def test_names_in_logs_do_no_harm(browser: Browser, tmp_path: Path) -> None:
    harm = "document.title='harm'"
    evil = f'</script><script>{harm}</script><img src=http://127.0.0.1:9/x onerror="{harm}">'
    figure = SiteFigure("white", evil, "cd/m2", "highest")
    text = render(SitePage(evil, (figure,), (row(evil), row("b", note=evil, plan=evil)), "white", "0"))
    assert "SIMULATED" not in re.sub(r"<script.*?</script>|<style.*?</style>", "", text, flags=re.DOTALL)
    file = tmp_path / "evil.html"
    file.write_text(text)
    made = browser.new_page()
    asked: list[str] = []
    made.on("request", lambda one: asked.append(one.url))
    made.goto(file.as_uri())
    expect(made.locator("button.mark").first).to_have_text(evil)
    made.locator("button.mark").first.click()
    assert made.title() == f"Ranks · {evil}"
    assert asked == [file.as_uri()]
    made.close()


@pytest.mark.parametrize(
    ("bound_x", "bound_y", "tips"),
    [
        ("above", None, [(1, 0)]),
        ("below", None, [(-1, 0)]),
        (None, "above", [(0, -1)]),
        (None, "below", [(0, 1)]),
        ("below", "above", [(-1, 0), (0, -1)]),
    ],
)
def test_a_bound_points_to_where_the_truth_lies(
    browser: Browser, tmp_path: Path, bound_x: str | None, bound_y: str | None, tips: list[tuple[int, int]]
) -> None:
    """In a window y grows downwards: more contrast is up, so a triangle of "above" has its tip at a smaller y."""
    figures = SiteFigure("white", "White", "cd/m2", "highest"), SiteFigure("contrast", "Contrast", "", "highest")
    cells = [
        SiteCell("5", 5.0, -math.inf if bound == "below" else 5.0, math.inf if bound == "above" else 5.0, bound)
        if bound
        else SiteCell("5", 5.0, 4.0, 8.0, None)
        for bound in (bound_x, bound_y)
    ]
    plain = SiteCell("2", 2.0, 1.9, 2.1, None)
    rows = row("a/1", cells=tuple(cells)), row("b/1", cells=(plain, plain))
    file = tmp_path / "bounds.html"
    file.write_text(render(SitePage("bounds", figures, rows, "white", "0")))
    made = browser.new_page()
    made.goto(file.as_uri())
    assert made.locator("#pair-plot .open").count() == len(tips)
    # Two strokes from one corner: the first leads to the tip, the second on to the other corner.
    drawn = [one.get_attribute("d") or "" for one in made.locator("#pair-plot .open").all()]
    strokes = [[float(part) for part in re.findall(r"l(-?[\d.]+) ?(-?[\d.]+)", d)[0]] for d in drawn]
    assert [
        (math.copysign(1, dx), 0) if x else (0, math.copysign(1, dy))
        for (dx, dy), (x, _) in zip(strokes, tips, strict=True)
    ] == tips
    made.close()


def test_a_skew_interval_is_drawn_with_its_own_ends(browser: Browser, tmp_path: Path) -> None:
    """1.57 (1.08 to 2.40): the line reaches further up than down."""
    figure = SiteFigure("de", "Delta E", "", "lowest")
    rows = (
        row("a/1", cells=(SiteCell("1.57 (1.08 to 2.40)", 1.57, 1.08, 2.40, None),)),
        row("b/1", cells=(SiteCell("4 ± 1", 4.0, 3.0, 5.0, None),)),
    )
    file = tmp_path / "skew.html"
    file.write_text(render(SitePage("skew", (figure,), rows, "de", "0")))
    made = browser.new_page()
    made.goto(file.as_uri())
    whiskers = made.locator("#strip-plot .whisker").get_attribute("d") or ""
    x1, _, x2 = (float(one) for one in re.findall(r"[\d.]+", whiskers)[:3])
    dot = float(made.locator("#strip-plot .dot").first.get_attribute("cx") or "nan")
    assert (x2 - dot) / (dot - x1) == pytest.approx(0.83 / 0.49, rel=0.05)
    expect(made.locator("#rows")).to_contain_text("1.57 (1.08 to 2.40)")
    made.close()


def test_a_long_table_is_listed_in_parts(browser: Browser, tmp_path: Path) -> None:
    figure = SiteFigure("white", "White", "cd/m2", "highest")
    rows = tuple(
        row(f"s/{number}", cells=(SiteCell(str(number), float(number), number - 0.1, number + 0.1, None),))
        for number in range(1100, 0, -1)
    )
    file = tmp_path / "long.html"
    file.write_text(render(SitePage("long", (figure,), rows, "white", "0")))
    made = browser.new_page()
    made.goto(file.as_uri())
    expect(made.locator("#rows tr")).to_have_count(1000)
    expect(made.locator("#shown")).to_have_text("1100 of 1100 logs")
    made.get_by_role("button", name="List the other 100 too").press("Enter")
    expect(made.locator("#rows tr")).to_have_count(1100)
    assert made.evaluate("document.activeElement.innerText") == "s/100", "the focus goes to the first that is new"
    made.close()


def test_the_same_library_gives_the_same_page(house: House, tmp_path: Path) -> None:
    pages = [tmp_path / "one.html", tmp_path / "two.html"]
    for page in pages:
        assert house.run("site", "-o", str(page)) == 0
    assert pages[0].read_bytes() == pages[1].read_bytes()
    assert house.run("site", "-o", str(tmp_path)) == 0
    assert (tmp_path / "index.html").read_bytes() == pages[0].read_bytes()


def test_runs_are_told_apart_in_drawings_and_a_ratio_keeps_its_sign(page: Page) -> None:
    assert page.evaluate("new Set(data.rows.map((row) => row.name)).size === data.rows.length")
    units = {"1099.7 ± 3.9": "1099.7:1 ± 3.9", "3.4 (2.5 to 4.7)": "3.4:1 (2.5 to 4.7)", "> 170 000": "> 170 000:1"}
    assert [page.evaluate("(text) => withUnit(text, ':1')", text) for text in units] == list(units.values())
    assert page.evaluate("withUnit('349.9 ± 4.4', 'cd/m²')") == "349.9 ± 4.4 cd/m²"
    assert page.evaluate("withUnit('2.188', '')") == "2.188"
