"""The page as text: self-contained, well formed, escaped, with every figure that the results have."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise
from typing import NamedTuple

import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.catalogue import headlines
from benchd.analysis.log.history import Event
from benchd.analysis.results import Results
from benchd.analysis.uncertainty.quantity import Quantity, relabelled
from benchd.analysis.uncertainty.sources import Fixed, Source, Stated
from benchd.analysis.verdicts.claim_verdicts import Claim, check_claims
from benchd.analysis.verdicts.comparison import Sample, compare
from benchd.analysis.verdicts.panel import same_panel
from benchd.report.data.log_reference import LogReference
from benchd.report.figure_text import figure, value_and_interval
from benchd.report.page.compare_page import comparison_page, comparison_plots, shortened
from benchd.report.page.parts import HtmlCell, aligned, number_cell, quantity_cells, tied
from benchd.report.page.results_page import Logged, report_page
from benchd.report.plots.picture import pictures
from benchd.report.sections.claims import ClaimsShown
from benchd.report.units import behind, printed
from tests.report import logged, made

VOID = {"meta", "link", "br", "hr", "img", "input"}


class Read(HTMLParser):
    """Elements that are opened and closed, identifiers, links, and the text."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.ids: list[str] = []
        self.links: list[str] = []
        self.outer: list[str] = []
        self.text: list[str] = []
        self.levels: list[int] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: Sequence[tuple[str, str | None]]) -> None:
        if tag not in VOID:
            self.open.append(tag)
        if tag in ("h1", "h2", "h3", "h4"):
            self.levels.append(int(tag[1]))
        for name, value in attrs:
            if name == "id":
                self.ids.append(value or "")
            if name in ("href", "xlink:href", "src", "action", "poster", "srcset"):
                (self.links if (value or "").startswith("#") else self.outer).append(value or "")
            assert not name.startswith("on"), "no script, not even in an attribute"

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] != "style":
            self.text.append(data)


def one(results: Results, events: tuple[Event, ...] = ()) -> Logged:
    return Logged(results, LogReference("plover-27-1/a.log", "ab" * 32), events)


def sound(text: str) -> Read:
    """The page read; asserts what holds of every page."""
    read = Read(text)
    assert read.open == []
    assert len(read.ids) == len(set(read.ids))
    assert {link[1:] for link in read.links} <= set(read.ids)
    assert read.outer == []
    assert read.levels[0] == 1, "headings are in order: none is left out on the way down"
    assert all(1 < level <= before + 1 for before, level in pairwise(read.levels))
    assert "<script" not in text
    assert "@import" not in text
    assert not re.findall(r"url\((?!#)", text)
    assert not re.findall(r"""(?:src|href)=["']?(?:https?:|//)""", text)
    return read


@pytest.fixture(scope="module")
def simulated() -> Results:
    return analyse(logged.records(simulated=True))


@pytest.fixture(scope="module")
def page(simulated: Results) -> str:
    return report_page([one(simulated)])


def test_the_page_needs_nothing_else(page: str) -> None:
    sound(page)
    assert "default-src 'none'" in page


def test_the_same_log_gives_the_same_page(page: str, simulated: Results) -> None:
    assert report_page([one(simulated)]) == page


def test_every_headline_figure_is_on_it(page: str, simulated: Results) -> None:
    words = " ".join(" ".join(sound(page).text).replace("\u2007", "").replace("\u2008", "").split())
    for one in headlines(simulated):
        value = value_and_interval(one.quantity, one.unit, sign=one.unit == "Duv")[0].replace("-", "−")
        assert value in words, one.name
    assert "ab" * 32 in words
    for missing in simulated.absent:
        assert missing.why in words


def test_simulated_stands_in_the_title_the_head_and_every_section_with_figures(page: str) -> None:
    assert page.count("<title>SIMULATED ") == 1
    assert 'class="banner"' in page
    assert page.count('class="sim"') >= 10
    real = report_page([one(analyse(logged.records()))])
    assert "SIMULATED" not in real


def test_a_log_not_ended_says_so() -> None:
    text = report_page([one(made.interrupted())])
    sound(text)
    assert "has not ended" in text


def test_names_are_text_and_never_markup() -> None:
    hostile = "<img src=x onerror=alert(1)>&\"'"
    events = (Event(9, "2026-03-02T18:12:00Z", 1, 3.0, "fault", hostile, hostile),)
    text = report_page([one(made.results(sample=hostile, note=hostile, plan=hostile), events)])
    read = sound(text)
    assert "<img" not in text
    assert hostile in "".join(read.text)


def test_several_logs_are_chapters_with_identifiers_of_their_own(simulated: Results) -> None:
    text = report_page([one(simulated), one(made.results())])
    read = sound(text)
    assert {"log1-summary", "log2-summary"} <= set(read.ids)


def known(value: float, u: float, unit: str = "cd/m2") -> Quantity:
    return Quantity(value, unit, 3, sources=Fixed(((Source("noise"), u),)))


def test_claims_keep_wording_and_conditions() -> None:
    results = made.results()
    claim = Claim(
        "white luminance", 350.0, None, "cd/m2", "white luminance >= 350 cd/m2", "“350 nits & more”", "brightness 100"
    )
    shown = ClaimsShown("Plover 27", "a sheet", "as it came", check_claims([claim], [results]))
    text = report_page([one(results)], shown)
    sound(text)
    for words in ("350 nits &amp; more", "conditions: brightness 100", "inconclusive", "guard band"):
        assert words in text


