"""The HDR kinds of block -> their steps, and what a log keeps of them for analysis."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from benchd.patch.model import Code, Patch, Transfer, grey, max_code
from benchd.plan.blocks import Block
from benchd.plan.blocks_hdr import ColourLevels, Halo, Peak, Sustained, ToneCurve
from benchd.plan.plan import Plan
from benchd.plan.signal import Signal
from benchd.plan.step import Labels, Series, Step
from benchd.plan.step_layout import ordered, step

DEFAULT_TONE_STEPS = 33
DENSE_S, DENSE_EVERY_S = 12.0, 0.1
"""Readings as fast as the meter can, so that the best second of the first ten is known."""
LATER_EVERY_S = 2.0

LINEAR = {
    "red": (1.0, 0.0, 0.0),
    "green": (0.0, 1.0, 0.0),
    "blue": (0.0, 0.0, 1.0),
    "cyan": (0.0, 1.0, 1.0),
    "magenta": (1.0, 0.0, 1.0),
    "yellow": (1.0, 1.0, 0.0),
    "white": (1.0, 1.0, 1.0),
}

# Linear light in the named primaries (white D65) -> linear light in BT.2020; from the primaries' chromaticities by the
# method of SMPTE RP 177. BT.709: also printed, rounded, in ITU-R BT.2087.
TO_BT2020: dict[str, tuple[tuple[float, float, float], ...]] = {
    "bt709": ((0.627404, 0.329283, 0.043313), (0.069097, 0.919540, 0.011362), (0.016391, 0.088013, 0.895595)),
    "p3-d65": ((0.753833, 0.198597, 0.047570), (0.045744, 0.941777, 0.012479), (-0.001210, 0.017602, 0.983609)),
    "bt2020": ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
}

# SDR codes have no narrow range and no levels here: what stands for a signal is the largest and the smallest code.


def described_hdr(plan: Plan, block: Block) -> dict[str, Any]:
    """What a log keeps of one of these blocks beside its name and kind."""
    entry: dict[str, Any] = {"bits": plan.bits, "signal": plan.signal.described() if plan.signal else None}
    body = block.body
    if isinstance(body, Peak | Sustained):
        entry |= {"areas_percent": list(body.areas_percent), "for_s": _for_s(body), "black_s": body.black_s}
        entry["code"] = _bright(plan, body.level_cd_m2)[0]
    elif isinstance(body, ToneCurve):
        entry |= {"codes": list(tone_codes(plan, body)), "area_percent": body.area_percent}
    elif isinstance(body, Halo):
        entry |= {"distances_percent": list(body.distances_percent), "sides": list(body.sides)}
        entry |= {"boards": list(body.boards), "area_percent": body.area_percent}
        entry["code"] = _bright(plan, body.level_cd_m2)[0]
    elif isinstance(body, ColourLevels):
        entry |= {"levels_cd_m2": list(body.levels_cd_m2), "hues": list(body.hues), "inside": body.inside}
        entry["area_percent"] = body.area_percent
    return entry


def hdr_steps(plan: Plan, block: Block) -> Iterator[Step]:
    """The steps of one of these blocks; the meter stays at the centre."""
    body = block.body
    if isinstance(body, Peak | Sustained):
        yield from _windows(plan, block, body)
    elif isinstance(body, ToneCurve):
        for code in ordered(plan, block, tone_codes(plan, body), key=str):
            patch = _window(plan, grey(code), body.area_percent)
            yield step(plan, block, f"code-{code}", patch, {"code": code}, patch.code)
    elif isinstance(body, Halo):
        yield from _halo(plan, block, body)
    elif isinstance(body, ColourLevels):
        pairs = [(level, hue) for level in body.levels_cd_m2 for hue in body.hues]
        for level, hue in ordered(plan, block, pairs, key=lambda pair: f"{pair[0]:g}/{pair[1]}"):
            patch = _window(plan, colour_code(plan.signal, body.inside, hue, level), body.area_percent)
            labels: Labels = {"hue": hue, "level_cd_m2": level}
            yield step(plan, block, f"{hue}/{level:g}", patch, labels, patch.code)


def tone_codes(plan: Plan, body: ToneCurve) -> tuple[int, ...]:
    """The codes of a tone curve, ascending, each once: equal steps of the signal, or those of the levels."""
    signal = plan.signal
    assert signal is not None  # the plan was refused without
    if body.levels_cd_m2 is not None:
        # An HLG curve is held against the display's own peak and black, so that these are always measured.
        ends = {signal.code(0.0), signal.code(1.0)} if signal.transfer == "hlg" else set()
        return tuple(sorted({signal.level(level) for level in body.levels_cd_m2} | ends))
    count = body.steps or DEFAULT_TONE_STEPS
    return tuple(sorted({signal.code(index / (count - 1)) for index in range(count)}))


def colour_code(signal: Signal | None, inside: str, hue: str, level_cd_m2: float) -> Code:
    """The code of a primary or secondary of ``inside`` that is part of a white of ``level_cd_m2``."""
    assert signal is not None  # the plan was refused without
    wanted = LINEAR[hue]
    rows = TO_BT2020[inside]
    red, green, blue = (max(0.0, level_cd_m2 * sum(m * v for m, v in zip(row, wanted, strict=True))) for row in rows)
    return signal.colour((red, green, blue))


def level_grey(plan: Plan, level_cd_m2: float) -> Code:
    """The code of a grey that asks for ``level_cd_m2``; only in a plan with a signal."""
    assert plan.signal is not None  # the plan was refused without
    return grey(plan.signal.level(level_cd_m2))


def _for_s(body: Peak | Sustained) -> float:
    return body.for_s if isinstance(body, Peak) else body.minutes * 60.0


def _transfer(plan: Plan) -> Transfer:
    return plan.signal.transfer if plan.signal else "sdr"


def _black(plan: Plan) -> Code:
    return plan.signal.black if plan.signal else grey(0)


def _bright(plan: Plan, level_cd_m2: float | None) -> Code:
    if plan.signal is None:
        return grey(max_code(plan.bits))
    return plan.signal.brightest if level_cd_m2 is None else grey(plan.signal.level(level_cd_m2))


def _window(plan: Plan, code: Code, area_percent: float) -> Patch:
    transfer = _transfer(plan)
    if area_percent >= 100:
        return Patch("field", code, plan.bits, transfer=transfer)
    return Patch("window", code, plan.bits, _black(plan), area_percent, transfer=transfer)


def _windows(plan: Plan, block: Block, body: Peak | Sustained) -> Iterator[Step]:
    """As listed: each begins with a rest of its own, so that no order favours any."""
    code = _bright(plan, body.level_cd_m2)
    for area in body.areas_percent:
        # Of one reading a second the best second would be a single one, brighter than any second of a panel that dims.
        series = Series(body.black_s, _black(plan)[0], _for_s(body), DENSE_S, DENSE_EVERY_S, LATER_EVERY_S)
        patch = _window(plan, code, area)
        made = step(plan, block, f"{area:g}", patch, {"area_percent": area}, code)
        yield made.in_time(series)


def _halo(plan: Plan, block: Block, body: Halo) -> Iterator[Step]:
    bright, black, transfer = _bright(plan, body.level_cd_m2), _black(plan), _transfer(plan)
    bits, side = plan.bits, math.sqrt(body.area_percent / 100.0)
    dark = Patch("field", black, bits, transfer=transfer)
    yield step(plan, block, "black", dark, {"part": "black"}, black)
    lit = Patch("window", bright, bits, black, body.area_percent, transfer=transfer)
    yield step(plan, block, "window", lit, {"part": "window"}, bright)
    for where in body.sides:
        for distance in body.distances_percent:
            offset = distance / 100.0 + side / 2.0
            x = 0.5 + offset if where == "right" else 0.5 - offset
            patch = Patch("spot", bright, bits, black, body.area_percent, at=(round(x, 9), 0.5), transfer=transfer)
            labels: Labels = {"part": "beside", "side": where, "distance_percent": distance}
            yield step(plan, block, f"{where}/{distance:g}", patch, labels, black)
    for cells in body.boards:
        for polarity in ("black", "white"):
            # The middle cell of an odd board has the corner's code; ``inverse`` makes it the surround's.
            board = Patch(
                "checkerboard", bright, bits, black, columns=cells, rows=cells, inverse=polarity == "black",
                transfer=transfer,
            )  # fmt: skip
            seen = bright if polarity == "white" else black
            yield step(plan, block, f"board-{cells}/{polarity}", board, {"part": polarity, "cells": cells}, seen)
