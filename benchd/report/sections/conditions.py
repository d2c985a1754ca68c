"""How and with what a log was measured, as names and texts for a report, and what is doubtful of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from benchd.analysis.catalogue import headlines
from benchd.analysis.figure_conditions import SIGNALS
from benchd.analysis.meter_model.spectral import takes_luminance
from benchd.analysis.results import Results
from benchd.local_time import local_time
from benchd.report.figure_text import figure
from benchd.report.measurement import judged_by
from benchd.report.sections.compensation import compensation_words
from benchd.report.sections.recorded import recorded_rows, recorded_words
from benchd.report.uncertain import is_coarse, resolution_matters, resolution_words, stated_words
from benchd.report.words import count, printable, readings_words

if TYPE_CHECKING:
    from benchd.analysis.log.results_run import PrecisionSummary, WarmUp, WarmUpTrend


def conditions(results: Results, *, each: bool = False) -> list[tuple[str, str]]:
    """How and with what it was measured: names and texts, those that are there.

    ``each``: for a page, which is read anywhere: a row for each recorded condition, in place of one row for all of
    them, and the moment in UTC in place of the time of this machine.
    """
    begun = results.started if each else local_time(results.started)
    rows = [
        ("sample", results.sample or "not named"),
        ("note", results.note),
        ("plan", f"{results.plan}, {_state(results)}"),
        ("target", judged_by(results)),
        ("readings", f"imported from {results.imported}, not taken by benchd" if results.imported else ""),
        ("begun", begun + (" (virtual time: waits were skipped)" if results.virtual_time else "")),
        ("meter", _meter(results.meter)),
        ("corrected", _correction(results.meter.get("correction"))),
        ("repeated", _repeatability(results.meter.get("repeatability"))),
        ("screen", _screen(results.screen)),
        ("display", f"technology {results.technology}" if results.technology else ""),
        ("settings", _settings(results.settings)),
        ("warm-up", warm_up_words(results)),
        ("drift", compensation_words(results.compensation)),
        ("precision", precision_words(results.precision)),
        ("stated", stated_words(results.uncertainty, results.meter)),
        ("digits", _digits(results)),
        *(recorded_rows(results) if each else [("recorded", recorded_words(results))]),
    ]
    return [(name, printable(text)) for name, text in rows if text]


def meter_name(meter: Mapping[str, object]) -> str:
    """Model and serial number."""
    return f"{meter.get('model', 'not named')} {meter.get('serial_number', '')}".strip()


def _digits(results: Results) -> str:
    """The meter's resolution, where it makes a figure less sure, or is a guess in place of a standard deviation."""
    names = ("",) if is_coarse(results.meter) else ("white luminance", "black luminance")
    several = [one.quantity for one in headlines(results) if one.name.startswith(names)]
    words = resolution_words(results.meter)
    return f"resolution of the meter: {words}" if words and resolution_matters(several) else ""


def invalidation_words(results: Results) -> list[str]:
    """What is doubtful, a sentence each; of a condition all steps are."""
    return [
        f"in doubt: {printable(one.text)}"
        + ("" if one.about == "condition" else f": {count(len(one.steps), 'step')}, from {printable(one.steps[0])}")
        for one in results.doubts
    ]


def _state(results: Results) -> str:
    state = "not ended" if results.interrupted else "ended, points skipped" if results.skipped else "complete"
    sessions = f", {count(results.sessions, 'session')}" if results.sessions > 1 else ""
    readings = readings_words(results.readings, results.warm_up.luminance.n if results.warm_up else 0)
    return (
        f"{state}: {results.steps_done} of {count(results.steps_planned, 'step')}, "
        f"{readings}, {count(results.faults, 'fault')}{sessions}"
    )


def _meter(meter: Mapping[str, object]) -> str:
    floor, ceiling = meter.get("floor_cd_m2"), meter.get("ceiling_cd_m2")
    to = f" to {ceiling:g}" if isinstance(ceiling, int | float) else ""
    parts = (
        meter_name(meter),
        f"firmware {meter['firmware']}" if meter.get("firmware") else "",
        str(meter.get("driver") or ""),
        f"specified from {floor:g}{to} cd/m2" if isinstance(floor, int | float) else "specified range not known",
        f"calibrated {meter['calibrated']}" if meter.get("calibrated") else "",
    )
    return ", ".join(filter(None, parts))


