"""An HDR tone curve against its scale: errors of each grey, and where the screen leaves the curve for good.

PQ is absolute: the target is what a code requests, clipped hard at the peak that this very block measured. HLG is
relative: its target is the curve of a display whose peak and black are the measured ones (BT.2100 Table 5).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from benchd.analysis.colour import hlg, pq
from benchd.analysis.colour.target import Target
from benchd.analysis.light.windows import code_range, requested, signal_of
from benchd.analysis.log.log_data import LogData
from benchd.analysis.log.places import few, not_measured
from benchd.analysis.log.step_data import StepData
from benchd.analysis.log.step_light import LUMINANCE_UNIT, MeterRange, chromaticities, luminance_of
from benchd.analysis.uncertainty.cloud import Cloud
from benchd.analysis.uncertainty.itp_difference import Leaning, delta_e_itp_cloud, grey_xyz, whole_delta_e_itp
from benchd.analysis.uncertainty.quantity import (
    Quantity,
    absent,
    composed,
    maximum,
    mean,
    propagated,
    ratio,
    scaled,
)
from benchd.analysis.uncertainty.sources import EXACT
from benchd.measurements.tone_curve.ending import DARK_CD_M2, Knee, knee_of, without_knee
from benchd.measurements.tone_curve.results import ToneCurve, ToneStep

BLACK_SHARE = 0.05
"""Below `DARK_CD_M2`, and where the screen's own black makes up more than this share of what is requested, a step shows
how deep the black is, not how well the curve is kept: it does not count in the averages (common practice)."""
METHOD = (
    "greys in a window on black; error in % of the target, in codes, and as colour difference after ITU-R BT.2124; the "
    "knee is where the light falls 5 % short of what is requested and stays so; steps above it are held against a hard "
    "clip at the measured peak, since how a screen rolls off is its maker's choice; between two codes the curve is "
    "supposed to bend downwards only (on logarithmic axes), and the intervals of knee and shortfall hold what that "
    "leaves open; it clips where the whole interval of the shortfall is below 3 %, and rolls off where none of it is; "
    "steps of less than 0.1 cd/m2, or of less than twenty times the measured black, are dark: not in the averages"
)


class _Step(NamedTuple):
    measured: StepData
    code: int
    signal: float
    requested_cd_m2: float
    luminance: Quantity


def tone_curve(
    log_data: LogData, block: Mapping[str, Any], meter: MeterRange, target: Target | None = None
) -> ToneCurve:
    """One tone curve, by ascending code."""
    signal = block["signal"]
    found = {int(one.labels["code"]): one for one in log_data.of_block(str(block["name"]))}
    codes = [int(code) for code in block["codes"]]
    lights = {code: luminance_of(found[code], meter) for code in codes if code in found}
    missing = not_measured(few([str(code) for code in codes if code not in found]), "code", "codes")
    peak = _peak(codes, lights, signal)
    darkest = codes[0] if codes and signal_of(codes[0], signal) == 0.0 else None
    why_black = "black is not among the codes" if darkest is None else not_measured([str(darkest)], "code", "codes")
    black = lights.get(-1 if darkest is None else darkest, absent(LUMINANCE_UNIT, why_black))
    steps = [
        _Step(found[code], code, signal_of(code, signal), _requested(code, signal, peak, black), lights[code])
        for code in codes
        if code in lights
    ]
    # Between steps that were not measured anything may have happened: no knee, no region, no average then.
    knee = without_knee(-1, missing) if missing else _knee(steps, signal, str(block["name"]))
    judged = _judged(steps, knee, peak, black, signal, missing)
    counted = [one for one in judged if one.region == "tracking"]
    worst = max(counted, key=lambda one: abs(one.error.value or 0.0), default=None)
    errors = [scaled(one.error, -1.0 if (one.error.value or 0.0) < 0 else 1.0, "%") for one in counted]
    pairs = [(step, one) for step, one in zip(steps, judged, strict=True) if one.region == "tracking"]
    cloud = _cloud(pairs, peak, black, str(signal["transfer"]) == "pq")
    differences = [one.delta_e_itp for one in counted]
    why = missing or "no step is both bright enough and below the knee"
    return ToneCurve(
        block=str(block["name"]),
        method=METHOD,
        transfer=str(signal["transfer"]),
        range=str(signal.get("range", "full")),
        bits=int(signal["bits"]),
        depth=depth_words(signal),
        area_percent=float(block["area_percent"]),
        peak=peak,
        black=black,
        knee=knee.at,
        knee_between=knee.between,
        below_clip=knee.below_clip,
        ending=knee.ending,
        clip=knee.words,
        steps=tuple(judged),
        mean_error=mean(errors, "%") if errors else absent("%", why),
        worst_error=worst.error if worst else absent("%", why),
        worst_code=worst.code if worst else None,
        mean_delta_e_itp=whole_delta_e_itp(differences, cloud, "mean", why),
        max_delta_e_itp=whole_delta_e_itp(differences, cloud, "max", why),
        missing=missing,
    )


def _peak(codes: Sequence[int], lights: Mapping[int, Quantity], signal: Mapping[str, Any]) -> Quantity:
    """The brightest step. Without the largest code it is not known what the screen reaches."""
    if codes and codes[-1] not in lights:
        return absent(LUMINANCE_UNIT, f"the largest code, {codes[-1]}, was not measured")
    if signal["transfer"] == "hlg" and codes and signal_of(codes[-1], signal) < 1.0:
        return absent(LUMINANCE_UNIT, "an HLG curve is held against the display's peak, which is not among the codes")
    return maximum(list(lights.values()), LUMINANCE_UNIT)


def depth_words(signal: Mapping[str, Any]) -> str:
    """What the steps of this depth are worth, in words."""
    bits = int(signal["bits"])
    if signal["transfer"] != "pq":
        return f"{bits}-bit codes"
    _, span = code_range(signal)
    middle = round(span * float(pq.signal(100.0)))
    step = 100.0 * (float(pq.luminance((middle + 1) / span)) / float(pq.luminance(middle / span)) - 1.0)
    words = f"{bits}-bit codes: one code near 100 cd/m2 is {step:.2g} % of luminance"
    return words if bits > 8 else f"{words}, too coarse to be called the tone curve of a 10-bit signal"


def _requested(code: int, signal: Mapping[str, Any], peak: Quantity, black: Quantity) -> float:
    """What the code requests; of HLG, on a display of the measured peak and black."""
    if signal["transfer"] == "pq" or not peak.value:
        return requested(code, signal)
    return float(hlg.luminance(signal_of(code, signal), peak.value, _level(black)))


def _knee(steps: Sequence[_Step], signal: Mapping[str, Any], name: str) -> Knee:
    """Where the light falls short for good, of a PQ signal."""
    if signal["transfer"] != "pq":
        return without_knee(len(steps) - 1, "an HLG curve ends at the display's own peak")
    return knee_of([one.requested_cd_m2 for one in steps], [one.luminance for one in steps], name)


def _judged(
    steps: Sequence[_Step],
    knee: Knee,
    peak: Quantity,
    black: Quantity,
    signal: Mapping[str, Any],
    missing: str,
) -> list[ToneStep]:
    _, span = code_range(signal)
    is_pq = signal["transfer"] == "pq"
    differences = _differences(steps, peak, black, is_pq)
    dark_below = max(DARK_CD_M2, _level(black) / BLACK_SHARE)
    found = []
    for index, one in enumerate(steps):
        clipped = is_pq and peak.value is not None and one.requested_cd_m2 > peak.value
        unknown = not is_pq and peak.value is None
        target = peak if clipped or unknown else Quantity(one.requested_cd_m2, LUMINANCE_UNIT, s=0.0, sources=EXACT)
        region = "dark" if one.requested_cd_m2 < dark_below else "tracking" if index <= knee.last else "roll-off"
        if one.requested_cd_m2 > 0.0:
            error = scaled(ratio(one.luminance, target), 100.0, "%", -100.0)
        else:
            error = absent("%", "no percent of black", one.luminance.records)
        off = _signal_error(one, target, peak, black, is_pq)
        delta_i = scaled(_pq_error(one, target), 720.0, "1")
        found.append(
            ToneStep(
                step=one.measured.step,
                code=one.code,
                signal=one.signal,
                requested_cd_m2=one.requested_cd_m2,
                target=target,
                luminance=one.luminance,
                error=error,
                error_codes=scaled(off, span, "codes"),
                delta_i=_absolute(delta_i),
                delta_e_itp=differences[index],
                region="" if missing and region != "dark" else region,
            )
        )
    return found


def _level(black: Quantity) -> float:
    """The luminance of black; zero where it is no value."""
    return black.value if black.plain and black.value else 0.0


def _pq_error(one: _Step, target: Quantity) -> Quantity:
    """Difference of the PQ signals of the light and of its target."""

    def off(light: float, aim: float) -> float:
        return float(pq.signal(light)) - float(pq.signal(aim))

    return propagated(off, "1", [one.luminance, target])


def _signal_error(one: _Step, target: Quantity, peak: Quantity, black: Quantity, is_pq: bool) -> Quantity:
    """Difference of the signals on the plan's own scale."""
    if is_pq:
        return _pq_error(one, target)
    if not peak.value:
        return absent("1", peak.why)
    top, dark = peak.value, _level(black)

    def off(light: float) -> float:
        return float(hlg.signal_of(light, top, dark)) - one.signal

    return propagated(off, "1", [one.luminance])


