"""How a panel's light settles, as a sum of exponentials on a fixed grid of time constants, with what could be hidden.

Readings of a patch over time are L + sum_k A_k R_k mean(exp(-t / tau_k)) + noise: A_k are shares of a step, R_k what
steps (this one and those before it, faded) are there to settle. Least squares over all that was seen, each patch with
an L of its own, so patches are pooled without being compared. Parts are taken up one by one
while each is significant (`adaptive.least_squares`); for those that are not, the standard error bounds what could be
hidden. Where the parts do not explain what was seen, errors and thresholds grow with the misfit (Birge, Phys. Rev.
40, 1932, 207). Pure.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple

Parts = tuple[tuple[int, float], ...]
"""Index, share."""

TAUS_S = tuple(0.012 * 1.5**power for power in range(18))
"""12 ms to 12 s. Slower change can't be distinguished from drift within a patch's time, and counts as drift."""

HIDDEN = 2.0
"""Standard errors that an unseen part may have; or what it seems to have, where that is more."""
MODEL = 0.03
"""Share of what is left at a moment that the grid and the moment itself are uncertain by."""
CHARACTERISED_MODEL = 0.1
"""The same of a warm-up: changes so unlike in size have not the same shares (limiting, overdrive)."""
OVER_TAUS = 50.0
"""Time constants after which nothing is left."""

ONES: tuple[float, ...] = (1.0,) * len(TAUS_S)


class Bin(NamedTuple):
    """The mean of readings that follow each other: beginning and end since the patch was shown, time, luminance."""

    from_s: float
    to_s: float
    took_s: float
    luminance_cd_m2: float


class SettlingCurve(NamedTuple):
    """What is known of a settling: parts that were seen, and the standard error of each time constant's part alone.

    ``variants``: the same with a slower last part, as far as the readings allow it; first the likeliest.
    """

    variants: tuple[Parts, ...]
    errors: tuple[float, ...]

    @property
    def parts(self) -> Parts:
        """The likeliest."""
        return self.variants[0]

    def within(self, other: SettlingCurve) -> SettlingCurve:
        """The same where no part can be larger than the other's, seen or hidden."""
        most = [HIDDEN * error for error in other.errors]
        for index, share in {part for parts in other.variants for part in parts}:
            most[index] = max(most[index], abs(share) + HIDDEN * other.errors[index])
        variants = (
            tuple((index, max(-most[index], min(share, most[index]))) for index, share in parts)
            for parts in self.variants
        )
        return SettlingCurve(tuple(variants), tuple(map(min, self.errors, other.errors)))

    def left(self, steps: Sequence[float], from_s: float, to_s: float) -> float:
        """Mean over a window of what is left and was seen, at most; ``steps``: R_k."""
        lasting = means_left(from_s, to_s)
        return max(sum(abs(share * steps[index]) * lasting[index] for index, share in parts) for parts in self.variants)

    def shown(self, from_s: float, to_s: float) -> float:
        """Mean over a window of what is left at least, for steps of one."""
        lasting = means_left(from_s, to_s)
        return min(sum(abs(share) * lasting[index] for index, share in parts) for parts in self.variants)

    def hidden(self, steps: Sequence[float], from_s: float, to_s: float) -> float:
        """Mean over a window of the largest part that could be there and not be seen."""
        return most_hidden(self.hides(steps), means_left(from_s, to_s))

    def hides(self, steps: Sequence[float]) -> list[tuple[int, float]]:
        """The size at its beginning of what each time constant's part could have unseen, where there is a step."""
        sizes = enumerate(zip(self.errors, steps, strict=True))
        return [(index, HIDDEN * error * abs(step)) for index, (error, step) in sizes if step]


def most_hidden(sizes: Iterable[tuple[int, float]], lasting: Sequence[float]) -> float:
    """The largest part of those that still lasts; what is over hides nothing, whatever it was."""
    return max([size * lasting[index] for index, size in sizes if lasting[index]], default=0.0)


def mean_left(tau_s: float, from_s: float, to_s: float) -> float:
    """Mean of exp(-t / tau) over a stretch of time."""
    if from_s > OVER_TAUS * tau_s:
        return 0.0
    if to_s - from_s < 1e-9:
        return math.exp(-from_s / tau_s)
    return tau_s * (math.exp(-from_s / tau_s) - math.exp(-to_s / tau_s)) / (to_s - from_s)


@lru_cache(maxsize=64)
def means_left(from_s: float, to_s: float) -> tuple[float, ...]:
    """The same for each time constant."""
    return tuple([mean_left(tau_s, from_s, to_s) for tau_s in TAUS_S])


def binned(readings: Iterable[tuple[float, float, float]], ratio: float = 1.2) -> list[Bin]:
    """Readings (end, time, luminance) as means over stretches that grow with time: no settling is finer than that."""
    bins: list[Bin] = []
    for end_s, took_s, luminance in readings:
        from_s = end_s - took_s
        together = bool(bins) and from_s - bins[-1].to_s < 1e-6  # no pause between
        if together and end_s <= max(ratio * bins[-1].from_s, bins[-1].from_s + 0.06):
            last = bins[-1]
            took = last.took_s + took_s
            mean = (last.took_s * last.luminance_cd_m2 + took_s * luminance) / took
            bins[-1] = Bin(last.from_s, end_s, took, mean)
        else:
            bins.append(Bin(from_s, end_s, took_s, luminance))
    return bins
