"""What is known from a log so far, for patches that are read to a precision: noise, settling, luminances.

The noise is the meter's repeatability as found on this bench: standard deviation of readings by luminance and time,
after the handbook form u_rep^2 = s0^2 + a^2 L + (r L)^2 (dark noise, shot noise, noise of the scale; the levels of
repeatability against luminance follow IEC TR 62977-1-31:2021, 5.2), each part falling with the integration time. What
is fitted are sample variances of patches that are done, so every one has its degrees of freedom. Pure.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import combinations
from typing import Any, NamedTuple

from benchd.run.adaptive.settling import PanelModel, from_body
from benchd.run.adaptive.settling_model import CHARACTERISED_MODEL, MODEL

NEAR = 10.0
"""A variance holds for luminances within this factor of its own."""

MIN_DOF = 20.0
"""Degrees of freedom near a luminance from which on the model is trusted there: its noise is then known to 16 %."""

BINS_A_DECADE = 4
_ROUNDS = 12


class NoiseSample(NamedTuple):
    """A variance that was seen: mean luminance in cd/m2, variance x integration time in (cd/m2)^2 s, freedom."""

    luminance_cd_m2: float
    per_second: float
    dof: float


class NoiseModel(NamedTuple):
    """Variance of one reading of luminance = (dark + shot L + scale L^2) / integration time."""

    dark: float  # (cd/m2)^2 s
    shot: float  # cd/m2 s
    scale: float  # s

    @classmethod
    def stated(cls, dark_cd_m2: float, shot: float, scale: float, integration_s: float) -> NoiseModel:
        """From the standard deviations s0, a, r of readings of ``integration_s``."""
        return cls(dark_cd_m2**2 * integration_s, shot**2 * integration_s, scale**2 * integration_s)

    def per_second(self, luminance_cd_m2: float) -> float:
        """Variance x integration time at a luminance."""
        level = max(luminance_cd_m2, 0.0)
        return self.dark + self.shot * level + self.scale * level * level


class Noise:
    """The meter's repeatability so far; more is taken in with every patch that is done."""

    def __init__(self, stated: NoiseModel | None = None, stated_dof: float = 0.0) -> None:
        self._bins: dict[int, tuple[float, float, float]] = {}  # sums of dof, dof x per_second, dof x luminance
        self._stated: dict[int, float] = {}  # of dof, those that were stated and not read
        self._model: NoiseModel | None = None  # of all that is in the bins; None: to be fitted
        if stated is not None and stated_dof > 0.0:
            for level in (10.0**power for power in range(-3, 4)):
                self.take(NoiseSample(level, stated.per_second(level), stated_dof))
            self._stated = {key: dof for key, (dof, _, _) in self._bins.items()}

    def take(self, seen: NoiseSample) -> None:
        """One more variance; one of nothing is left out (a meter's last digit can hide all noise)."""
        if seen.dof <= 0.0 or seen.per_second <= 0.0 or seen.luminance_cd_m2 <= 0.0:
            return
        key = math.floor(BINS_A_DECADE * math.log10(seen.luminance_cd_m2))
        dof, square, level = self._bins.get(key, (0.0, 0.0, 0.0))
        square, level = square + seen.dof * seen.per_second, level + seen.dof * seen.luminance_cd_m2
        self._bins[key] = (dof + seen.dof, square, level)
        self._model = None

    def dof_at(self, luminance_cd_m2: float) -> float:
        """Degrees of freedom of all that was seen near a luminance."""
        return sum(dof for dof, _ in self._near(luminance_cd_m2))

    def read_dof_at(self, luminance_cd_m2: float) -> float:
        """The same of what was read in this log alone: analysis has no other."""
        return sum(dof - stated for dof, stated in self._near(luminance_cd_m2))

    def _near(self, luminance_cd_m2: float) -> list[tuple[float, float]]:
        """Degrees of freedom near a luminance, and those of them that were stated."""
        if luminance_cd_m2 <= 0.0:
            return []
        reach = math.log10(NEAR) * BINS_A_DECADE
        here = BINS_A_DECADE * math.log10(luminance_cd_m2)
        near = [key for key in self._bins if abs(key + 0.5 - here) <= reach]
        return [(self._bins[key][0], self._stated.get(key, 0.0)) for key in near]

    def per_second(self, luminance_cd_m2: float) -> float | None:
        """Variance x integration time at a luminance; None where nothing near it is known well enough."""
        if self.dof_at(luminance_cd_m2) < MIN_DOF:
            return None
        self._model = self._model or fitted(self.seen())
        return None if self._model is None else self._model.per_second(luminance_cd_m2)

    def seen(self) -> list[NoiseSample]:
        """What was taken in, pooled by quarters of a decade."""
        return [
            NoiseSample(level / dof, square / dof, dof) for _, (dof, square, level) in sorted(self._bins.items()) if dof
        ]


