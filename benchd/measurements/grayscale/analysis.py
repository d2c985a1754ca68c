"""Grayscale: every grey step with its colour and gamma, against the target's curve and white."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from benchd.analysis.colour.dark_steps import GreyReading
from benchd.analysis.colour.target import Target
from benchd.analysis.colour.tone_curves import luminance_curve
from benchd.analysis.colour.tracking import BlackCase, Tracked, black_cases, convention_of, summaries, track
from benchd.analysis.log.log_data import LogData
from benchd.analysis.log.places import not_measured, patch_words
from benchd.analysis.log.step_light import LUMINANCE_UNIT, MeterRange, chromaticities, luminance_of
from benchd.analysis.results import DeltaE, WhiteName
from benchd.analysis.uncertainty.grid_clouds import deviation_rows
from benchd.analysis.uncertainty.quantity import Quantity, absent, composed, derived, difference, scaled
from benchd.analysis.uncertainty.sources import total
from benchd.measurements.grayscale import gamma
from benchd.measurements.grayscale.black_bound import blacks_between, ends_of_black, for_every_black
from benchd.measurements.grayscale.results import (
    Alternative,
    ContrastInterval,
    GammaFit,
    Grayscale,
    GrayStep,
    GsdfResponse,
)
from benchd.patch.model import half_up

METHOD = (
    "equal steps of the code at the screen's centre, V = code shown / largest code; CCT and Duv: nearest point of "
    "the Planckian locus in CIE 1960 u, v after CIE 15; colour after CIE 15 and ISO/CIE 11664-4 and -6"
)
GSDF_METHOD = (
    "contrast response 2 (L2 - L1) / (L2 + L1) of neighbouring steps against the GSDF between the measured black "
    "and white; method after DICOM PS3.14 and AAPM TG18 (from memory)"
)


def grayscale(log_data: LogData, block: Mapping[str, Any], meter: MeterRange, target: Target | None) -> Grayscale:
    """One grayscale block. Steps come in order of the code; those not measured are named in ``missing``."""
    name = str(block["name"])
    codes = sorted({int(code) for code in block["codes"]})
    found = {int(one.labels["code"]): one for one in log_data.of_block(name)}
    missing = not_measured([str(code) for code in codes if code not in found], "code", "codes")
    steps = [found[code] for code in codes if code in found]
    luminances = [luminance_of(one, meter) for one in steps]
    colours = chromaticities(steps, luminances)
    readings = {
        one.code[1]: GreyReading(one, luminance, chromaticity)
        for one, luminance, chromaticity in zip(steps, luminances, colours, strict=True)
    }
    largest = (1 << int(block.get("bits", 8))) - 1
    work = _Work(codes, largest, readings, target, missing, convention_of(block))
    cases = black_cases(target, work.black)
    computed = [_computed(work, case) for case in cases]
    alternative, judged = None, computed[0]
    if len(cases) > 1:
        alternative = Alternative(cases[1].words, *computed[1])
        judged = for_every_black(judged, [computed[1], *(_computed(work, case) for case in blacks_between(cases))])
    elif ends := ends_of_black(cases[0], work.black):
        judged = for_every_black(judged, [_computed(work, case) for case in ends], whole=False)
    fits = tuple(_gamma_fit(work, white_fixed) for white_fixed in (True, False))
    return Grayscale(
        block=name,
        method=METHOD,
        curve=target.curve_text if target else "none",
        primary=work.primary,
        black=cases[0].words,
        steps=judged[0],
        delta_e=judged[1],
        gamma_fits=fits,
        alternative=alternative,
        gsdf=_gsdf_response(work, target) if target and target.curve == "gsdf" else None,
        patch=patch_words(block),
        remarks=_remarks(work, fits, cases[0]),
        missing=missing,
    )


class _Work(NamedTuple):
    """The block at hand: planned codes, largest code, readings by code that was shown, target, chosen white."""

    codes: Sequence[int]
    largest: int
    readings: Mapping[int, GreyReading]
    target: Target | None
    missing: str
    primary: WhiteName

    def luminance(self, code: int) -> Quantity:
        """Luminance of one code; absent, with its name, where it was not measured."""
        reading = self.readings.get(code)
        if reading is None:
            return absent(LUMINANCE_UNIT, f"code {code} was not measured in this block")
        return reading.luminance

    @property
    def white(self) -> GreyReading | None:
        """The reading of the largest code."""
        return self.readings.get(self.largest)

    @property
    def black(self) -> Quantity:
        """Luminance of code 0."""
        return self.luminance(0)


def _computed(work: _Work, case: BlackCase) -> tuple[tuple[GrayStep, ...], tuple[DeltaE, ...]]:
    readings = list(work.readings.values())
    tracked = track(readings, work.target, work.white, case, work.primary)
    steps = tuple(_step(work, one, against) for one, against in zip(readings, tracked, strict=True))
    pairs = list(zip(work.readings, tracked, strict=True))
    return steps, summaries(pairs, work.target, work.white, work.missing, work.primary)


def _step(work: _Work, reading: GreyReading, against: Tracked) -> GrayStep:
    measured, code = reading.measured, reading.measured.code[1]
    return GrayStep(
        step=measured.step,
        code=code,
        signal=measured.signal,
        luminance=reading.luminance,
        chromaticity=reading.chromaticity,
        local_gamma=_local_gamma(work, code),
        point_gamma=gamma.point_gamma(measured.signal, reading.luminance, work.luminance(work.largest)),
        target_luminance=against.target_luminance,
        luminance_error=against.luminance_error,
        rgb_balance=against.rgb_balance,
        delta_uv=against.delta_uv,
        delta_e=against.delta_e,
    )


def _local_gamma(work: _Work, code: int) -> Quantity:
    """From this step to the next one of the plan."""
    later = [other for other in work.codes if other > code]
    if not later:
        return absent("1", "the last step has no next one")
    first, following = work.luminance(code), work.luminance(later[0])
    return gamma.local_gamma(code / work.largest, first, later[0] / work.largest, following, work.black)


def _gamma_fit(work: _Work, white_fixed: bool) -> GammaFit:
    low = half_up(gamma.FIT_FROM_PERCENT / 100.0 * work.largest)
    high = half_up(gamma.FIT_TO_PERCENT / 100.0 * work.largest)
    wanted = [code for code in work.codes if low <= code <= high]
    lacking = [str(code) for code in wanted if code not in work.readings]
    # A step that is only a bound can't take part; which ones did is in ``codes``.
    used = [code for code in wanted if work.luminance(code).plain]
    rule = gamma.fit_rule(white_fixed=white_fixed)
    if lacking:
        nothing = absent("1", not_measured(lacking, "code", "codes"))
        return GammaFit(rule, white_fixed, nothing, nothing, ())
    slope, residual = gamma.fitted(
        [code / work.largest for code in used],
        [work.luminance(code) for code in used],
        work.luminance(work.largest),
        work.black,
        white_fixed=white_fixed,
    )
    return GammaFit(rule, white_fixed, slope, residual, tuple(used))


def _remarks(work: _Work, fits: Sequence[GammaFit], case: BlackCase) -> tuple[str, ...]:
    fixed, free = fits
    found = (
        fits_disagree(fixed, free, _fits_of_target(work, fixed.codes, case)),
        white_is_darker({code: one.luminance for code, one in work.readings.items()}, work.largest),
    )
    return tuple(filter(None, found))


def _fits_of_target(work: _Work, codes: Sequence[int], case: BlackCase) -> tuple[float, float] | None:
    """Both gamma fits of the target's own curve at ``codes``; None where it can't be computed."""
    white = work.luminance(work.largest).value
    if work.target is None or white is None:
        return None
    signal = [code / work.largest for code in codes]
    try:
        *wanted, black, top = luminance_curve(work.target, white, case.cd_m2)(np.array([*signal, 0.0, 1.0])).tolist()
        relative = [(one - black) / (top - black) for one in wanted]
        fixed, free = (gamma.fit(signal, relative, white_fixed=way)[0] for way in (True, False))
    except (ValueError, ZeroDivisionError):
        return None
    return fixed, free


def _gsdf_response(work: _Work, target: Target) -> GsdfResponse:
    """Contrast response of all intervals; its worst deviation is absent while a step is missing."""
    white, black = work.luminance(work.largest), work.black
    goals, why = _gsdf_goals(work, target, white, black)
    by_end = _by_end(work, target, white, black) if goals else []
    intervals = []
    for index, (one, other) in enumerate(zip(work.codes, work.codes[1:], strict=False)):
        response = _response(work.luminance(one), work.luminance(other))
        if goals is None:
            goal, deviation = absent("1", why), absent("%", why)
        else:
            wanted = 2.0 * (goals[index + 1] - goals[index]) / (goals[index + 1] + goals[index])
            goal = composed(wanted, "1", (white, black))
            deviation = scaled(response, 100.0 / wanted, "%", -100.0)
            if deviation.plain:
                size = -100.0 * (response.value or 0.0) / wanted**2
                of_goal = [
                    (size * slopes[index], end.sources) for slopes, end in zip(by_end, (white, black), strict=True)
                ]
                deviation = deviation._replace(sources=total([(100.0 / wanted, response.sources), *of_goal]))
        intervals.append(ContrastInterval(one, other, response, goal, deviation))
    bounded = [one for one in intervals if not one.deviation.plain]
    worst = max(intervals, key=lambda one: abs(one.deviation.value or 0.0), default=None)
    if work.missing or bounded or worst is None:
        reason = work.missing or (bounded[0].deviation.why if bounded else "there is no interval")
        return GsdfResponse(GSDF_METHOD, tuple(intervals), absent("%", reason), None)
    place = (worst.code_from, worst.code_to)
    sign = math.copysign(1.0, worst.deviation.value or 0.0)
    sources = deviation_rows([one.deviation for one in intervals]).over("max", factor=sign)
    return GsdfResponse(GSDF_METHOD, tuple(intervals), worst.deviation._replace(sources=sources), place)


def _gsdf_goals(work: _Work, target: Target, white: Quantity, black: Quantity) -> tuple[list[float] | None, str]:
    if white.value is None or white.bound:
        return None, f"white can't be used: {white.why}"
    if black.value is None or black.bound:
        return None, f"black can't be used: {black.why}"
    try:
        curve = luminance_curve(target, white.value, black.value)
    except ValueError as error:
        return None, f"the target's curve can't be computed: {error}"
    return [float(one) for one in curve(np.array(work.codes) / work.largest)], ""


def _by_end(work: _Work, target: Target, white: Quantity, black: Quantity) -> list[list[float]]:
    """Derivatives of the wanted response of each interval by the luminance of white, and by that of black.

    The GSDF is put through the white and the black that were measured.
    """
    found = []
    for way in ((1.0, 0.0), (0.0, 1.0)):
        h = [1e-5 * part * (end.value or 0.0) for part, end in zip(way, (white, black), strict=True)]
        ends = [
            np.array(_gsdf_goals(work, target, _moved(white, sign * h[0]), _moved(black, sign * h[1]))[0] or np.nan)
            for sign in (1.0, -1.0)
        ]
        up, down = (2.0 * np.diff(one) / (one[1:] + one[:-1]) for one in ends)
        found.append(((up - down) / (2.0 * sum(h))).tolist() if sum(h) else [0.0] * (len(work.codes) - 1))
    return found


def _moved(quantity: Quantity, by: float) -> Quantity:
    return quantity._replace(value=(quantity.value or 0.0) + by)


def _response(first: Quantity, following: Quantity) -> Quantity:
    if first.value is None or following.value is None:
        return derived(0.0, "1", ((0.0, first), (0.0, following)))
    total = first.value + following.value
    if total <= 0.0:
        return absent("1", "both steps are black")
    value = 2.0 * (following.value - first.value) / total
    slope = 4.0 / total**2
    return derived(value, "1", ((-slope * following.value, first), (slope * first.value, following)))


DISAGREE = 0.05
"""Two gamma fits that differ by more, and by more than the uncertainty of their difference, are remarked on."""


def fits_disagree(fixed: GammaFit, free: GammaFit, of_target: tuple[float, float] | None) -> str:
    """A sentence where the two gamma fits disagree, else "". ``of_target``: both fits of the target's own curve.

    A power law gives one gamma by either rule; where they differ the curve is none, and neither number describes it.
    """
    if not (fixed.gamma.plain and free.gamma.plain):
        return ""
    apart = difference(fixed.gamma, free.gamma)
    if apart.value is None or abs(apart.value) <= DISAGREE or _within(apart):
        return ""
    words = (
        f"the two gamma fits disagree: {fixed.gamma.value:.2f} through white, {free.gamma.value:.2f} with a free "
        "slope; the curve is not one power law, and neither number describes it alone"
    )
    if of_target is None:
        return words
    return f"{words} (the target's own curve at these codes: {of_target[0]:.2f} and {of_target[1]:.2f})"


def white_is_darker(luminances: Mapping[int, Quantity], largest: int) -> str:
    """A sentence where a grey is brighter than white by more than the uncertainty of their difference, else "".

    ``luminances`` by code. Where no uncertainty is known, any excess counts, and the sentence states that.
    """
    white = luminances.get(largest)
    if white is None or not white.plain or white.value is None:
        return ""
    brighter = {
        code: difference(one, white) for code, one in luminances.items() if code != largest and one.plain and one.value
    }
    brighter = {code: apart for code, apart in brighter.items() if (apart.value or 0.0) > 0.0 and not _within(apart)}
    if not brighter:
        return ""
    code = max(brighter, key=lambda one: brighter[one].value or 0.0)
    grey, apart = luminances[code], brighter[code]
    unknown = "" if apart.interval else " (no uncertainty of the difference is known)"
    return (
        f"white, code {largest}, is darker than the grey of code {code}: {white.value:.4g} against {grey.value:.4g} "
        f"cd/m2{unknown}; gamma, target luminances and colour differences are relative to that white"
    )


def _within(apart: Quantity) -> bool:
    """Does the 95 % interval of a difference hold zero? False where it is not known."""
    interval = apart.interval
    return interval is not None and interval[0] <= 0.0 <= interval[1]


PART = grayscale
