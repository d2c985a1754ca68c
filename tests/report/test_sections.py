"""One section as data, drawn on a terminal and on a page: both have every figure, each in its own way."""

from __future__ import annotations

import re

import pytest

from benchd.analysis.uncertainty.quantity import Quantity, absent
from benchd.analysis.uncertainty.sources import Fixed, Source
from benchd.report.model import (
    Amount,
    Column,
    Heading,
    Item,
    Judged,
    Line,
    Map,
    Named,
    Part,
    Section,
    Table,
    Together,
    Verdict,
    Words,
    ending,
)
from benchd.report.page.section_html import section_html
from benchd.report.plots.picture import pictures, with_pictures
from benchd.report.plots.plot import Plot
from benchd.report.terminal.section_text import section_lines
from benchd.report.terminal.text_page import Page
from tests.report import made


def known(value: float, u: float, unit: str = "cd/m2") -> Quantity:
    """A figure whose standard uncertainty is ``u``."""
    return made.q(value, unit)._replace(sources=Fixed(((Source("readings"), u),)))


ROWS = tuple((name, known(100.0 + 3.0 * n, 1.0), known(0.3, 0.001, "xy"), n) for n, name in enumerate("abc"))
COLUMNS = (
    Column("patch"),
    Column("L", "cd/m2", uncertainty=True),
    Column("x", "xy", uncertainty=True, rank=1, note="x after CIE 15"),
    Column("n"),
)


def text(*items: Item, width: int = 100) -> str:
    return "\n".join(section_lines(Section("gloss", "Gloss", "two angles", items), Page(width))[1:])


def page(*items: Item, plots: tuple[Plot, ...] = ()) -> str:
    shown = Section("gloss", "Gloss", "two angles", items)
    written = section_html(shown, plots, anchor="gloss", title="Gloss", simulated=True)
    return with_pictures(written, pictures(plots, png=False))


def test_a_table_has_its_uncertainties_beside_or_in_sentences() -> None:
    table = Table("Patches", COLUMNS, ROWS)
    wide, narrow = text(table), text(table, width=24)
    assert "  patch  cd/m2    ±       x       ±  n" in wide.splitlines()
    assert "a      100.0  2.0  0.3000  0.0020  0" in wide
    assert "x after CIE 15" in wide
    assert "interval" not in wide
    assert "  patch  cd/m2  n" in narrow.splitlines()
    assert "a, 95 % interval: L ± 2.0" in " ".join(narrow.split())
    assert "CIE 15" not in narrow, "what is not shown is not explained"


def test_a_page_has_all_columns_with_signs_of_print() -> None:
    html = page(Table("dE00 of patches", COLUMNS, ROWS))
    for head in ("Patch", "L, cd/m²", "± U", "x", "n"):
        assert f">{head}</th>" in html
    assert "ΔE₀₀ of patches" in html
    assert html.count("±\u00a02.0<") == html.count("±\u00a00.0020<") == len(ROWS)
    assert "x after CIE 15" in html


def test_empty_columns_are_left_out_and_the_first_never_is() -> None:
    rows = (("", absent("cd/m2", "not measured"), None, 1),)
    assert text(Table("t", COLUMNS, rows)).splitlines()[1].split() == ["patch", "n"]
    assert ">Patch</th>" in page(Table("t", COLUMNS, rows))
    assert "cd/m²" not in page(Table("t", COLUMNS, rows))


def test_a_terminal_has_the_first_rows_and_a_page_all() -> None:
    table = Table("Patches", COLUMNS, ROWS * 10, most=4)
    assert "and 26 more; the data have them all" in text(table)
    assert "the worst 4 of 30; the data have them all" in text(table._replace(order="worst"))
    assert page(table).count('<tr role="row">') == 31
    assert text(table._replace(most=0)) == "gloss · two angles"


def test_words_go_on_in_the_next_line_before_a_line_is_too_long() -> None:
    rows = (
        ("green of the second display", "a sentence that is far too long for a column of this page", known(1.0, 0.1)),
    )
    table = Table("t", (Column("what"), Column("why"), Column("L", "cd/m2")), rows)
    lines = text(table, width=60).splitlines()
    assert max(map(len, lines)) <= 60
    assert "".join(lines).replace(" ", "").count("sentence") == 1


def test_a_line_has_its_evidence_and_why_it_is_absent() -> None:
    one = Line("white", known(384.6, 1.0), "cd/m2", ("full screen",))
    gone = Line("black", absent("cd/m2", "it was not measured"), "cd/m2", ("full screen",))
    shown = text(one, gone)
    assert re.search(r"white +384\.6 ± 2\.0 cd/m2 +k = 1\.96, n 3   full screen", shown)
    assert re.search(r"black +absent +it was not measured", shown)
    html = page(one, gone)
    assert "it was not measured" in html
    assert html.count("full screen") == 1, "what is absent has no further words"
    assert "Figures of Gloss" in html


