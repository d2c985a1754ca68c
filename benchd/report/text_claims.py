"""Claims as text: the maker's wording, what was measured, the verdict, and the conditions it belongs to."""

from __future__ import annotations

from collections.abc import Sequence

from benchd.analysis.claims import METHOD, Checked, Claim, Finding
from benchd.report.digits import grouped
from benchd.report.page import page_for
from benchd.report.shown import UNIT_TEXT, whole
from benchd.report.words import count, paint

_STYLE = {"met": "green", "not met": "red", "can't be told": "yellow", "not measured": "dim"}


def limits_text(claim: Claim, kind: str) -> str:
    """``at least 350 cd/m²``; a typical value with the allowance of one unit."""
    unit = UNIT_TEXT.get(kind, "")
    unit = "" if kind == "1" and claim.unit != "1" else unit

    def shown(value: float) -> str:
        text = grouped(f"{value:.6g}")
        return f"{text}:1" if unit == ":1" else f"{text} {unit}".strip()

    if claim.low is not None and claim.high is not None:
        words = f"{shown(claim.low)} to {shown(claim.high)}"
    elif claim.low is not None:
        words = f"at least {shown(claim.low)}"
    else:
        words = f"at most {shown(claim.high or 0.0)}"
    if claim.typical:
        words += f" (typical value, {claim.allowance_percent:g} % allowed to one unit)"
    return words


def chance_text(finding: Finding) -> str:
    """How probable it is that the claim is kept, never nearer to certainty than can be known."""
    if finding.probability is None:
        return ""
    percent = 100.0 * finding.probability
    if percent > 99.9:
        return "> 99.9 %"
    return "< 0.1 %" if percent < 0.1 else f"{percent:.1f} %"


CONDITIONS = (
    "Conditions are held against the log where it has them: a sweep's settings, the note, signal, window and warm-up. "
    "One that differs leaves no verdict; whether those that are not recorded were kept is for the reader to see."
)


def conditions_text(finding: Finding) -> str:
    """``brightness 100: met (brightness was set to 100); preset srgb: not recorded``."""
    return "; ".join(
        f"{one.text}: {one.state}" + (f" ({one.found})" if one.found else "") for one in finding.conditions
    )


def render_claims(
    product: str,
    source: str,
    checked: Sequence[Checked],
    *,
    simulated: bool,
    measured: str,
    width: int = 100,
    colour: bool = False,
) -> str:
    """The whole text. ``measured``: which logs, under which conditions."""
    page = page_for(width, colour)
    lines = page.simulated(simulated)
    lines += page.prose(f"Claims for {product}; source: {source}", "")
    lines += page.prose(f"Measured: {measured}", "")
    for one in checked:
        claim = one.claim
        head = f"{one.outcome.upper()}   {claim.text}"
        lines += ["", paint(head, _STYLE[one.outcome], page.colour)]
        lines += page.prose(f"the maker says: “{claim.wording}”")
        lines += page.prose(f"conditions: {claim.conditions or 'the maker names none'}")
        for finding in one.findings:
            lines += page.prose(_finding(finding, several=len(one.findings) > 1))
            if finding.conditions:
                lines += page.prose(f"in the log: {conditions_text(finding)}", "    ")
    counts = [
        f"{outcome} {sum(one.outcome == outcome for one in checked)}"
        for outcome in ("met", "not met", "can't be told", "not measured")
    ]
    lines += ["", *page.prose(f"{count(len(checked), 'claim')}: {', '.join(counts)}.", "")]
    lines += page.prose(f"How: {METHOD}. {CONDITIONS}", "")
    lines += ["", *page.simulated(True)] if simulated else []
    return "\n".join(lines) + "\n"


def _finding(finding: Finding, *, several: bool) -> str:
    if finding.headline is None:
        return finding.why
    kind = finding.headline.kind
    name = finding.headline.name
    diagram = f" ({name})" if name.lower() != finding.claim.figure.lower() else ""
    head = f"{finding.sample}{diagram}: {finding.outcome}: " if several else ""
    words = f"{head}measured {whole(finding.headline.quantity, kind)}, claim {limits_text(finding.claim, kind)}: "
    chance = chance_text(finding)
    return words + finding.why + (f"; kept with a probability of {chance}" if chance else "")
