"""Comparisons and claims as data: the shapes ``benchd.comparison/1`` and ``benchd.claims/1``.

Figures have the shape that `benchd.report.data.document` describes. A comparison::

    schema, simulated, notice
    samples      [{label, logs: [{file, sha256}]}]; differences are from the first
    tested       differences that were judged together after Holm
    same_meter   true when one meter read all logs
    spectral     why the meter's spectral errors do not cancel in the differences; "" where they do
    conditions   {name: [one text a sample]}: what was not the same
    rows         [{figure, unit, margin {size, percent, percent_of, stated},
                 sides [{figure or null, logs, spread, conditions {name: text}}],
                 differences [null for the first, else {answer, why, difference, relative, margin, p_different,
                 p_equivalent, low90, high90}]}]; ``relative`` is in % of the first, a margin in % is of the mean of
                 both figures, and the difference's own ``margin`` is that in the figure's unit
    same_panel   [{label, answer, evidence [{feature, finding, weight, words, because}], lacking, spectral}]

Claims::

    schema, simulated, notice
    sheet        {product, source}
    notes        what a reader must know of all verdicts, such as that sheet and sample are of different products
    claims       [{claim, wording, conditions, figure, unit, low, high, typical, allowance_percent, outcome,
                 why, findings [{sample, outcome, why, guard_band {below, above} the figure, probability, measured,
                 holds_for {name: text}, conditions [{condition, state, found}]}], left_out}]; state: met, differs,
                 in doubt or not recorded; ``left_out``: why a log says nothing of a claim that others have the figure
                 of
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from benchd.analysis.uncertainty.quantity import Quantity
from benchd.analysis.verdicts.claim_verdicts import Finding
from benchd.analysis.verdicts.comparison import Comparison, ComparisonRow, Difference, SampleFigure
from benchd.analysis.verdicts.panel import PanelQuestion
from benchd.report.data.document import Json, plain
from benchd.report.data.log_reference import LogReference
from benchd.report.sections.claims import ClaimsShown, verdict_text
from benchd.report.words import SIMULATED


def comparison_json(
    comparison: Comparison, logs: Sequence[Sequence[LogReference]], panel: Sequence[tuple[str, PanelQuestion]]
) -> Json:
    """The comparison as plain values; ``logs`` of each sample, in its order."""
    simulated = comparison.simulated
    return {
        "schema": "benchd.comparison/1",
        "simulated": simulated,
        "notice": SIMULATED if simulated else "",
        "samples": [
            {"label": label, "logs": [{"file": one.file, "sha256": one.sha256} for one in several]}
            for label, several in zip(comparison.labels, logs, strict=True)
        ],
        "tested": comparison.tested,
        "same_meter": comparison.same_meter,
        "spectral": comparison.spectral,
        "conditions": {name: list(texts) for name, texts in comparison.conditions.items()},
        "rows": [_row(row, simulated) for row in comparison.rows],
        "same_panel": [{"label": label, **plain(question, simulated)} for label, question in panel],
    }


def _row(row: ComparisonRow, simulated: bool) -> Json:
    def figure(one: Quantity | None) -> Any:
        return None if one is None else plain(one, simulated)

    def side(one: SampleFigure) -> Json:
        return {
            "figure": figure(one.quantity),
            "logs": one.n,
            "spread": one.spread,
            "conditions": dict(one.conditions),
        }

    def difference(one: Difference | None) -> Json | None:
        if one is None:
            return None
        verdict = one.verdict
        return {
            "answer": one.answer,
            "why": one.why,
            "difference": figure(one.difference),
            "relative": figure(one.relative),
            "margin": verdict.margin if verdict else None,
            "p_different": verdict.p_different if verdict else None,
            "p_equivalent": verdict.p_equivalent if verdict else None,
            "low90": verdict.low90 if verdict else None,
            "high90": verdict.high90 if verdict else None,
        }

    quantity = row.headline.quantity
    return {
        "figure": row.headline.name,
        "unit": quantity.unit,
        "margin": {
            "size": row.margin.size,
            "percent": row.margin.percent,
            "percent_of": "mean of both" if row.margin.percent else None,
            "stated": row.margin_stated,
        },
        "sides": [side(one) for one in row.sides],
        "differences": [difference(one) for one in row.differences],
    }


def claims_json(claims: ClaimsShown, *, simulated: bool) -> Json:
    """The claims as plain values."""

    def finding(one: Finding) -> Json:
        return {
            "sample": one.sample,
            "outcome": one.outcome,
            "why": verdict_text(one),
            "guard_band": None
            if one.guard_band is None
            else dict(zip(("below", "above"), one.guard_band, strict=True)),
            "probability": one.probability,
            "measured": plain(one.headline.quantity, simulated) if one.headline else None,
            "holds_for": dict(one.headline.conditions) if one.headline else {},
            "conditions": [
                {"condition": each.text, "state": each.state, "found": each.found} for each in one.conditions
            ],
        }

    return {
        "schema": "benchd.claims/1",
        "simulated": simulated,
        "notice": SIMULATED if simulated else "",
        "sheet": {"product": claims.product, "source": claims.source},
        "notes": list(claims.notes),
        "claims": [
            {
                "claim": one.claim.text,
                "wording": one.claim.wording,
                "conditions": one.claim.conditions,
                "figure": one.claim.figure,
                "unit": one.claim.unit,
                "low": one.claim.low,
                "high": one.claim.high,
                "typical": one.claim.typical,
                "allowance_percent": one.claim.allowance_percent,
                "outcome": one.outcome,
                "why": one.why,
                "findings": [finding(item) for item in one.findings],
                "left_out": list(one.left_out),
            }
            for one in claims.checked
        ],
    }