def _absolute(quantity: Quantity) -> Quantity:
    """|q|; absent for a bound, which does not limit the size of a difference."""
    if quantity.value is None or quantity.bound is not None:
        return absent(quantity.unit, quantity.why, quantity.records)
    return scaled(quantity, -1.0 if quantity.value < 0.0 else 1.0, quantity.unit)


def _aim(one: _Step, peak: Quantity, is_pq: bool) -> float:
    return max(min(one.requested_cd_m2, peak.value) if is_pq and peak.value else one.requested_cd_m2, 0.0)


def _leaning(one: _Step, peak: Quantity, black: Quantity, is_pq: bool) -> Leaning | None:
    """How the target's luminance follows the measured peak and black; None where their uncertainty is not known."""
    if not peak.value or (is_pq and one.requested_cd_m2 <= peak.value):
        return ()
    if peak.sources is None:
        return None
    if is_pq:
        return ((1.0, peak.sources),)
    top, dark, h = peak.value, _level(black), 1e-5

    def at(peak_cd_m2: float, black_cd_m2: float) -> float:
        return float(hlg.luminance(one.signal, peak_cd_m2, black_cd_m2))

    by_peak = (at(top * (1.0 + h), dark) - at(top * (1.0 - h), dark)) / (2.0 * h * top)
    if not dark:
        return ((by_peak, peak.sources),)
    if black.sources is None:
        return None
    by_black = (at(top, dark * (1.0 + h)) - at(top, dark * (1.0 - h))) / (2.0 * h * dark)
    return ((by_peak, peak.sources), (by_black, black.sources))


