"""Claim sheets: what a claim may look like, and what is said of one that can't be read."""

from __future__ import annotations

import pytest

from benchd.analysis.catalogue import headlines
from benchd.measurements.declared_figure import DeclaredFigure
from benchd.profile import claim_sheet
from benchd.profile import profile_store as library
from benchd.profile.claim_sheet import Terms, claimable, terms_of
from tests.plan.helpers import refusal
from tests.report import made

SHEET = """\
sheet: plover-27
product: Plover 27 (invented)
source: invented data sheet
claims:
  - claim: white luminance >= 350 cd/m2
    wording: "Brightness: 350 nits"
"""


@pytest.mark.parametrize(
    ("text", "terms"),
    [
        ("white luminance >= 350 cd/m2", Terms("white luminance", 350.0, None, "cd/m2", typical=False)),
        ("white luminance>=350cd/m²", Terms("white luminance", 350.0, None, "cd/m2", typical=False)),
        ("White Luminance ≥ 350 nits", Terms("white luminance", 350.0, None, "cd/m2", typical=False)),
        ("black luminance < 0.3 cd/m2", Terms("black luminance", None, 0.3, "cd/m2", typical=False)),
        ("contrast 1000:1 typical", Terms("contrast", 1000.0, None, "1", typical=True)),
        ("contrast 1 000 000 : 1 typ.", Terms("contrast", 1e6, None, "1", typical=True)),
        ("grayscale delta E mean 2 typical", Terms("grayscale delta E mean", None, 2.0, "1", typical=True)),
        ("white CCT 6500 K ± 300 K", Terms("white CCT", 6200.0, 6800.0, "K", typical=False)),
        ("white CCT 6500 +- 300", Terms("white CCT", 6200.0, 6800.0, "K", typical=False)),
        ("coverage of P3-D65 >= 90 %", Terms("coverage of P3-D65", 90.0, None, "%", typical=False)),
        (
            "peak luminance of a 10 % window >= 1000 cd/m2",
            Terms("peak luminance of a 10 % window", 1000.0, None, "cd/m2", typical=False),
        ),
        (
            "white luminance at brightness=100 >= 350 cd/m2",
            Terms("white luminance at brightness=100", 350.0, None, "cd/m2", typical=False),
        ),
        (
            "white at preset=low blue brightness=100 >= 350 cd/m2",
            Terms("white luminance at preset=low blue brightness=100", 350.0, None, "cd/m2", typical=False),
        ),
        ("CCT 6500 K ± 5 %", Terms("white CCT", 6175.0, 6825.0, "K", typical=False)),
        ("black <= 0.5", Terms("black luminance", None, 0.5, "cd/m2", typical=False)),
        ("srgb-coverage >= 95 %", Terms("coverage of sRGB / BT.709 in u'v'", 95.0, None, "%", typical=False)),
        ("white Duv >= -0.002", Terms("white Duv", -0.002, None, "1", typical=False)),
        ("white >= 100 fL", Terms("white luminance", 342.62591, None, "cd/m2", False, "fL", 3.4262591)),
    ],
)
def test_what_a_claim_may_look_like(text: str, terms: Terms) -> None:
    assert terms_of(text) == terms


@pytest.mark.parametrize(
    ("claim", "said"),
    [
        ("white luminence >= 350 cd/m2", "did you mean white luminance"),
        ("white luminance >= 350 lx", "unit 'lx' does not fit white luminance"),
        ("contrast >= 1000 cd/m2", "no unit, or :1 for a ratio"),
        ("contrast 1000:1", "state how the number is meant"),
        ("white luminance", "write a figure, a sign or 'typical', and a number"),
        ("white luminance >= 350 typical", "either '>=' or 'typical'"),
        ("white CCT >= 6500 ± 300 K", "remove '>='"),
        ("white luminance at full >= 350", "is no point of a sweep"),
        ('">= 350"', "write a figure, a sign or 'typical', and a number"),
        ("white luminance >= -5 cd/m2", "white luminance is never below zero"),
        ("HDR contrast of a 5 x 5 board >= 3", "is now called contrast of a 5 x 5 board"),
        ("whit >= 350", "did you mean white or "),
        ("cctt 6500 ± 300", "did you mean cct or "),
    ],
)
def test_a_claim_that_cannot_be_read_is_told_with_its_place(claim: str, said: str) -> None:
    text = SHEET.replace("white luminance >= 350 cd/m2", claim)
    (fault,) = refusal(library.load_claims, text, "sheet.yaml").faults
    assert (fault.line, fault.column) == (5, 12)
    assert said in fault.text


