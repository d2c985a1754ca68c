"""Averages over figures of one kind (the colour differences of steps, or of a list), with what was left out of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

import numpy as np

from benchd.analysis.log.places import listed
from benchd.analysis.uncertainty.cloud import Whole
from benchd.analysis.uncertainty.colour_clouds import as_one_cloud
from benchd.analysis.uncertainty.noisy_length import quantile
from benchd.analysis.uncertainty.quantity import Quantity, absent, composed
from benchd.analysis.uncertainty.widened import Widened


class Averages(NamedTuple):
    """Mean, median, 95th percentile (linear between ranks) and maximum; ``worst``: names, the largest first."""

    mean: Quantity
    median: Quantity
    percentile_95: Quantity
    maximum: Quantity
    worst: tuple[str, ...]


def averages(figures: Sequence[tuple[str, Quantity]], missing: str, *, worst: int, called: str = "") -> Averages:
    """Averages of named ``figures`` (unit 1), absent while anything is ``missing``.

    Figures without a value are left out, and the note names them, each a ``called`` ("code "). One that is only known
    to be below something counts as half of that, and the interval holds for all that it may be. ``worst``: how many.
    """
    usable = [(name, one) for name, one in figures if one.plain]
    bounded = [(name, one) for name, one in figures if one.bound == "below"]
    lacking = [(name, one) for name, one in figures if not one.plain and one.bound != "below"]
    cloud = as_one_cloud([one.sources for _, one in usable])
    note = f"without {called}{listed([name for name, _ in lacking])}: {lacking[0][1].why}" if lacking else ""
    if bounded:
        names = f"{called}{listed([name for name, _ in bounded])}"
        ends = f"{names} counted as anything from 0 to {max(one.value or 0.0 for _, one in bounded):.2g}"
        note = "; ".join(filter(None, (note, f"{ends}: {bounded[0][1].why}")))

    def over(function: Callable[[Any], Any], whole: Whole) -> Quantity:
        if missing:
            return absent("1", missing)
        if not usable:
            return absent("1", (lacking or bounded)[0][1].why if lacking or bounded else "nothing was measured")
        values = [one.value for _, one in usable]
        value = float(function(values))
        found = composed(value, "1", [one for _, one in usable], note, cloud.over(whole) if cloud else None)
        if not bounded:
            return found
        low, middle, high = (
            float(function([*values, *(share * (one.value or 0.0) for _, one in bounded)])) for share in (0.0, 0.5, 1.0)
        )
        own = found.interval
        found = found._replace(value=middle, n=min(found.n, *(one.n for _, one in bounded)))
        if own is None or found.sources is None:
            return found
        return found._replace(sources=Widened(found.sources, middle, own[0] + low - value, own[1] + high - value))

    ordered = sorted(usable, key=lambda pair: -(pair[1].value or 0.0))[:worst]
    return Averages(
        mean=over(np.mean, "mean"),
        median=over(_median, "median"),
        percentile_95=over(lambda values: quantile(np.array(values), 0.95), "percentile_95"),
        maximum=over(np.max, "max"),
        worst=() if missing else tuple(name for name, _ in ordered),
    )


def _median(values: Sequence[float]) -> float:
    """Of a few numbers; that of numpy imports its masked arrays."""
    ordered, half = sorted(values), len(values) // 2
    return (ordered[half] + ordered[-1 - half]) / 2.0
