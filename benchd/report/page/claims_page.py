"""Claims on a page: the maker's wording beside the verdict, what was measured, and the conditions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from benchd.analysis.figure_conditions import conditions_text as held_text
from benchd.analysis.verdicts.claim_verdicts import METHOD, ClaimOutcome
from benchd.report.page.parts import esc, method, tag, tied
from benchd.report.terminal.claims_text import CONDITIONS, conditions_text, finding_text

_CLASS = {"met": "met", "not met": "not-met", "inconclusive": "cant", "not measured": "none"}


@dataclass(frozen=True, slots=True)
class ClaimsShown:
    """A checked sheet: whose, where it says so, and how it was measured."""

    product: str
    source: str
    measured: str
    checked: Sequence[ClaimOutcome]


def claims_html(claims: ClaimsShown) -> str:
    """Claim by claim."""
    head = tag("p", esc(f"{claims.product}; source: {claims.source}. Measured: {claims.measured}."))
    items = "".join(_item(one) for one in claims.checked)
    return head + tag("ol", items, class_="claims") + method(f"{METHOD}. {CONDITIONS}")


def _item(one: ClaimOutcome) -> str:
    claim = one.claim
    parts = [tag("p", tag("q", esc(claim.wording)))] + ([tag("p", esc(one.why))] if one.why else [])
    for finding in one.findings:
        if finding.headline is None:
            text = finding.why
        else:
            text = finding_text(finding)
            if len(one.findings) > 1:
                text = f"{finding.sample}, {finding.headline.name}: {finding.outcome}; {text}"
        parts.append(tag("p", esc(tied(text))))
        if finding.headline is not None and finding.headline.conditions:
            parts.append(tag("p", esc(f"holds for {held_text(finding.headline.conditions)}"), class_="small"))
        if finding.conditions:
            parts.append(tag("p", esc(f"in the log: {conditions_text(finding)}"), class_="small"))
    conditions = claim.conditions or "the maker names none"
    parts.append(tag("p", esc(f"{claim.text} · conditions: {conditions}"), class_="small"))
    verdict = tag("p", esc(one.outcome), class_=f"verdict {_CLASS[one.outcome]}")
    return tag("li", verdict + tag("div", "".join(parts)))
