"""Claims on a page: the maker's wording beside the verdict, what was measured, and the conditions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from benchd.analysis.claims import METHOD, Checked
from benchd.report.html_parts import esc, method, tag, tied
from benchd.report.shown import whole
from benchd.report.text_claims import CONDITIONS, chance_text, conditions_text, limits_text

_CLASS = {"met": "met", "not met": "not-met", "can't be told": "cant", "not measured": "none"}


@dataclass(frozen=True, slots=True)
class ClaimsShown:
    """A checked sheet: whose, where it says so, and how it was measured."""

    product: str
    source: str
    measured: str
    checked: Sequence[Checked]


def claims_html(claims: ClaimsShown) -> str:
    """Claim by claim."""
    head = tag("p", esc(f"{claims.product}; source: {claims.source}. Measured: {claims.measured}."))
    items = "".join(_item(one) for one in claims.checked)
    return head + tag("ol", items, class_="claims") + method(f"{METHOD}. {CONDITIONS}")


def _item(one: Checked) -> str:
    claim = one.claim
    parts = [tag("p", tag("q", esc(claim.wording)))]
    for finding in one.findings:
        if finding.headline is None:
            text = finding.why
        else:
            kind = finding.headline.kind
            text = f"measured {whole(finding.headline.quantity, kind)}, claim {limits_text(claim, kind)}: {finding.why}"
            if len(one.findings) > 1:
                text = f"{finding.sample}, {finding.headline.name}: {finding.outcome}; {text}"
            chance = chance_text(finding)
            text += f"; kept with a probability of {chance}" if chance else ""
        parts.append(tag("p", esc(tied(text))))
        if finding.conditions:
            parts.append(tag("p", esc(f"in the log: {conditions_text(finding)}"), class_="small"))
    conditions = claim.conditions or "the maker names none"
    parts.append(tag("p", esc(f"{claim.text} · conditions: {conditions}"), class_="small"))
    verdict = tag("p", esc(one.outcome), class_=f"verdict {_CLASS[one.outcome]}")
    return tag("li", verdict + tag("div", "".join(parts)))
