"""Where a PQ tone curve leaves its scale and how it ends: the knee, how far it stays under a hard clip, the verdict.

One display has one verdict from any number of codes, or none with the reason; intervals hold the step of the codes.

Between two codes nothing was read. What is known there follows from a shape that tone curves have: on logarithmic axes
they bend downwards only, if at all. So between two codes the light lies above the chord, and below the straight line
through the two codes beyond. Where the readings contradict that shape, only that the light does not fall is used. The
readings' own errors are drawn from their sources (JCGM 101:2008, from memory), and an interval reaches from the 2.5 %
quantile of the lower limits to the 97.5 % quantile of the upper ones. That the shape holds is a supposition of our own
(common practice has no rule); drawn displays hold it to the truth in ``test_roll_off.py`` of its tests.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Any, Literal, NamedTuple, TypeAlias

import numpy as np

from benchd.analysis.colour import colorimetry as colour
from benchd.analysis.log.step_light import LUMINANCE_UNIT
from benchd.analysis.uncertainty.draws import FigureSources, Normal, widened
from benchd.analysis.uncertainty.noisy_length import TAIL
from benchd.analysis.uncertainty.quantity import Bound, Quantity, absent, composed
from benchd.analysis.uncertainty.sources import Contributions, Node, Source, Stated, effective_dof
from benchd.measurements.tone_curve.results import Ending

Array = colour.Array
Index: TypeAlias = "np.ndarray[tuple[int, ...], np.dtype[np.intp]]"
Which = Literal["knee", "shortfall"]

KNEE = 0.95
"""A screen that stays under this share of what is requested, at this level and all above, has left the curve."""
_LOG_KNEE = math.log(KNEE)


class Limits(NamedTuple):
    """What the light of some codes allows, each (draws,); the point where it is read lies within.

    ``knee_low``, ``knee_high``   cd/m2 requested; 0 where no code keeps up, endless where the last one does
    ``short_low``, ``short_high`` share of the peak, 0 to 1, that the light stays under a hard clip, at the most
    """

    knee_low: Array
    knee_high: Array
    short_low: Array
    short_high: Array


def limits(light: Array, requested: Array) -> Limits:
    """``light`` (draws, codes) and ``requested`` (codes,), both in cd/m2, above zero, ascending, two at least."""
    curve = _Curve(np.log(np.maximum(light, 1e-9)), np.log(requested))
    short = curve.light - curve.requested - _LOG_KNEE
    keeps = short >= 0.0
    last = len(requested) - 1 - np.argmax(keeps[:, ::-1], axis=1)
    none, whole = ~keeps.any(axis=1), keeps[:, -1]
    at = np.minimum(last, len(requested) - 2)
    left, right = (_at(curve.requested, at + part) for part in (0, 1))
    before, after = (_at(short, at + part) for part in (0, 1))
    with np.errstate(divide="ignore", invalid="ignore"):
        chord = left + before / (before - after) * (right - left)
        beyond = right + after / (1.0 - curve.slope(at + 1))  # where the line through the codes beyond is 5 % short
    bends = curve.bends_down(at)
    low = np.clip(np.where(bends, chord, _at(curve.light, at) - _LOG_KNEE), left, right)
    high = np.clip(np.where(bends, beyond, _at(curve.light, at + 1) - _LOG_KNEE), low, right)
    # The most that is missing is missing where the code requests the peak, or at the knee if that is higher.
    peak = curve.light.max(axis=1)
    lowest = curve.least(np.maximum(peak, low))
    falls = np.where(curve.requested >= np.maximum(peak, low)[:, None], curve.light, np.inf).min(axis=1)
    highest = curve.most(np.maximum(peak, high))
    # The light does not fall, so the last code is the peak: it was not picked for its noise.
    short_low, short_high = (-np.expm1(low_high) for low_high in (highest - curve.light[:, -1], lowest - peak))
    short_high = np.maximum(short_high, -np.expm1(np.minimum(falls - peak, 0.0)))
    return Limits(
        np.where(none, 0.0, np.where(whole, np.inf, np.exp(low))),
        np.where(none, 0.0, np.where(whole, np.inf, np.exp(high))),
        np.clip(short_low, 0.0, 1.0),
        np.clip(short_high, np.maximum(short_low, 0.0), 1.0),
    )


class _Curve(NamedTuple):
    """Logarithms of the light (draws, codes) and of what is requested (codes,)."""

    light: Array
    requested: Array

    def slope(self, at: Index) -> Array:
        """Of the line from code ``at`` to the next one: 0 to just under 1; 0 at the last code."""
        here, there = np.minimum(at, len(self.requested) - 1), np.minimum(at + 1, len(self.requested) - 1)
        across = np.where(here == there, 1.0, _at(self.requested, there) - _at(self.requested, here))
        return np.clip((_at(self.light, there) - _at(self.light, here)) / across, 0.0, 0.999)

    def bends_down(self, at: Index) -> Any:
        """True where the line to the next code is not flatter than the one after it."""
        return self.slope(at) >= self.slope(at + 1)

    def least(self, where: Array) -> Array:
        """What the light is at least where ``where`` (draws,) is requested."""
        at, part = self._segment(where)
        here, there = _at(self.light, at), _at(self.light, at + 1)
        chord = here + part * (there - here)
        return np.where(self.bends_down(at), chord, np.minimum(here, there))

    def most(self, where: Array) -> Array:
        """What the light is at most there."""
        at, _ = self._segment(where)
        here, there = _at(self.light, at), _at(self.light, at + 1)
        ahead = np.maximum(_at(self.requested, at + 1) - where, 0.0)
        line = there - self.slope(at + 1) * ahead
        share = where + np.maximum(here - _at(self.requested, at), there - _at(self.requested, at + 1))
        return np.minimum(np.where(self.bends_down(at), line, np.maximum(here, there)), share)

    def _segment(self, where: Array) -> tuple[Index, Array]:
        """The code before, and which part of the way to the next one."""
        at = np.clip(np.searchsorted(self.requested, where, side="right") - 1, 0, len(self.requested) - 2)
        left, right = _at(self.requested, at), _at(self.requested, at + 1)
        return at, np.clip((where - left) / (right - left), 0.0, 1.0)


def _at(values: Array, index: Index) -> Array:
    """The value of one code for each draw."""
    return np.asarray(values[index] if values.ndim == 1 else values[np.arange(len(values)), index])


class KneeNode(NamedTuple):
    """The node of the knee (cd/m2 requested) or of the shortfall (%) of one curve.

    ``light``  as it was read at each code, ``parts`` the nodes of these readings, ``requested`` by the codes
    ``name``   of the block: how far its codes are apart is a source of its own
    """

    which: Which
    light: tuple[float, ...]
    requested: tuple[float, ...]
    parts: tuple[Node, ...]
    name: str

    @property
    def edge(self) -> float:
        """A shortfall is never below 0; a knee has no edge."""
        return 0.0 if self.which == "shortfall" else -math.inf

    @property
    def read(self) -> float:
        """The middle of what the codes allow, as they were read."""
        low, high = self.at_codes()
        return (low + high) / 2.0

    def at_codes(self) -> tuple[float, float]:
        """What the codes allow as they were read, without the uncertainty of the readings."""
        low, high = self._limits(np.array(self.light)[None])
        return float(low[0]), float(high[0])

    def drawn(self, normal: Normal) -> tuple[Array, Array] | None:
        """Lower and upper limit (draws,) of what the truth may be; None where a source is not known."""
        loads = self._loads()
        if loads is None:
            return None
        sources, array = loads
        errors = (normal.of(sources) * np.array([widened(one.dof) for one in sources])) @ array
        return self._limits(np.array(self.light) - errors.reshape(-1, len(self.light)))

    def moved(self, normal: Normal) -> Array | None:
        """What the figure may truly be, less what was read (draws,): anywhere between the limits."""
        found = self.drawn(normal)
        if found is None:
            return None
        low, high = (self._finite(one) for one in found)
        place = normal.of([self._step()])[:, 0] / math.sqrt(12.0)
        return np.asarray(np.clip((low + high) / 2.0 + place * (high - low), low, high) - self.read)

    def contributions(self) -> Contributions | None:
        """As if it were linear where it was read; the distance of the codes counts as a rectangle (JCGM 100, 4.3.7)."""
        loads = self._loads()
        if loads is None:
            return None
        sources, array = loads
        reach = np.sqrt((array**2).sum(axis=1))
        h = 1e-5 * max(self.light) / np.where(reach > 0.0, reach, 1.0)
        ends = [sum(self._limits(np.array(self.light) + sign * h[:, None] * array)) / 2.0 for sign in (1.0, -1.0)]
        found = dict(zip(sources, ((ends[0] - ends[1]) / (2.0 * h)).tolist(), strict=True)) if sources else {}
        low, high = self.at_codes()
        return {**found, self._step(): (high - low) / math.sqrt(12.0)}

    def stated(self, value: float) -> Stated | None:
        """From the 2.5 % quantile of the lower limits to the 97.5 % quantile of the upper ones; k is not defined."""
        found = self.drawn(FigureSources())
        if found is None:
            return None
        low = min(value, float(np.quantile(found[0], TAIL, method="lower")))
        high = max(value, float(np.quantile(found[1], 1.0 - TAIL, method="higher")))
        return Stated((high - low) / 2.0, None, effective_dof(self.contributions() or {}), low, high)

    def _limits(self, light: Array) -> tuple[Array, Array]:
        found = limits(light, np.array(self.requested))
        if self.which == "knee":
            return found.knee_low, found.knee_high
        return 100.0 * found.short_low, 100.0 * found.short_high

    def _finite(self, limit: Array) -> Array:
        """Draws in which no code keeps up, or the last one does, count as the ends of what was requested."""
        return np.clip(limit, 0.0 if self.which == "shortfall" else self.requested[0], max(self.requested[-1], 100.0))

    def _step(self) -> Source:
        return Source(f"distance of the codes of {self.name}")

    def _loads(self) -> tuple[list[Source], Array] | None:
        """Sources, and what each does to the light of each code (sources, codes)."""
        found = [part.contributions() for part in self.parts]
        if any(one is None for one in found):
            return None
        sources: dict[Source, int] = {}
        for one in found:
            for source in one or ():
                sources.setdefault(source, len(sources))
        loads = np.zeros((len(sources), len(found)))
        for code, one in enumerate(found):
            for source, amount in (one or {}).items():
                loads[sources[source], code] = amount
        return list(sources), loads


DARK_CD_M2 = 0.1
"""Codes that request less show how deep the black is, not where the curve ends."""
HARD_PERCENT = 3.0
"""A curve that misses less than this of a hard clip at its own peak clips (our own limit: there is no standard)."""

NOT_ON_IT = "no bright step comes within 5 % of what is requested"
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


def knee_of(requested_cd_m2: Sequence[float], lights: Sequence[Quantity], name: str) -> Knee:
    """Of the codes of the block ``name``, ascending: what each requests, cd/m2, and its light."""
    bright = [index for index, requested in enumerate(requested_cd_m2) if requested > DARK_CD_M2]
    keeping = [index for index in bright if (lights[index].value or 0.0) >= KNEE * requested_cd_m2[index]]
    last = keeping[-1] if keeping else -1
    if beyond := sum(lights[index].bound == "above" for index in bright):
        why = f"inconclusive: {beyond} of the codes were over the meter's range"
        return without_knee(last, why, "inconclusive")
    used = [index for index in bright if lights[index].plain]
    if len(used) < 2:
        return without_knee(last, "inconclusive: fewer than two bright steps could be read", "inconclusive")
    nodes = tuple(node for index in used if (node := lights[index].sources) is not None)
    read = tuple(lights[index].value or 0.0 for index in used), tuple(requested_cd_m2[index] for index in used)
    knee, short = (KneeNode(which, *read, nodes, name) for which in ("knee", "shortfall"))
    drawn = knee.drawn(FigureSources()) if len(nodes) == len(used) else None
    # How often drawn errors leave no code that keeps up, and how often all keep up to the last.
    none, whole = (0.0, 0.0) if drawn is None else (float((drawn[1] <= 0.0).mean()), float(np.isinf(drawn[0]).mean()))
    if last < 0 or last == len(lights) - 1:
        why = (
            NOT_ON_IT
            if last < 0
            else f"it keeps up with all that was requested, {requested_cd_m2[-1]:.4g} cd/m2 at most"
        )
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
    return Knee(last, at, (requested_cd_m2[last], requested_cd_m2[last + 1]), below, ending, words)


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
    after = [light for light, requested in zip(short.light, short.requested, strict=True) if requested >= peak]
    if after and max(after) >= peak and 100.0 * (1.0 - min(after) / peak) >= HARD_PERCENT:
        why = "above the peak the light falls again"
    elif at_codes[0] < HARD_PERCENT <= at_codes[1]:
        apart = next((b / a for a, b in pairwise(short.requested) if b >= peak), 1.0)
        why = f"two codes about the peak are {100.0 * (apart - 1.0):.0f} % apart; more steps would decide"
    else:
        why = "the uncertainty of the readings allows both"
    return "inconclusive", f"inconclusive, a clip or a roll-off: {why}"