def fitted(seen: Sequence[NoiseSample]) -> NoiseModel | None:
    """The model nearest to the variances: weighted least squares, no part negative.

    A sample variance varies by sqrt(2 / dof) of what it estimates, so the weights are dof / variance^2 with the
    variance of the model itself (iterated); weighting by what was seen would favour those that came out small.
    """
    if not seen:
        return None
    weights = [one.dof for one in seen]
    expected = [_smooth(seen, one.luminance_cd_m2) for one in seen]
    best: tuple[float, float, float] = (0.0, 0.0, 0.0)
    for _ in range(_ROUNDS):
        rows = [
            (weight / value**2, one.luminance_cd_m2, one.per_second)
            for weight, value, one in zip(weights, expected, seen, strict=True)
        ]
        best = _least_squares(rows)
        model = NoiseModel(*best)
        expected = [max(model.per_second(one.luminance_cd_m2), 1e-6 * one.per_second) for one in seen]
    return NoiseModel(*best)


def _smooth(seen: Iterable[NoiseSample], luminance: float) -> float:
    """Mean of the variances near a luminance: a beginning for the weights."""
    near = [one for one in seen if 1.0 / NEAR <= one.luminance_cd_m2 / luminance <= NEAR]
    return sum(one.dof * one.per_second for one in near) / sum(one.dof for one in near)


def _least_squares(rows: Sequence[tuple[float, float, float]]) -> tuple[float, float, float]:
    """Coefficients of 1, L, L^2, none negative, that fit rows of weight, L, value best: all subsets are tried."""
    best, best_loss = (0.0, 0.0, 0.0), math.inf
    weights = [sum(w * x**power for w, x, _ in rows) for power in range(5)]
    values = [sum(w * x**power * v for w, x, v in rows) for power in range(3)]
    # Of equal fits the simplest: fewer parts first, and a part more must win clearly.
    for size in (1, 2, 3):
        for powers in combinations((0, 1, 2), size):
            found = _solved(weights, values, powers) if len(rows) >= size else None
            if found is None or min(found) < 0.0:
                continue
            full = [0.0, 0.0, 0.0]
            for power, value in zip(powers, found, strict=True):
                full[power] = value
            loss = sum(w * (v - full[0] - full[1] * x - full[2] * x * x) ** 2 for w, x, v in rows)
            if loss < best_loss * (1.0 - 1e-9):
                best, best_loss = (full[0], full[1], full[2]), loss
    return best


def _solved(weights: Sequence[float], values: Sequence[float], powers: Sequence[int]) -> list[float] | None:
    """Weighted normal equations for the given powers of L, by elimination; None where they have no one solution.

    ``weights``: sums of weight x L^0 to L^4; ``values``: of weight x value x L^0 to L^2.
    """
    size = len(powers)
    # Columns scaled to length one: luminances span six decades.
    scales = [math.sqrt(weights[2 * power]) or 1.0 for power in powers]
    matrix = [
        [
            *(weights[first + second] / (one * other) for second, other in zip(powers, scales, strict=True)),
            values[first] / one,
        ]
        for first, one in zip(powers, scales, strict=True)
    ]
    for column in range(size):
        pivot = max(range(column, size), key=lambda row: abs(matrix[row][column]))
        if abs(matrix[pivot][column]) < 1e-9:
            return None
        matrix[column], matrix[pivot] = matrix[pivot], matrix[column]
        for row in range(size):
            if row != column:
                factor = matrix[row][column] / matrix[column][column]
                matrix[row] = [a - factor * b for a, b in zip(matrix[row], matrix[column], strict=True)]
    return [matrix[index][size] / matrix[index][index] / scales[index] for index in range(size)]


