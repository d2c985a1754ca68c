"""Averages over figures of one kind (the colour differences of steps, or of a list), with what was left out of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

import numpy as np

from benchd.analysis.cloud import Whole
from benchd.analysis.difference_cloud import together
from benchd.analysis.places import listed
from benchd.analysis.quantity import Quantity, absent, composed


class Averages(NamedTuple):
    """Mean, median, 95th percentile (linear between ranks) and maximum; ``worst``: names, the largest first."""

    mean: Quantity
    median: Quantity
    percentile_95: Quantity
    maximum: Quantity
    worst: tuple[str, ...]


def averages(figures: Sequence[tuple[str, Quantity]], missing: str, *, worst: int, called: str = "") -> Averages:
    """Averages of named ``figures`` (unit 1), absent while anything is ``missing``.

    Figures without a value are left out, and the note names them, each a ``called`` ("code "). ``worst``: how many.
    """
    usable = [(name, one) for name, one in figures if one.value is not None]
    lacking = [(name, one) for name, one in figures if one.value is None]
    cloud = together([one.sources for _, one in usable])

    def over(function: Callable[[Any], Any], whole: Whole) -> Quantity:
        if missing:
            return absent("1", missing)
        if not usable:
            return absent("1", lacking[0][1].why if lacking else "nothing was measured")
        note = f"without {called}{listed([name for name, _ in lacking])}: {lacking[0][1].why}" if lacking else ""
        value = float(function([one.value for _, one in usable]))
        return composed(value, "1", [one for _, one in usable], note, cloud.over(whole) if cloud else None)

    ordered = sorted(usable, key=lambda pair: -(pair[1].value or 0.0))[:worst]
    return Averages(
        mean=over(np.mean, "mean"),
        median=over(np.median, "median"),
        percentile_95=over(lambda values: np.percentile(values, 95.0), "percentile_95"),
        maximum=over(np.max, "max"),
        worst=() if missing else tuple(name for name, _ in ordered),
    )
