"""Claims: the maker's wording, what was measured, the verdict, and the conditions it belongs to."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from benchd.analysis.catalogue import AT
from benchd.analysis.figure_conditions import conditions_text as held_text
from benchd.analysis.log.room_note import room_words
from benchd.analysis.verdicts.claim_verdicts import METHOD, Claim, ClaimOutcome, Finding, Outcome
from benchd.measurements.declared_figure import plain_name
from benchd.report import digits
from benchd.report.digits import grouped
from benchd.report.figure_text import figure
from benchd.report.model import Item, Judged, Section, Verdict, Words
from benchd.report.units import behind, unit_text
from benchd.report.words import count

MAX_DIGITS = 15
"""More digits of an end than these tell nothing further."""


def limits_text(claim: Claim, kind: str) -> str:
    """``at least 350 cd/m2``; a typical value with the allowance of one unit."""
    limits = [value for value in (claim.low, claim.high) if value is not None]
    head = "" if len(limits) == 2 else "at least " if claim.low is not None else "at most "
    words = head + _with_unit(list(map(_limit, limits)), _unit(claim, kind))
    if claim.own_unit:
        own = [_limit(float(f"{value / claim.unit_size:.8g}")) for value in limits]
        words = f"{head}{_with_unit(own, claim.own_unit)} ({words.removeprefix(head)})"
    if claim.typical:
        words += f" (typical value, {claim.allowance_percent:g} % allowed to one unit)"
    return words


def verdict_text(finding: Finding) -> str:
    """Why the verdict is what it is: the interval against the claim, in digits that show on which side it lies."""
    interval, headline, claim = finding.interval, finding.headline, finding.claim
    notes = [] if headline is None else [room_words(headline.quantity.why)]
    if headline is not None and headline.quantity.status == "unstable":
        notes.append("the meter called readings of it unstable")
    if interval is None or headline is None or finding.why:
        return "; note: ".join(filter(None, (finding.why, *notes)))
    unit = _unit(claim, headline.unit)
    limits = [value for value in (claim.low, claim.high) if value is not None]
    ends = [_end(end, limits, interval) for end in interval if math.isfinite(end)]
    if headline.quantity.bound:
        side = "more than" if math.isfinite(interval[0]) else "less than"
        held = f"the figure is only a bound; what it allows, {side} {_with_unit(ends, unit)},"
    else:
        held = f"the 95 % coverage interval, {_with_unit(ends, unit)},"
    if finding.outcome == "met":
        words = f"{held} is within the claim"
    elif finding.outcome == "not met":
        words = f"{held} is outside the claim"
    else:
        low, high = interval
        crossed = [_limit(claim.low)] if claim.low is not None and low < claim.low <= high else []
        crossed += [_limit(claim.high)] if claim.high is not None and low <= claim.high < high else []
        words = f"{held} is neither within nor outside the claim: it holds the limit of {' and that of '.join(crossed)}"
    return "; note: ".join(filter(None, (words + _guard(finding, unit), *notes)))


def _guard(finding: Finding, unit: str) -> str:
    """``; guard band 4.4 cd/m2``; of a skew interval both."""
    if finding.guard_band is None or finding.headline is None or not any(finding.guard_band):
        return ""
    width = max(finding.guard_band)
    below, above = (digits.with_uncertainty(one, width, finding.headline.unit)[0] for one in finding.guard_band)
    space = "" if unit in ("", ":1") else f" {unit}"
    if below == above:
        return f"; guard band {above}{space}"
    return f"; guard bands {below}{space} below and {above}{space} above the figure"


def _unit(claim: Claim, kind: str) -> str:
    return "" if kind == "1" and claim.unit != "1" else unit_text(kind)


def _with_unit(values: Sequence[str], unit: str) -> str:
    """``348 to 352 cd/m2``, ``900:1 to 1100:1``."""
    if unit == ":1":
        return " to ".join(f"{value}:1" for value in values)
    return f"{' to '.join(values)} {unit}".strip()


def _limit(value: float) -> str:
    """A limit as it is, in plain digits: no rounding may move it."""
    return grouped(format(Decimal(f"{value:.10g}"), "f"))


def _end(end: float, limits: Sequence[float], interval: tuple[float, float]) -> str:
    """One end of an interval with as many digits as show on which side of every limit it lies."""
    low, high = interval
    half = (high - low) / 2.0 if math.isfinite(high - low) else abs(end)
    place = digits.first_place(half) - 1 if half else digits.first_place(end) - 5 if end else 0
    for finer in range(MAX_DIGITS):
        text = digits.rounded(end, place - finer)
        shown = float(text.replace(" ", ""))
        if all((shown > one) == (end > one) and (shown < one) == (end < one) for one in limits):
            return text
    return repr(end)


def chance_text(finding: Finding) -> str:
    """How probable it is that the claim is kept, never nearer to certainty than can be known."""
    if finding.probability is None:
        return ""
    percent = 100.0 * finding.probability
    if percent > 99.9:
        return "> 99.9 %"
    return "< 0.1 %" if percent < 0.1 else f"{percent:.1f} %"


CONDITIONS = (
    "Conditions are held against the log where it has them: what the figure holds for, a sweep's settings, the note, "
    "signal, window and warm-up. "
    "One that differs or is in doubt leaves no verdict; whether those that are not recorded were kept is for the "
    "reader to see."
)


def conditions_text(finding: Finding) -> str:
    """``brightness 100: met (brightness was set to 100); preset srgb: not recorded``."""
    return "; ".join(
        f"{one.text}: {one.state}" + (f" ({one.found})" if one.found else "") for one in finding.conditions
    )


@dataclass(frozen=True, slots=True)
class ClaimsShown:
    """A checked sheet: whose, where it says so, and how it was measured: which logs, under which conditions.

    ``notes``: what a reader must know of all verdicts, such as that the sheet is of another product.
    """

    product: str
    source: str
    measured: str
    checked: Sequence[ClaimOutcome]
    notes: Sequence[str] = ()


def claims_section(claims: ClaimsShown) -> Section:
    """Claim by claim."""
    found = [one.outcome for one in claims.checked]
    shown: tuple[Outcome, ...] = ("met", "not met", "inconclusive", "point not named", "not measured")
    counts = [f"{one} {found.count(one)}" for one in shown if one != "point not named" or one in found]
    items: tuple[Item, ...] = (
        Words(f"measured: {claims.measured}"),
        *(Words(note, "warning") for note in claims.notes),
        *map(_judged, claims.checked),
        Words(f"{count(len(found), 'claim')}: {', '.join(counts)}."),
        Words(f"{METHOD}. {CONDITIONS}", "method"),
    )
    return Section("claims", "Claims", f"{claims.product}; source: {claims.source}", items)


def _judged(one: ClaimOutcome) -> Judged:
    claim = one.claim
    said = [
        Words(f"the maker says: “{claim.wording}”", "quote"),
        Words(f"conditions: {claim.conditions or 'the maker names none'}"),
    ]
    said += [Words(one.why)] if one.why else []
    for finding in one.findings:
        said.append(Words(_finding(finding, several=len(one.findings) > 1)))
        if finding.headline is not None and finding.headline.conditions:
            said.append(Words(f"holds for {held_text(finding.headline.conditions)}", level=1))
        if finding.conditions:
            said.append(Words(f"in the log: {conditions_text(finding)}", level=1))
    said += map(Words, one.left_out)
    return Judged(Verdict(one.outcome), claim.text, tuple(said))


def _finding(finding: Finding, *, several: bool) -> str:
    if finding.headline is None:
        return finding.why
    name = finding.headline.name
    diagram = f" ({plain_name(name)})" if name.lower() != finding.claim.figure.lower() else ""
    head = f"{finding.sample}{diagram}: {finding.outcome}: " if several else ""
    if AT in name and AT not in finding.claim.figure and not several:
        head = f"at {name.partition(AT)[2]}: "
    return f"{head}{finding_text(finding)}"


def finding_text(finding: Finding) -> str:
    """``measured 352.0 ± 1.9 cd/m2, claim at least 350 cd/m2: the 95 % coverage interval, ... is within the claim``."""
    assert finding.headline is not None
    kind = finding.headline.unit
    measured = figure(finding.headline.quantity, kind, behind(kind), sign=kind in digits.SIGNED)
    words = f"measured {measured}, claim {limits_text(finding.claim, kind)}: "
    chance = chance_text(finding)
    return words + verdict_text(finding) + (f"; probability that the claim is kept: {chance}" if chance else "")
