"""The line that says whether patches reached the precision that was asked of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchd.report.words import count

if TYPE_CHECKING:
    from benchd.analysis.log.results_run import PrecisionSummary

MAX_NAMED = 3


def precision_words(told: PrecisionSummary | None) -> str:
    """Empty where none was asked; those that fell short are named, the first few of them."""
    if told is None:
        return ""
    if not told.short:
        return f"the repeatability asked for was reached by {_all(told.steps)}"
    named = []
    for short in told.short[:MAX_NAMED]:
        reached = "" if short.reached_percent is None else f"{short.reached_percent:.2g} % "
        named.append(f"{short.step} ({reached}where {short.asked_percent:g} % was asked: {short.why})")
    more = len(told.short) - len(named)
    rest = f", and {more} more" if more else ""
    return f"NOT reached by {len(told.short)} of {count(told.steps, 'patch', 'patches')}: {'; '.join(named)}{rest}"


def _all(steps: int) -> str:
    return "the one patch" if steps == 1 else f"all {steps} patches"