def test_the_caption_promises_the_truth_only_where_something_is_stated_of_the_meter() -> None:
    simulated = analyse(logged.records("quick", simulated=True))
    promise = "the true value is within ± U"
    known = {"calibration_percent": 1.0, "k": 2.0, "calibration_age_years": 0.5}
    stated = replace(simulated, uncertainty=known)
    silent = replace(simulated, uncertainty=None)
    assert promise in report_page([Logged(stated, LogReference("a.log", "ab" * 32), ())])
    page = report_page([Logged(silent, LogReference("a.log", "ab" * 32), ())])
    assert promise not in page
    assert "Nothing is stated of the meter" in page


def test_long_names_are_shortened_unless_they_would_be_one() -> None:
    long = "plover" * 30
    short, other = shortened([long, "curlew"])
    assert len(short) <= 32
    assert other == "curlew"
    pair = [long, f"{long[:90]}x{long[90:]}"]
    assert shortened(pair) == tuple(pair)


def test_a_comparison_is_a_page_too(simulated: Results) -> None:
    samples = [Sample("a <b>", (simulated,), ("1",)), Sample("c", (simulated,), ("2",))]
    logs = [[LogReference("a.log", "aa" * 32)], [LogReference("b.log", "bb" * 32)]]
    panel = [("c", same_panel(simulated, simulated))]
    plots = comparison_plots(samples)
    text = comparison_page(compare(samples), samples, logs, panel, plots, pictures(plots, png=False))
    read = sound(text)
    assert "a <b>" in "".join(read.text)
    assert "Same panel in c as in a &lt;b&gt;?" in text
    assert text.count("<svg") >= 5


@pytest.mark.parametrize(
    ("value", "u", "kind", "shown"),
    [
        (384.6123, 1.05, "cd/m2", "384.6 ± 2.1 cd/m²"),
        (384.6123, 12.0, "cd/m2", "385 ± 24 cd/m²"),
        (0.35246, 0.002, "cd/m2", "0.3525 ± 0.0039 cd/m²"),
        (1091.2, 6.0, "1", "1091:1 ± 12"),
        (6478.2, 0.2, "K", "6478.2 ± 0.4 K"),
        (0.31312, 0.00001, "xy", "0.31312 ± 0.00002"),
    ],
)
def test_figure_and_uncertainty_end_at_the_same_digit(value: float, u: float, kind: str, shown: str) -> None:
    """U = 1.96 u, two digits at most (JCGM 100, 7.2.6, from memory); a page and the results' text say the same."""
    unit = {"1": "1", "xy": "1"}.get(kind, kind)
    quantity = known(value, u, unit)
    assert figure(quantity, kind, printed(behind(kind))) == shown
    value_cell, about_cell = quantity_cells(quantity, kind)
    assert about_cell.html.startswith("±\u00a0"), "a line never ends between them"
    assert f"{value_cell.html} {about_cell.html}".replace("\u00a0", " ") == figure(quantity, kind, "")


class Skew(NamedTuple):
    """A source whose interval is not symmetrical."""

    def contributions(self) -> dict[Source, float]:
        return {Source("noise"): 0.3}

    def stated(self, value: float) -> Stated:
        return Stated(0.66, None, math.inf, 1.08, 2.4)


def test_an_interval_that_is_not_symmetrical_is_no_plus_minus() -> None:
    quantity = Quantity(1.574, "1", 3, sources=Skew())
    assert figure(quantity, "dE00", "") == "1.57 (1.08 to 2.40)"
    cells = [cell.html for cell in quantity_cells(quantity, "dE00")]
    assert cells == ["1.57", "1.08 to\u00a02.40"], "where it must, a line ends before the upper end"
    assert tied("at most 1.57 (1.08 to -2.40) K") == "at most 1.57 (1.08\u00a0to\u00a0-2.40) K"
    # Named apart for a comparison, it is the same figure.
    assert figure(relabelled(quantity, "second:"), "dE00", "") == "1.57 (1.08 to 2.40)"


def test_decimal_points_stand_in_a_line() -> None:
    cells = [number_cell(text) for text in ("349.9", "0.3182", "1100")] + [HtmlCell("words")]
    padded = aligned(cells)
    assert [len(re.sub("<.*?>", "", text).partition(".")[2]) for text in padded[:2]] == [4, 4]
    assert padded[2] == '1100<span class="pad">\u2007\u2007\u2007\u2007\u2008</span>'
    assert padded[3] == "words"


def test_greys_of_a_window_say_so_on_the_page(page: str, simulated: Results) -> None:
    [gray] = simulated.of("grayscale")
    shown = made.changed(simulated, grayscale=(replace(gray, patch="10 % window, surround 0 %"),))
    assert " steps, 10 % window, surround 0 %, against: " in report_page([one(shown)])
    assert " steps against: " in page


def test_a_screen_has_the_conditions_of_its_plots_once_and_whose_they_are_below_each(page: str) -> None:
    [(of, held)] = set(re.findall(r'<small class="whose">([^<]+)</small><small>([^<]+)</small>', page))
    assert of == "plover-27/1; 2026-03-02"
    assert page.count(f"All plots: {held}") == 1
    assert page.count('class="whose"') == page.count('class="plot"')


def test_a_unit_is_written_in_one_way(page: str) -> None:
    assert "cd/m²" in page
    assert not re.findall(r">[^<]*cd/m2[^<]*<", page)
