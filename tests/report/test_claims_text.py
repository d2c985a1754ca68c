"""Claims in words: no sentence contradicts its verdict, whatever the interval and the claim."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from benchd.analysis.results import Results
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.analysis.uncertainty.sources import Contributions, Fixed, Source, Stated
from benchd.analysis.verdicts.claim_verdicts import METHOD, Claim, ClaimOutcome, check_claims
from benchd.report.data.verdicts import claims_json
from benchd.report.model import Section
from benchd.report.page.section_html import section_html
from benchd.report.sections.claims import ClaimsShown, claims_section, limits_text, verdict_text
from benchd.report.terminal.section_text import sections_text
from tests.report import made


class Skew:
    """Sources with a skew interval, ``below`` and ``above`` the value."""

    def __init__(self, below: float, above: float) -> None:
        self.below, self.above = below, above

    def contributions(self) -> Contributions:
        return {Source("noise"): (self.below + self.above) / 4.0}

    def stated(self, value: float) -> Stated:
        return Stated((self.below + self.above) / 2.0, None, math.inf, value - self.below, value + self.above)


def log(white: Quantity) -> Results:
    return made.results(
        luminance=(replace(made.luminance(), white=white),), uncertainty={"calibration_percent": 1.0}, simulated=False
    )


def claim(low: float | None, high: float | None, *, typical: bool = False) -> Claim:
    allowed = 10.0 if typical else None
    return Claim("white luminance", low, high, "cd/m2", "as written", "its words", "", typical, allowed)


def checked(white: Quantity, low: float | None, high: float | None, *, typical: bool = False) -> ClaimOutcome:
    (found,) = check_claims([claim(low, high, typical=typical)], [log(white)])
    return found


def shown(checked: list[ClaimOutcome]) -> Section:
    return claims_section(ClaimsShown("P", "S", "m", checked))


def claims_text(checked: list[ClaimOutcome]) -> str:
    return sections_text([shown(checked)], simulated=False)


def claims_html(checked: list[ClaimOutcome]) -> str:
    return section_html(shown(checked), (), anchor="claims", title="Claims", simulated=False)


def symmetrical(value: float, u: float) -> Quantity:
    return Quantity(value, "cd/m2", 3, u, sources=Fixed(((Source("readings"), u),)))


def number(text: str) -> float:
    return float(text.replace(" ", ""))


NUMBER = r"-?[0-9][0-9 ]*(?:\.[0-9]+)?"


def read_back(one: ClaimOutcome) -> str:
    """The verdict that a reader draws from the numbers of the sentence alone."""
    (finding,) = one.findings
    why, limits = verdict_text(finding), limits_text(one.claim, "cd/m2")
    if two := re.search(f"interval, ({NUMBER}) to ({NUMBER}) cd/m2", why):
        low, high = number(two[1]), number(two[2])
    else:
        side = re.search(f"what it allows, (more|less) than ({NUMBER}) cd/m2", why)
        assert side, why
        end = number(side[2])
        low, high = (end, math.inf) if side[1] == "more" else (-math.inf, end)
    least, most = -math.inf, math.inf
    if found := re.match(f"at least ({NUMBER})", limits):
        least = number(found[1])
    elif found := re.match(f"at most ({NUMBER})", limits):
        most = number(found[1])
    else:
        found = re.match(f"({NUMBER}) to ({NUMBER})", limits)
        assert found, limits
        least, most = number(found[1]), number(found[2])
    if low >= least and high <= most:
        return "met"
    return "not met" if high < least or low > most else "inconclusive"


WORDS = {"met": " is within the claim", "not met": " is outside the claim", "inconclusive": " is neither within nor "}

values = st.floats(0.5, 2e6).map(lambda one: float(f"{one:.12g}"))
widths = st.floats(1e-7, 1.5)
near = st.one_of(st.floats(-3.0, 3.0), st.sampled_from([-1.0, 1.0, 0.0]), st.floats(-1e-6, 1e-6).map(lambda d: 1.0 + d))
digits = st.integers(1, 9)


@settings(max_examples=400, deadline=None)
@given(
    values, widths, widths, st.sampled_from(["plain", "skew", "above", "below"]), near, near, digits, st.integers(0, 3)
)
def test_the_sentence_says_what_the_verdict_says(
    value: float, share: float, other: float, kind: str, at: float, beyond: float, kept: int, sides: int
) -> None:
    """Limits beside the ends of the interval too, where rounding would put them on the other side."""
    below, above = value * share, value * other
    if kind == "plain":
        white, below = symmetrical(value, above / 1.959963984540054), above
    elif kind == "skew":
        white = Quantity(value, "cd/m2", 3, None, sources=Skew(below, above))
    else:
        white = Quantity(value, "cd/m2", 3, None, "under", kind, "a bound")  # type: ignore[arg-type]

    def limit(factor: float) -> float:
        exact = value + factor * (above if factor > 0 else below)
        return float(f"{exact:.{kept}g}")

    first, second = sorted((limit(at), limit(beyond)))
    assume(first > 0.0)  # no claim has another
    low, high = [(first, None), (None, first), (first, second), (first, None)][sides]
    found = checked(white, low, high, typical=sides == 3)
    assert read_back(found) == found.outcome, verdict_text(found.findings[0])
    why = verdict_text(found.findings[0])
    assert [outcome for outcome, words in WORDS.items() if words in why] == [found.outcome]
    chance = found.findings[0].probability
    if chance is not None:  # one-sided 97.5 %, two-sided 95 %
        assert chance >= 0.949 or found.outcome != "met"
        assert chance <= 0.0251 or found.outcome != "not met"


def test_the_guard_band_is_named_in_every_view() -> None:
    found = checked(symmetrical(352.0, 1.0), 350.0, None)
    assert verdict_text(found.findings[0]) == (
        "the 95 % coverage interval, 350.04 to 354.0 cd/m2, is within the claim; guard band 2.0 cd/m2"
    )
    skew = checked(Quantity(352.0, "cd/m2", 3, None, sources=Skew(1.0, 5.0)), 350.0, None)
    assert verdict_text(skew.findings[0]).endswith("guard bands 1.0 cd/m2 below and 5.0 cd/m2 above the figure")
    text = " ".join(claims_text([found]).split())
    page = claims_html([found])
    data = claims_json(ClaimsShown("P", "S", "m", [found]), simulated=False)
    assert METHOD.startswith("guarded acceptance and guarded rejection, guard band w = U")
    for view in (text, page):
        assert "JCGM 106:2012, 8.3" in view
        assert "guard band 2.0" in view.replace("\u00a0", " ")
    finding = data["claims"][0]["findings"][0]
    assert finding["guard_band"] == {"below": pytest.approx(1.96, abs=1e-3), "above": pytest.approx(1.96, abs=1e-3)}
    assert finding["why"] == verdict_text(found.findings[0])


def test_a_million_to_one_is_printed_as_it_is() -> None:
    """It ended with an error that benchd did not know."""
    line = replace(claim(1e6, None), figure="contrast", unit="1", text="contrast >= 1 000 000:1")
    (found,) = check_claims([line], [made.results(uncertainty={"calibration_percent": 1.0})])
    text = claims_text([found])
    assert "at least 1 000 000:1" in " ".join(text.split())
    assert limits_text(claim(1234567.0, None), "cd/m2") == "at least 1 234 567 cd/m2", "no rounding moves a limit"
    assert limits_text(claim(0.00004, None), "cd/m2") == "at least 0.00004 cd/m2"
    own = replace(claim(30.8363319, None), own_unit="fL", unit_size=3.4262591)
    assert limits_text(own, "cd/m2") == "at least 9 fL (30.8363319 cd/m2)", "in the unit that the maker states"


def test_a_bound_counts_as_it_is_printed() -> None:
    """247 000 is printed as > 240 000: so it leaves a claim of 245 000 open, in the sentence and in the verdict."""
    white = Quantity(247_000.0, "cd/m2", 3, None, "under", "above", "a bound")
    assert checked(white, 245_000.0, None).outcome == "inconclusive"
    assert checked(white, 240_000.0, None).outcome == "met"
    why = verdict_text(checked(white, 245_000.0, None).findings[0])
    assert why == (
        "the figure is only a bound; what it allows, more than 240 000 cd/m2, is neither within nor outside the claim: "
        "it holds the limit of 245 000"
    )


def test_where_a_claim_leaves_open_what_it_means_the_reason_is_said() -> None:
    found = checked(symmetrical(352.0, 1.0), 350.0, None)
    open_one = replace(found, outcome="inconclusive", why="they disagree")
    assert "they disagree" in claims_text([open_one])
    assert "they disagree" in claims_html([open_one])
    assert claims_json(ClaimsShown("P", "S", "m", [open_one]), simulated=False)["claims"][0]["why"] == "they disagree"


def test_a_verdict_on_unstable_readings_says_so() -> None:
    steady = checked(symmetrical(350.0, 2.0), 300.0, None).findings[0]
    unstable = checked(symmetrical(350.0, 2.0)._replace(status="unstable"), 300.0, None).findings[0]
    assert "unstable" not in verdict_text(steady)
    assert verdict_text(unstable) == f"{verdict_text(steady)}; note: the meter called readings of it unstable"
