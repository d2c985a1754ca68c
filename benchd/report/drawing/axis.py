"""An axis of a plot: its ends, where a value lies between them, and which values are named."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Literal

Tick = tuple[float, str]
Kind = Literal["linear", "logarithmic", "logarithmic from 1"]

_MARGIN = 0.05
"""Room beyond the values at each end, of the length of the axis."""
_NICE = (1.0, 2.0, 2.5, 5.0)


@dataclass(frozen=True, slots=True)
class Axis:
    """``low`` and ``high`` are its ends, in the way it runs; None: as the values need.

    ``ticks`` are the values named, with their words; None: round numbers. An axis that is logarithmic from 1 is linear
    from 0 to 1, for what begins at zero.
    """

    label: str = ""
    low: float | None = None
    high: float | None = None
    kind: Kind = "linear"
    ticks: tuple[Tick, ...] | None = None

    def around(self, values: Iterable[float]) -> Axis:
        """The axis with both its ends; those that it lacks are found from ``values``."""
        if self.low is not None and self.high is not None:
            return self
        known = [at for at in map(self.scaled, values) if at is not None] or [0.0, 1.0]
        least, most = min(known), max(known)
        room = _MARGIN * (most - least) or 0.5 * (abs(most) or 1.0)
        low = self._value(least - room) if self.low is None else self.low
        return replace(self, low=low, high=self._value(most + room) if self.high is None else self.high)

    def stretched(self, factor: float) -> Axis:
        """A linear axis so many times as long, around the same middle."""
        low, high = self.ends
        middle, half = (low + high) / 2.0, (high - low) / 2.0 * factor
        return replace(self, low=middle - half, high=middle + half)

    @property
    def ends(self) -> tuple[float, float]:
        assert self.low is not None
        assert self.high is not None
        return self.low, self.high

    def place(self) -> Callable[[float], float | None]:
        """Finds where a value lies: 0 at the low end, 1 at the high one; None where it can't be shown.

        What is infinite lies at an end.
        """
        low, high = map(self.scaled, self.ends)
        assert low is not None
        assert high is not None
        length = (high - low) or 1.0

        def found(value: float) -> float | None:
            if math.isinf(value):
                return float(value > 0)
            at = self.scaled(value)
            return None if at is None else (at - low) / length

        return found

    def scaled(self, value: float) -> float | None:
        """The value on the axis's own scale; None: it has no place there."""
        if not math.isfinite(value):
            return None
        if self.kind == "linear":
            return value
        if self.kind == "logarithmic":
            return math.log10(value) if value > 0.0 else None
        return math.copysign(1.0 + math.log10(abs(value)), value) if abs(value) > 1.0 else value

    def _value(self, scaled: float) -> float:
        if self.kind == "linear":
            return scaled
        if self.kind == "logarithmic":
            return float(10.0**scaled)
        return math.copysign(10.0 ** (abs(scaled) - 1.0), scaled) if abs(scaled) > 1.0 else scaled

    def named(self, most: int) -> tuple[Tick, ...]:
        """The values named between the ends: about ``most`` where round numbers are chosen, and two at least."""
        if self.ticks is not None:
            return self.ticks
        low, high = sorted(self.ends)
        values = [value for value in self._round(low, high, most) if low <= value <= high]
        if len(values) < 2:
            return round_numbers(low, high, most)
        return tuple((value, f"{value:g}") for value in values)

    def _round(self, low: float, high: float, most: int) -> list[float]:
        """Round numbers that are evenly apart on the scale, or nearly; none where those of a linear one serve."""
        if self.kind == "linear" or (self.kind == "logarithmic" and high < 4.0 * low):
            return []
        if self.kind == "logarithmic from 1":
            return [0.0, *_powers(1.0, max(high, 1.0))]
        if high < 100.0 * low:  # few powers of ten
            return [part * power for power in _powers(low / 10.0, high) for part in (1.0, 2.0, 5.0)]
        values = _powers(low, high)
        return values[:: max(1, math.ceil(len(values) / max(most, 2)))]


def round_numbers(low: float, high: float, most: int) -> tuple[Tick, ...]:
    """Multiples of 1, 2, 2.5 or 5 times a power of ten: two at least, and at most ``most``, or what two need."""
    if not high > low:
        return ((low, written(low, 1.0)),)
    rough = (high - low) / max(most, 1)
    power = 10.0 ** math.floor(math.log10(rough))
    steps = [part * power * more for more in (10.0, 1.0, 0.1) for part in reversed(_NICE)]
    several = {step: values for step in steps if len(values := _multiples(low, high, step)) >= 2}
    coarsest = next(iter(several))
    step = min((step for step, values in several.items() if len(values) <= most), default=coarsest)
    return tuple((value, written(value, step)) for value in several[step])


def written(value: float, step: float) -> str:
    """With as many decimals as steps of that size need."""
    decimals = next((n for n in range(12) if math.isclose(round(step, n), step, rel_tol=1e-6)), 12)
    return f"{value + 0.0:.{decimals}f}".replace("-", "−")


def _multiples(low: float, high: float, step: float) -> list[float]:
    slack = 1e-9 * step
    first, last = math.ceil((low - slack) / step), math.floor((high + slack) / step)
    return [number * step for number in range(first, last + 1)]


def _powers(low: float, high: float) -> list[float]:
    """Powers of ten from ``low`` to ``high``."""
    first, last = math.ceil(math.log10(low) - 1e-9), math.floor(math.log10(high) + 1e-9)
    return [float(10.0**power) for power in range(first, last + 1)]