def _differences(steps: Sequence[_Step], peak: Quantity, black: Quantity, is_pq: bool) -> list[Quantity]:
    """Delta E ITP of each step against a grey of D65 at its target."""
    colours = chromaticities([one.measured for one in steps], [one.luminance for one in steps], cct=False)
    found: list[Quantity] = []
    for one, shade in zip(steps, colours, strict=True):
        if not is_pq and peak.value is None:
            found.append(absent("1", peak.why, one.luminance.records))
            continue
        parts = [one.luminance, shade.x, shade.y]
        if one.measured.mean is None or not all(part.plain for part in parts):
            found.append(composed(0.0, "1", parts) if not one.luminance.plain else absent("1", shade.x.why))
            continue
        leaning = _leaning(one, peak, black, is_pq)
        value, cloud = delta_e_itp_cloud([one.measured], [grey_xyz(_aim(one, peak, is_pq))], [leaning or ()])
        found.append(composed(value[0], "1", parts, sources=None if leaning is None else cloud.row(0)))
    return found


def _cloud(pairs: Sequence[tuple[_Step, ToneStep]], peak: Quantity, black: Quantity, is_pq: bool) -> Cloud | None:
    usable = [step for step, judged in pairs if judged.delta_e_itp.plain and step.measured.mean is not None]
    if not usable or len(usable) < len(pairs):
        return None
    leaning = [each for step in usable if (each := _leaning(step, peak, black, is_pq)) is not None]
    if len(leaning) < len(usable):
        return None
    aims = [grey_xyz(_aim(step, peak, is_pq)) for step in usable]
    return delta_e_itp_cloud([step.measured for step in usable], aims, leaning)[1]


PART = tone_curve
