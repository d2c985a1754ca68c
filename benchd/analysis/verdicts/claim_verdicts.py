"""A maker's claims against what was measured, with guard bands: met, not met, inconclusive, not measured.

Of a sweep a claim that names none of the points that have its figure is "point not named".

Guarded acceptance and guarded rejection after JCGM 106:2012, 8.3 and ISO 14253-1 (both from memory): a claim counts as
met only when the figure is better than the limit by at least the guard band, as not met only when it is worse by as
much. The guard band is w = U, the expanded uncertainty at 95 %; where the coverage interval is skew it reaches to the
interval's end on that side. So either is wrong in at most 2.5 % of cases; in between is inconclusive.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from benchd.analysis.catalogue_figure import Figure
from benchd.analysis.figure_conditions import Conditions, differing
from benchd.analysis.log.room import ALL_OF_BLACK
from benchd.analysis.results import Results
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.analysis.uncertainty.quotient import Quotient
from benchd.analysis.uncertainty.rounding import bound_digits
from benchd.analysis.uncertainty.sources import Stated, coverage_factor
from benchd.analysis.verdicts.claim_conditions import Condition, conditions_of, doubtful_conditions, other_conditions
from benchd.analysis.verdicts.claimed_figures import NO_LOG, claimed_figures
from benchd.distributions import t_above

Outcome = Literal["met", "not met", "inconclusive", "point not named", "not measured"]
OUTCOMES: tuple[Outcome, ...] = ("not met", "inconclusive", "point not named", "not measured", "met")
"""The worst first."""

METHOD = (
    "guarded acceptance and guarded rejection, guard band w = U (expanded uncertainty, 95 %) on either side of the "
    "limit, of a skew interval to its ends; after JCGM 106:2012, 8.3 and ISO 14253-1 (both from memory). A bound "
    "counts as it is printed, rounded outward"
)


@dataclass(frozen=True, slots=True)
class Claim:
    """What a maker claims of one figure.

    ``figure``   plain name of the figure, as in `benchd.analysis.catalogue`
    ``low``, ``high``  limits in ``unit``; None where there is none on that side
    ``own_unit``  the unit that the sheet states it in where it is another size, such as fL; ``unit_size``: in ``unit``
    ``typical``  a typical value: ``low`` and ``high`` already grant the ``allowance_percent`` of one unit
    ``text``     the claim as the sheet has it; ``wording`` as the maker has it; ``conditions`` that belong to it
    """

    figure: str
    low: float | None
    high: float | None
    unit: str
    text: str
    wording: str
    conditions: str
    typical: bool = False
    allowance_percent: float | None = None
    own_unit: str = ""
    unit_size: float = 1.0


@dataclass(frozen=True, slots=True)
class Finding:
    """One claim held against one log, or against none that has the figure (``sample`` is "" then).

    ``why``         the reason where it is not the interval alone; "" where ``interval`` is all
    ``interval``    ends of the 95 % coverage interval, in the figure's unit, infinite on the open side of a bound; None
                    where it is not known
    ``guard_band``  from the figure to the lower and to the upper end, in its unit; None for a bound, and likewise
    ``probability`` that the true value keeps the claim, from the figure and its uncertainty; None likewise
    ``conditions``  of the claim, each against the log; one that differs or is in doubt leaves no verdict
    """

    claim: Claim
    outcome: Outcome
    why: str
    sample: str = ""
    headline: Figure | None = None
    interval: tuple[float, float] | None = None
    guard_band: tuple[float, float] | None = None
    probability: float | None = None
    conditions: tuple[Condition, ...] = ()


@dataclass(frozen=True, slots=True)
class ClaimOutcome:
    """A claim and every log that has its figure. ``outcome``: one unit that fails is enough to fail.

    A log under other conditions than the claim's does not count where another log has the claim's. ``why``: where the
    outcome is that of no finding alone, the reason. ``left_out``: logs that say nothing of the claim although they
    might, and why.
    """

    claim: Claim
    outcome: Outcome
    findings: tuple[Finding, ...]
    why: str = ""
    left_out: tuple[str, ...] = ()


def check_claims(
    claims: Sequence[Claim], logs: Sequence[Results], at: Mapping[str, str] | None = None
) -> tuple[ClaimOutcome, ...]:
    """Every claim against every log, in the order of the sheet.

    ``at``: of logs that sweep settings the point, control -> value, that claims are held against which name none.
    """
    checked = []
    for claim in claims:
        chosen = [claimed_figures(claim.figure, claim.conditions, log, at or {}) for log in logs]
        each = [
            [_under(_find(claim, log, one), log) for one in found.figures]
            for log, found in zip(logs, chosen, strict=True)
        ]
        findings = [one for several in each for one in several]
        if any(not _elsewhere(one) for one in findings):
            each = [[one for one in several if not _elsewhere(one)] for several in each]
        left_out = tuple(dict.fromkeys(found.why for found in chosen if found.why))
        if not findings:
            lacking: Outcome = "point not named" if any(found.measured for found in chosen) else "not measured"
            findings, left_out = [Finding(claim, lacking, "; ".join(left_out) or NO_LOG)], ()
        of_logs = [(_of_log(claim, several), several) for several in each if several]
        outcome = min((one for one, _ in of_logs), key=OUTCOMES.index, default=findings[0].outcome)
        why = "" if any(one.outcome == outcome for one in findings) else _OPEN
        if unlike := _unlike(of_logs):
            outcome, why = "inconclusive", unlike
        checked.append(ClaimOutcome(claim, outcome, tuple(findings), why, left_out))
    return tuple(checked)


def _unlike(of_logs: Sequence[tuple[Outcome, Sequence[Finding]]]) -> str:
    """Why logs that disagree are inconclusive together: their figures of one name hold for different conditions."""
    found: dict[str, dict[Conditions, Outcome]] = {}
    for outcome, findings in of_logs:
        for one in findings:
            if one.headline is None:
                continue
            of_name = found.setdefault(one.headline.name, {})
            known = of_name.get(one.headline.conditions, outcome)
            of_name[one.headline.conditions] = min(known, outcome, key=OUTCOMES.index)
    for of_name in found.values():
        if len(set(of_name.values())) > 1:
            first, second, *_ = of_name
            return (
                "the claim leaves open which conditions it is for, and figures that hold for different ones disagree: "
                f"{differing(first, second)}"
            )
    return ""


def _under(finding: Finding, log: Results) -> Finding:
    """The finding with the claim's conditions held against the log; no verdict where one differs or is in doubt."""
    if finding.headline is None:
        return finding
    found = conditions_of(finding.claim.conditions, log, finding.headline)
    if other := other_conditions(finding.claim.conditions, log, finding.headline):
        why = f"measured under another condition: {other}"
    elif doubtful := doubtful_conditions(found):
        why = f"in doubt whether measured under the claim's condition: {doubtful}"
    else:
        return replace(finding, conditions=found)
    why += f"; else it would be {finding.outcome}"
    return replace(finding, outcome="inconclusive", why=why, guard_band=None, probability=None, conditions=found)


