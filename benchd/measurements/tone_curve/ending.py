"""The end of a PQ tone curve as figures: the knee, how far it stays under a hard clip, and clip or roll-off.

One display has one verdict from any number of codes, or none with the reason (`tone_curve.roll_off`).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from benchd.analysis.log.step_light import LUMINANCE_UNIT
from benchd.analysis.uncertainty.draws import FigureSources
from benchd.analysis.uncertainty.noisy_length import TAIL
from benchd.analysis.uncertainty.quantity import Bound, Quantity, absent, composed
from benchd.measurements.tone_curve.results import Ending
from benchd.measurements.tone_curve.roll_off import KNEE, Array, KneeNode

DARK_CD_M2 = 0.1
"""Codes that ask for less say how deep the black is, not where the curve ends."""
HARD_PERCENT = 3.0
"""A curve that misses less than this of a hard clip at its own peak clips (our own limit: there is no standard)."""

NOT_ON_IT = "no bright step comes within 5 % of what is asked for"
NOT_KNOWN = "the uncertainty of the readings is not known"


class Knee(NamedTuple):
    """``last``: index of the last code that is read to keep up, -1 for none; ``words``: the verdict in words."""

    last: int
    at: Quantity
    between: tuple[float, float] | None
    below_clip: Quantity
    ending: Ending
    words: str


def without_knee(last: int, why: str, ending: Ending = "") -> Knee:
    """No knee, and why."""
    return Knee(last, absent(LUMINANCE_UNIT, why), None, absent("%", why), ending, why)


def knee_of(asked_cd_m2: Sequence[float], lights: Sequence[Quantity], name: str) -> Knee:
    """Of the codes of the block ``name``, ascending: what each asks for, cd/m2, and its light."""
    bright = [index for index, asked in enumerate(asked_cd_m2) if asked > DARK_CD_M2]
    keeping = [index for index in bright if (lights[index].value or 0.0) >= KNEE * asked_cd_m2[index]]
    last = keeping[-1] if keeping else -1
    if beyond := sum(lights[index].bound == "above" for index in bright):
        why = f"inconclusive: {beyond} of the codes were over the meter's range"
        return without_knee(last, why, "inconclusive")
    used = [index for index in bright if lights[index].plain]
    if len(used) < 2:
        return without_knee(last, "inconclusive: fewer than two bright steps could be read", "inconclusive")
    nodes = tuple(node for index in used if (node := lights[index].sources) is not None)
    read = tuple(lights[index].value or 0.0 for index in used), tuple(asked_cd_m2[index] for index in used)
    knee, short = (KneeNode(which, *read, nodes, name) for which in ("knee", "shortfall"))
    drawn = knee.drawn(FigureSources()) if len(nodes) == len(used) else None
    # How often drawn errors leave no code that keeps up, and how often all keep up to the last.
    none, whole = (0.0, 0.0) if drawn is None else (float((drawn[1] <= 0.0).mean()), float(np.isinf(drawn[0]).mean()))
    if last < 0 or last == len(lights) - 1:
        why = NOT_ON_IT if last < 0 else f"it keeps up with all that was asked for, {asked_cd_m2[-1]:.4g} cd/m2 at most"
        if drawn is None:
            return without_knee(last, f"{why}, as it was read; {NOT_KNOWN}", "inconclusive")
        if (none if last < 0 else whole) >= 1.0 - TAIL:
            return without_knee(last, why, "not on the curve" if last < 0 else "keeps up")
        return without_knee(last, f"{why}, as it was read; the uncertainty of the readings allows more", "inconclusive")
    parts = [lights[last], lights[last + 1]]
    at = composed(knee.read, LUMINANCE_UNIT, parts, sources=knee if drawn is not None else None)
    if drawn is not None and max(none, whole) > TAIL:
        at = _open(at, drawn, none, whole)
    below = composed(short.read, "%", parts, sources=short if drawn is not None else None)
    ending, words = _verdict(short, below) if at.plain else ("inconclusive", "inconclusive: the knee is only a bound")
    return Knee(last, at, (asked_cd_m2[last], asked_cd_m2[last + 1]), below, ending, words)


def _open(at: Quantity, drawn: tuple[Array, Array], none: float, whole: float) -> Quantity:
    """The knee where the uncertainty of the readings leaves one end of its interval open: a bound at the other."""
    if min(none, whole) > TAIL:
        return absent(at.unit, "any of the codes may be the last that keeps up", at.records)
    bound: Bound = "below" if none > TAIL else "above"
    low, high = np.quantile(drawn[0], TAIL, method="lower"), np.quantile(drawn[1], 1.0 - TAIL, method="higher")
    why = f"the uncertainty of the readings allows that {'no code keeps' if none > TAIL else 'all codes keep'} up"
    return at._replace(value=float(high if none > TAIL else low), bound=bound, sources=None, why=why)


def _verdict(short: KneeNode, below: Quantity) -> tuple[Ending, str]:
    """Clip or roll-off, by the whole interval of the shortfall."""
    found = below.interval
    if found is None:
        return "inconclusive", f"inconclusive: {NOT_KNOWN}"
    low, high = found
    if high < HARD_PERCENT:
        return "clips", "follows the curve to its peak and clips there"
    if low >= HARD_PERCENT:
        return "rolls off", "rolls off before its peak"
    at_codes = short.at_codes()
    peak = max(short.light)
    after = [light for light, asked in zip(short.light, short.asked, strict=True) if asked >= peak]
    if after and max(after) >= peak and 100.0 * (1.0 - min(after) / peak) >= HARD_PERCENT:
        why = "above the peak the light falls again"
    elif at_codes[0] < HARD_PERCENT <= at_codes[1]:
        apart = next((b / a for a, b in pairwise(short.asked) if b >= peak), 1.0)
        why = f"two codes about the peak are {100.0 * (apart - 1.0):.0f} % apart; more steps would decide"
    else:
        why = "the uncertainty of the readings allows both"
    return "inconclusive", f"inconclusive, a clip or a roll-off: {why}"