SHORTEST_S, LONGEST_S = 0.05, 4.0
"""Shortest and longest reading that is requested; the meter's own limits take precedence."""
UNLIKE = (1.0, 2.0, 4.0, 8.0)
"""Factors tried in turn on what shares are uncertain by, until they explain the warm-up characterisation."""
MISFIT = 1.5


class Limits(NamedTuple):
    """What the meter can do: shortest and longest integration, and the lowest luminance of its range."""

    shortest_s: float = SHORTEST_S
    longest_s: float = LONGEST_S
    floor_cd_m2: float = 0.0


class Learned:
    """What is known from this log so far: the meter's noise, the panel's settling, the luminances of the steps."""

    def __init__(self, limits: Limits | None = None, stated: NoiseModel | None = None, stated_dof: float = 0.0) -> None:
        self.limits = limits or Limits()
        self.noise = Noise(stated, stated_dof)
        self.panel = PanelModel()
        self._luminance: dict[str, float] = {}
        self.brightest_cd_m2 = 0.0
        self._taken = 0

    def take(self, entries: list[tuple[str, dict[str, Any]]]) -> None:
        """What the log holds of adaptive steps, in order; those that were taken before are passed over."""
        for step, body in entries[self._taken :]:
            if body.get("luminance_cd_m2") is not None:
                self._luminance[step] = float(body["luminance_cd_m2"])
                self.brightest_cd_m2 = max(self.brightest_cd_m2, self._luminance[step])
            for part in (*body.get("lessons", ()), body):
                self.brightest_cd_m2 = max(self.brightest_cd_m2, float(part.get("luminance_cd_m2") or 0.0))
                for seen in part.get("scatter", ()):
                    self.noise.take(NoiseSample(*seen))
            self._take_characterisation(body.get("lessons", ()))
            self._take_settling(body, of_warm_up=False)
        self._taken = len(entries)

    def _take_characterisation(self, characterisation: Sequence[dict[str, Any]]) -> None:
        """What is left at a moment counts the less, the less alike the changes settle."""
        before = self.panel
        for unlike in UNLIKE if characterisation else ():
            self.panel = before.copy()
            self.panel.unlike = unlike
            for part in characterisation:
                self._take_settling(part, of_warm_up=True)
            if self.panel.misfit <= MISFIT:
                break

    def _take_settling(self, body: dict[str, Any], *, of_warm_up: bool) -> None:
        if "settling" in body:
            change, bins, per_second = from_body(body["settling"])
            if of_warm_up and bins:  # the noise is poorly known from some seconds, and so are weights by it
                level = max(float(body["luminance_cd_m2"]), self.limits.floor_cd_m2)
                per_second = self.noise.per_second(level) or per_second
            model = CHARACTERISED_MODEL if of_warm_up else MODEL
            self.panel.take(change, bins, per_second, float(body["time_s"]), self.brightest_cd_m2, model)

    def luminance_of(self, step: str) -> float | None:
        """What a step read, in cd/m2, where it was read in this way."""
        return self._luminance.get(step)


def limits_of(low_s: float | None, high_s: float | None, floor_cd_m2: float | None) -> Limits:
    """Our limits within those of a meter that reports some."""
    shortest = SHORTEST_S if low_s is None else max(SHORTEST_S, low_s)
    longest = max(shortest, LONGEST_S if high_s is None else min(LONGEST_S, high_s))
    return Limits(shortest, longest, floor_cd_m2 or 0.0)