@pytest.mark.parametrize(
    ("unit", "shown"), [("1", "1091.0:1 ± 2.0"), ("ratio", "1091.0 ± 2.0"), ("ms", "1091.0 ± 2.0 ms")]
)
def test_units_are_open(unit: str, shown: str) -> None:
    assert shown in text(Line("figure", known(1091.0, 1.0, unit), unit))


def test_figures_that_belong_together_leave_out_what_is_absent() -> None:
    item = Together(
        "colour", (Part("x", known(0.3, 0.001, "xy"), "xy"), Part("CCT", absent("K", "far off"), "K")), "no CCT"
    )
    assert re.search(r"colour +x 0\.3000 ± 0\.0020   no CCT$", text(item))
    html = page(item)
    assert "CCT, K" not in html
    assert "no CCT" in html


def test_parts_of_a_section_have_their_plots_under_them() -> None:
    plots = tuple(
        Plot(name, name, f"shows {name}", lambda axes: None, True, under=under)
        for name, under in (("whole", ""), ("level", "grey50"))
    )
    html = page(Words("first"), Heading("grey50", "code 128"), Words("second"), plots=plots)
    order = [html.index(part) for part in ("shows whole", "First", "grey50, code 128", "shows level", "Second")]
    assert order == sorted(order)
    assert "gloss grey50 · code 128" in text(Heading("grey50", "code 128"), Words("second"))


def test_a_map_is_for_terminals() -> None:
    cells = ((known(1.0, 0.1), known(2.0, 0.1)),)
    assert "[2.0" in text(Map("luminance", "cd/m2", cells, marked=(1, 2)))
    assert page(Map("luminance", "cd/m2", cells), *ending("", "read twice")).count("<table") == 0


def test_the_end_of_a_section_says_what_is_missing_and_how_it_was_had() -> None:
    assert text(*ending("white", "read twice")).splitlines()[1:] == ["  incomplete: white", "  how: read twice"]
    html = page(*ending("white", "read twice"))
    assert '<p class="warning">Incomplete: white</p>' in html
    assert re.search(r"<summary>Definitions and methods: Gloss</summary>.*Read twice", html)


def test_rows_with_units_of_their_own_are_set_in_columns_that_share_them() -> None:
    """The pair and the change: two columns of units on a page, since both of a pair have the same."""
    columns = (
        *(Column("figure"), Column("verdict")),
        *(Column(name, uncertainty=True, own=True) for name in ("unit-a", "unit-b")),
        Column("difference", uncertainty=True),
    )
    light, share = Amount(known(350.0, 2.0), "cd/m2"), Amount(known(11.0, 0.5, "%"), "%")
    points = Amount(known(2.0, 0.5, "%"), "%", sign=True, said="points")
    rows = (
        ("white", Verdict("different"), light, light, Amount(known(3.0, 0.5, "%"), "%", sign=True)),
        ("spread", Verdict("inconclusive"), share, "–", points),
    )
    table = Table("Differences", columns, rows, topics=("luminance", "uniformity"))
    drawn = [" ".join(line.split()) for line in text(table).splitlines()]
    assert "white different 350.0 ± 3.9 cd/m2 350.0 ± 3.9 cd/m2 +3.00 ± 0.98 %" in drawn
    assert "spread inconclusive 11.00 ± 0.98 % – +2.00 ± 0.98 points" in drawn
    html = page(table)
    assert html.count(">Unit</th>") == 3
    pair = page(table._replace(rows=rows[:1], topics=()))
    assert pair.count('unit">Unit</th>') == 3
    assert pair.count('again unit">Unit</th>') == 1, "that of the first of the pair, for a phone alone"
    assert '<span class="verdict different">different</span>' in html
    assert ">unit-a</th>" in html, "a name that the user gave keeps its letters"
    assert ">Uniformity</th>" in html
    narrow = text(table, width=70)
    assert max(map(len, narrow.splitlines())) <= 70
    assert set(" ".join(drawn).split()) == set(narrow.split()), "nothing is lost"


def test_a_verdict_stands_before_what_it_rests_on() -> None:
    judged = Judged(
        Verdict("not met"), "contrast >= 1000:1", (Words("800:1 was measured"), Words("cells 4 x 4", level=1))
    )
    named = Named((("sample", "a <b>"), ("note", "")))
    drawn = text(named, judged, Words("one claim"))
    assert drawn.splitlines()[1:] == [
        "  sample    a <b>",
        "",
        "NOT MET   contrast >= 1000:1",
        "  800:1 was measured",
        "    cells 4 x 4",
        "",
        "  one claim",
    ]
    html = page(named, judged)
    assert '<p class="verdict not-met">not met</p>' in html
    assert '<p class="small">cells 4 x 4</p>' in html
    assert "<dt>sample</dt><dd>a &lt;b&gt;</dd></dl>" in html, "what has no text is left out"