def _correction(correction: object) -> str:
    """What the readings were corrected by; empty when they stand as the meter gave them."""
    if not isinstance(correction, Mapping):
        return ""
    reference = correction["reference_meter"]
    simulated = "SIMULATED, " if correction.get("simulated") else ""
    luminance = "as the reference meter reads it" if takes_luminance(correction) else "left as it is read"
    return (
        f"by {correction['name']} ({simulated}{correction['method']} matrix for {correction['technology']}, made "
        f"{correction['made']} against {reference['model']} {reference['serial_number']}; luminance {luminance}), "
        f"file sha256 begins {correction['digest'][:16]}; the log keeps both"
    )


def _repeatability(found: object) -> str:
    """What the bench's own repetition puts into the uncertainty; empty where it was never repeated."""
    if not isinstance(found, Mapping):
        return ""
    names = (("between_runs", "between runs"), ("placement", "with every placement of the meter"))
    parts = [f"{100.0 * found[key][1][1] ** 0.5:.2g} % {name}" for key, name in names if found.get(key)]
    simulated = "SIMULATED " if found.get("simulated") else ""
    return f"luminance changes by {' and '.join(parts)}: found in {found['runs']} {simulated}runs on {found['made']}"


READBACK = {"screen": "read back from the display server", "buffer": "read back from the draw buffer"}


def _screen(screen: Mapping[str, object]) -> str:
    size = f"{screen.get('width')} x {screen.get('height')} pixels, {screen.get('bits')} bits"
    signal = str(screen.get("signal", "sdr"))
    parts = (
        str(screen.get("name", "not named")),
        size if screen.get("width") else "",
        f"pixels {READBACK.get(str(screen.get('readback')), 'not read back')}",
        "" if signal == "sdr" else f"signal {SIGNALS.get(signal, signal)} ({screen.get('signal_by')})",
        "the display server's gamma ramp is changed" if screen.get("gamma_ramp") == "changed" else "",
    )
    return ", ".join(filter(None, parts))


def _scale(signal: object) -> str:
    """The scale that an HDR plan's codes stand on; "" for SDR codes."""
    return f" on {SIGNALS[signal['transfer']]}, {signal['range']} range" if isinstance(signal, Mapping) else ""


def _settings(settings: Mapping[str, object]) -> str:
    parts = []
    if "repeatability" in settings:
        most = settings.get("reading_time_at_most_s")
        parts.append(f"each patch read to a repeatability of {settings['repeatability']}, at most {most} s")
    elif "settle_s" in settings:
        dark = f" (dark {settings['dark_settle_s']} s)" if "dark_settle_s" in settings else ""
        parts.append(f"settle {settings['settle_s']} s{dark}")
    if "readings" in settings and "repeatability" not in settings:
        dark = f" (dark {settings['dark_readings']})" if "dark_readings" in settings else ""
        parts.append(f"{settings['readings']} readings a patch{dark}")
    if "order" in settings:
        seed = f", seed {settings['seed']}" if settings["order"] == "shuffled" and "seed" in settings else ""
        parts.append(f"order {settings['order']}{seed}")
    if "bits" in settings:
        parts.append(f"codes of {settings['bits']} bits{_scale(settings.get('signal'))}")
    return ", ".join(parts)


MAX_NAMED = 3


def precision_words(found: PrecisionSummary | None) -> str:
    """Empty where none was asked; those that fell short are named, the first few of them."""
    if found is None:
        return ""
    if not found.short:
        every = "the one patch" if found.steps == 1 else f"all {found.steps} patches"
        return f"the repeatability asked for was reached by {every}"
    named = []
    for short in found.short[:MAX_NAMED]:
        reached = "" if short.reached_percent is None else f"{short.reached_percent:.2g} % "
        named.append(f"{short.step} ({reached}where {short.asked_percent:g} % was asked: {short.why})")
    more = len(found.short) - len(named)
    rest = f", and {more} more" if more else ""
    return f"NOT reached by {len(found.short)} of {count(found.steps, 'patch', 'patches')}: {'; '.join(named)}{rest}"


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
