"""How often `decide` is wrong, by simulation. ``python -m tests.analysis.false_alarms`` prints the table.

Two kinds of error, each to be 5 % at most: results of the same called different, and results that differ by
exactly the margin called equivalent. Readings are normal; the second side's scatter is ``ratio`` times the first's.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from benchd.analysis.verdicts.equivalence import Margin, Measurand, decide

SIZES = ((2, 2), (2, 5), (2, 10), (3, 3), (3, 5), (3, 10), (5, 5), (5, 6), (5, 8), (5, 20), (10, 10), (10, 30))
RATIOS = (0.1, 0.3, 0.7, 1.5, 3.0, 10.0)
MARGIN = 4.0
SEED = 20260302


class Errors(NamedTuple):
    """Shares of wrong answers in ``trials`` comparisons of ``n`` readings with ``m``."""

    n: int
    m: int
    ratio: float
    trials: int
    different: float  # though they are the same
    equivalent: float  # though they differ by the margin


def of_replicates(values: Sequence[float], unit: str = "1") -> Measurand:
    """Mean, and standard uncertainty of the mean."""
    n, s = len(values), float(np.std(values, ddof=1))
    return Measurand(float(np.mean(values)), s / math.sqrt(n), n - 1.0, unit, n, s)


def simulate(n: int, m: int, ratio: float, trials: int, seed: int = SEED) -> Errors:
    """Draw ``trials`` pairs of results and count the wrong answers."""
    rng = np.random.default_rng([seed, n, m, round(100 * ratio)])
    first = rng.normal(0.0, 1.0, (trials, n))
    second = rng.normal(0.0, ratio, (trials, m))
    different = equivalent = 0
    for one, other in zip(first.tolist(), second.tolist(), strict=True):
        a, b = of_replicates(one), of_replicates(other)
        different += decide(a, b).different
        apart = Measurand(a.value + MARGIN, a.u, a.dof)
        equivalent += decide(apart, b, Margin(MARGIN)).equivalent
    return Errors(n, m, ratio, trials, different / trials, equivalent / trials)


def table(trials: int) -> str:
    """Every case, and the worst of each kind."""
    lines = [
        "readings   scatter  called different    called equivalent",
        "           ratio    though the same     though apart by the margin",
    ]
    found = [simulate(n, m, ratio, trials) for n, m in SIZES for ratio in RATIOS]
    for one in found:
        lines.append(f"{one.n:3} and {one.m:2}  {one.ratio:6}  {one.different:15.2%}  {one.equivalent:18.2%}")
    worst = max(one.different for one in found), max(one.equivalent for one in found)
    lines.append(f"worst of {len(found)} cases: {worst[0]:.2%} and {worst[1]:.2%}, each of {trials} trials")
    return "\n".join(lines)


if __name__ == "__main__":
    sys.stdout.write(table(int(sys.argv[1]) if len(sys.argv) > 1 else 2_000) + "\n")
