"""Bright windows on black over time: the best second, the light at moments, when it falls below its best."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from benchd.analysis.colour import hlg, pq
from benchd.analysis.light.window_results import Moment, PeakWindow
from benchd.analysis.log.log_data import LogData
from benchd.analysis.log.places import not_measured
from benchd.analysis.log.step_data import SeriesReading, StepData
from benchd.analysis.log.step_light import MeterRange
from benchd.analysis.log.timeline import SECOND_S, SLACK_S, around, best_second, end_s, first_below, moments_of, rivals
from benchd.analysis.uncertainty.quantity import ratio, scaled

SHARE = 0.95


def signal_of(code: float, signal: Mapping[str, Any]) -> float:
    """Signal of 0 to 1 of a code (ITU-R BT.2100 Table 9), not below 0 and not above 1."""
    low, span = code_range(signal)
    return min(1.0, max(0.0, (code - low) / span))


def code_range(signal: Mapping[str, Any]) -> tuple[float, float]:
    """The code of black, and how many codes there are from black to the peak."""
    bits = int(signal["bits"])
    if signal.get("range") == "narrow":
        return 16.0 * 2.0 ** (bits - 8), 219.0 * 2.0 ** (bits - 8)
    return 0.0, float((1 << bits) - 1)


def requested(code: int, signal: Mapping[str, Any]) -> float:
    """What a grey code requests, cd/m2; an HLG code on a display of the plan's nominal peak."""
    value = signal_of(code, signal)
    if signal["transfer"] == "pq":
        return float(pq.luminance(value))
    return float(hlg.luminance(value, float(signal["peak_cd_m2"])))


def requested_by(block: Mapping[str, Any]) -> float | None:
    """What the windows of a block request, cd/m2; None without an HDR signal."""
    return requested(int(block["code"]), block["signal"]) if block.get("signal") else None


def windows_of(
    log_data: LogData, block: Mapping[str, Any], meter: MeterRange, moments_s: Sequence[float]
) -> tuple[list[PeakWindow], str]:
    """Every size that was measured, and those that were not, in words."""
    found = {float(one.labels["area_percent"]): one for one in log_data.of_block(str(block["name"]))}
    areas = [float(area) for area in block["areas_percent"]]
    screen = (log_data.started.body.get("screen") or {}) if log_data.started else {}
    for_s = float(block["for_s"])
    wanted = [moment for moment in moments_s if moment <= for_s]
    if for_s not in wanted:
        wanted.append(for_s)
    windows = [_window(log_data, area, found[area], screen, wanted, meter) for area in areas if area in found]
    missing = not_measured([f"{area:g} %" for area in areas if area not in found], "size", "sizes")
    return windows, missing


def _window(
    log_data: LogData,
    area: float,
    step: StepData,
    screen: Mapping[str, Any],
    moments_s: Sequence[float],
    meter: MeterRange,
) -> PeakWindow:
    readings = log_data.series.get(step.step, [])
    best = best_second(readings)
    top, trend = moments_of(step, readings, best, _middle_s(best), "best second", meter, rivals(readings, best))
    moments = []
    for moment in moments_s:
        light, change = moments_of(step, readings, around(readings, moment), moment, f"at {moment:g} s", meter)
        moments.append(Moment(moment, light, scaled(ratio(light, top), 100.0, "%"), change))
    pixels = _pixels(area, screen)
    whole = int(screen.get("width") or 0) * int(screen.get("height") or 0)
    return PeakWindow(
        area_percent=area,
        pixels=pixels,
        true_area_percent=None if pixels is None else 100.0 * pixels[0] * pixels[1] / whole,
        peak=top,
        peak_after_s=best[0].after_s if best else None,
        peak_trend=trend,
        moments=tuple(moments),
        below_95_after_s=first_below(readings, top, SHARE),
    )


def _middle_s(second: Sequence[SeriesReading]) -> float | None:
    """The middle of the second that begins with these readings; None where one reading alone takes longer."""
    if not second or end_s(second[-1]) - second[0].after_s > SECOND_S + SLACK_S:
        return None
    return second[0].after_s + SECOND_S / 2.0


def _pixels(area: float, screen: Mapping[str, Any]) -> tuple[int, int] | None:
    """The window's size in whole pixels, by the rule that draws it: sides rounded half up."""
    width, height = screen.get("width"), screen.get("height")
    if not isinstance(width, int) or not isinstance(height, int) or not width or not height:
        return None
    if area >= 100.0:
        return width, height
    side = math.sqrt(area / 100.0)
    return max(1, math.floor(side * width + 0.5)), max(1, math.floor(side * height + 0.5))