def _elsewhere(finding: Finding) -> bool:
    return any(one.state in ("differs", "in doubt") for one in finding.conditions)


def _of_log(claim: Claim, findings: Sequence[Finding]) -> Outcome:
    """The outcome of one log: inconclusive where the claim leaves open which figure it is of, and they disagree."""
    outcomes = {one.outcome for one in findings}
    left_open = claim.figure.startswith(_LEFT_OPEN) and len(outcomes) > 1
    return "inconclusive" if left_open else min(outcomes, key=OUTCOMES.index)


_LEFT_OPEN = ("coverage of ", "colour delta E ")
"""Figures whose claims often leave open the diagram or the list of colours: then all that were measured count."""
_OPEN = "the claim leaves open which of these figures it is of, and they disagree"


def _find(claim: Claim, log: Results, headline: Figure) -> Finding:
    quantity, sample, stated = headline.quantity, log.sample or f"unnamed {log.started}", headline.quantity.stated
    assert quantity.value is not None
    if why := _no_verdict(claim, log, quantity, stated):
        return Finding(claim, "inconclusive", why, sample, headline)
    guard, chance = None, None
    if stated is None:
        end = bound_digits(quantity) or 0.0
        low, high = (end, math.inf) if quantity.bound == "above" else (-math.inf, end)
    else:
        low, high = stated.low, stated.high
        guard, chance = (quantity.value - low, high - quantity.value), _probability(claim, quantity, stated)
    inside, outside = _inside(claim, low, high), _outside(claim, low, high)
    outcome: Outcome = "met" if inside else "not met" if outside else "inconclusive"
    return Finding(claim, outcome, "", sample, headline, (low, high), guard, chance)


def _no_verdict(claim: Claim, log: Results, quantity: Quantity, stated: Stated | None) -> str:
    """Why a claim can't be judged by a figure; "" where it can."""
    value = quantity.value or 0.0
    if quantity.unit != claim.unit:
        return f"the claim is in {claim.unit or 'no unit'}, the figure in {quantity.unit}"
    if ALL_OF_BLACK in quantity.why:
        return "nothing is known of the screen's own black"
    if quantity.bound is None and stated is None:
        better = "within" if _inside(claim, value, value) else "outside"
        return f"the figure itself is {better} the claim, but its uncertainty is not known, so there is no guard band"
    # What is specified of a meter is where its range begins: a bound that rests on it is no noise of readings alone.
    ranged = quantity.bound is not None and log.meter.get("floor_cd_m2") is not None
    if log.meter_is_stated or ranged:
        return ""
    return "nothing is stated of the meter, so the guard band is not known; state its uncertainty in the bench profile"


def _inside(claim: Claim, low: float, high: float) -> bool:
    return (claim.low is None or low >= claim.low) and (claim.high is None or high <= claim.high)


def _outside(claim: Claim, low: float, high: float) -> bool:
    return (claim.low is not None and high < claim.low) or (claim.high is not None and low > claim.high)


def _probability(claim: Claim, quantity: Quantity, stated: Stated) -> float:
    """Probability that the true value is within the limits, Student's t about the figure (JCGM 106, clause 7).

    A ratio knows it itself. Of other intervals that are not symmetrical, on either side with the standard uncertainty
    that goes with its end.
    """
    value, node = quantity.value or 0.0, quantity.sources
    if stated.expanded <= 0.0:
        return 1.0 if _inside(claim, value, value) else 0.0

    def above(limit: float) -> float:
        if stated.k is not None and limit <= stated.low and value - stated.expanded < stated.low:
            return 1.0  # the interval ends at a limit of nature: no light is less than none
        known = node.chance_above(limit) if isinstance(node, Quotient) else None
        if known is not None:
            return known
        if stated.k is None:
            own = (stated.high - value if limit > value else value - stated.low) / coverage_factor(stated.dof)
        else:
            own = stated.expanded / stated.k
        return t_above((limit - value) / own, stated.dof) if own > 0.0 else float(limit <= value)

    above_low = 1.0 if claim.low is None else above(claim.low)
    above_high = 0.0 if claim.high is None else above(claim.high)
    return min(1.0, max(0.0, above_low - above_high))
