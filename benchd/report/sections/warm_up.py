"""The line that says whether the light was stable when the run began, and what was still to come."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchd.analysis.results import Results
from benchd.report.figure_text import figure

if TYPE_CHECKING:
    from benchd.analysis.log.results_run import WarmUp, WarmUpTrend

WHY = {
    "band": "it left the band of 1 % in ten minutes, or had a slope of more than 0.3 %",
    "too few readings": "fewer than eleven minutes tell no trend",
}


def warm_up_words(results: Results) -> str:
    """Of the warm-up, and of those again after a gap; "none" without one."""
    several = [one for one in (results.warm_up, *results.later_warm_ups) if one]
    return "; again after a gap: ".join(map(_words, several)) if several else "none"


def _words(warm_up: WarmUp) -> str:
    after = "" if warm_up.minutes is None else f" after {warm_up.minutes:.1f} min"
    parts = [f"stable{after}" if warm_up.stable else f"NOT stable{after}: figures may drift"]
    parts += [WHY[one] for one in warm_up.not_stable_because if one in WHY]
    if warm_up.swing_percent is not None:
        parts.append(f"it swings by {warm_up.swing_percent:.2g} % within a minute")
    if warm_up.trend is not None:
        parts.append(_trend(warm_up.trend))
    return "; ".join(parts)


def _trend(trend: WarmUpTrend) -> str:
    to_come = figure(trend.to_come, "%", " %", sign=True)
    hour = figure(trend.in_hour, "%", " %", sign=True)
    text = f"to come: {to_come} in the next {trend.ahead_min:.0f} min"
    text += f", {hour} in an hour" if trend.ahead_min < 60.0 else ""
    if trend.steady:
        rate = figure(trend.per_hour, "%", " %", sign=True)
        text += f"; a steady trend of {rate} an hour, no end in sight"
    return text