def test_every_fault_of_a_sheet_is_told_at_once() -> None:
    text = SHEET.replace("sheet: plover-27", "sheet: plover 27").replace("wording:", "words:")
    assert {fault.line for fault in refusal(library.load_claims, text, "sheet.yaml").faults} >= {1, 6}


def test_the_shipped_sheet_loads_and_says_that_it_is_invented() -> None:
    path = library.find("claims", "plover-27")
    sheet = library.load_claims(library.read_text(path), str(path))
    assert "invented" in sheet.product
    assert all(line.terms.figure for line in sheet.claims)


def test_names_and_units_are_those_of_the_report() -> None:
    """A claim must find its figure: the two lists are of one mind."""
    found = {one.name: one for one in headlines(made.results())}
    for one in claimable():
        if one.name in found:
            assert found[one.name].quantity.unit == one.quantity_unit, one.name
            assert found[one.name].better == one.better, one.name
    assert {"white luminance", "contrast", "gamma", "grayscale delta E mean"} <= set(found)


@pytest.mark.parametrize(
    ("written", "example"),
    [
        ("Peak luminance of a 2.5 % window", "peak luminance of a 10 % window"),
        ("contrast of a 5 x 5 board", "contrast of a 3 x 3 board"),
        ("peak luminance of an 18 % window", "peak luminance of a 10 % window"),
        ("contrast of an 11 x 11 board", "contrast of a 3 x 3 board"),
        ("colour delta E mean", "colour delta E mean"),
        ("colour delta E mean of skin-memory", "colour delta E mean"),
        ("coverage of sRGB", "coverage of sRGB / BT.709"),
        ("coverage of sRGB in xy", "coverage of sRGB / BT.709"),
        ("sustained luminance of a 5 % window, share of its peak", "sustained luminance of a 10 % window, share"),
        ("non-uniformity of grey50", "non-uniformity of white"),
    ],
)
def test_a_family_knows_its_members(written: str, example: str) -> None:
    found = next(one for one in claimable() if one.called(written))
    assert found.called(written) == written
    assert found.example.startswith(example)


def test_a_number_has_its_article() -> None:
    [peak] = [one for one in claimable() if one.name == "peak luminance of a {} % window"]
    for size, article in (
        ("8", "an"),
        ("11", "an"),
        ("18", "an"),
        ("80", "an"),
        ("2", "a"),
        ("1.8", "a"),
        ("100", "a"),
    ):
        name = f"peak luminance of {article} {size} % window"
        assert peak.of(size).name == name
        assert peak.called(f"peak luminance of a {size} % window") == name, "as it may be typed"


@pytest.mark.parametrize("written", ["contrast of a 3 x 5 board", "peak luminance of a full window", "gamma of"])
def test_a_family_knows_no_other(written: str) -> None:
    assert not [one for one in claimable() if one.called(written)]


def test_units_are_open(monkeypatch: pytest.MonkeyPatch) -> None:
    """A kind of measurement may give figures in any unit; a claim is written in it, and in no other."""
    lag = DeclaredFigure("input lag", "lag", "ms", "less")
    monkeypatch.setattr(claim_sheet, "claimable", lambda: iter([*claimable(), lag]))
    assert terms_of("input lag <= 10 ms") == Terms("input lag", None, 10.0, "ms", False)
    assert terms_of("input lag 8 ms typical") == Terms("input lag", None, 8.0, "ms", True)
    with pytest.raises(ValueError, match="unit 'Hz' does not fit input lag, which has ms"):
        terms_of("input lag <= 10 Hz")
