"""Two results of one quantity: different, equivalent within a stated margin, or can't tell.

Two questions that are asked apart, since both answers can be yes:

- different: Welch's test (degrees of freedom after Welch and Satterthwaite) of the null hypothesis that both are
  the same; false alarms are at most 5 %
- equivalent: two one-sided tests (TOST, Schuirmann 1987, from memory): the 90 % interval of the difference lies
  inside the margin, which is stated beforehand; it is wrongly said of results that differ by the margin in at
  most 5 %

"Not different" is never told as "the same". Where neither is shown, `Verdict.more` says how many more readings
(or runs) on either side it would take.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from benchd.analysis.distributions import t_above, t_point
from benchd.analysis.value import Value

ALPHA = 0.05
POWER = 0.8
"""How surely the further readings that are advised lead to an answer, whatever the true difference is."""
MOST_MORE = 10_000
"""A bench that would need more readings than this needs something else."""
FEW_DOF = 4.0
"""Below this the degrees of freedom of Welch and Satterthwaite let too many false alarms through; see `_dof`."""
METHOD = (
    "Welch's t test; two one-sided tests for equivalence, each at 5 %; "
    "after NIST/SEMATECH e-Handbook 1.3.5.3 and Schuirmann 1987 (both from memory)"
)


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Measurand(Value):
    """One side of a comparison.

    ``value``      in ``unit``
    ``u``          its standard uncertainty: those influences that the two sides do not share
    ``dof``        degrees of freedom of ``u``; ``math.inf`` where it is known
    ``n``, ``s``   how many replicates are behind the value, and the standard deviation of one of them, in ``unit``:
                   the part of ``u`` that more of them would shrink. Left out: no advice on how many more
    ``replicate``  what they are: "reading", "run", "unit"
    """

    value: float
    u: float
    dof: float = math.inf
    unit: str = "1"
    n: int = 0
    s: float | None = None
    replicate: str = "reading"

    def __post_init__(self) -> None:
        if not (math.isfinite(self.value) and self.u >= 0.0 and math.isfinite(self.u) and self.dof > 0.0):
            raise ValueError("a measurand needs a finite value, an uncertainty of at least 0 and degrees of freedom")

    @classmethod
    def of_replicates(cls, values: Sequence[float], unit: str = "1", replicate: str = "reading") -> Measurand:
        """Mean and standard uncertainty of the mean of at least two replicates."""
        n = len(values)
        if n < 2:
            raise ValueError("scatter needs at least two replicates")
        mean = math.fsum(values) / n
        s = math.sqrt(math.fsum((one - mean) ** 2 for one in values) / (n - 1))
        return cls(mean, s / math.sqrt(n), n - 1.0, unit, n, s, replicate)


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Margin(Value):
    """The largest difference that does not matter, stated before the comparison: ``size`` in the unit of the values,
    or, when ``percent``, in per cent of the second value."""

    size: float
    percent: bool = False

    def __post_init__(self) -> None:
        if not (self.size > 0.0 and math.isfinite(self.size)):
            raise ValueError("a margin is larger than zero")

    def around(self, value: float) -> float:
        """The margin in the unit of ``value``."""
        return abs(value) * self.size / 100.0 if self.percent else self.size


Answer = Literal["different", "equivalent", "different and equivalent", "can't tell"]


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Verdict(Value):
    """What two results say about each other.

    ``difference``      first minus second; ``u`` its standard uncertainty, ``dof`` its degrees of freedom
    ``low``, ``high``   95 % interval of the difference
    ``p_different``     probability of at least such a difference between results of the same
    ``margin``          in the unit of the values; None where none was stated, then nothing is equivalent
    ``low90``, ``high90``  90 % interval, which lies inside the margin when they are equivalent
    ``p_equivalent``    the larger p of the two one-sided tests; None without a margin
    ``alpha_different``, ``alpha_equivalent``  what the p was compared with: 5 %, or less with many parameters
    ``more``            replicates on either side that would lead to an answer; None where it has one or none helps
    ``why``             a sentence about ``more``
    """

    difference: float
    unit: str
    u: float
    dof: float
    low: float
    high: float
    t: float
    p_different: float
    margin: float | None
    low90: float
    high90: float
    t_low: float | None
    t_high: float | None
    p_equivalent: float | None
    different: bool
    equivalent: bool
    more: int | None = None
    why: str = ""
    alpha_different: float = ALPHA
    alpha_equivalent: float = ALPHA
    tested: int = 1

    @property
    def answer(self) -> Answer:
        """In words."""
        if self.different:
            return "different and equivalent" if self.equivalent else "different"
        return "equivalent" if self.equivalent else "can't tell"


def decide(
    a: Measurand,
    b: Measurand,
    margin: Margin | None = None,
    *,
    u_difference: float | None = None,
    dof_difference: float | None = None,
) -> Verdict:
    """Are ``a`` and ``b`` different, are they equivalent within ``margin``, or can't it be told?

    ``u_difference`` (with ``dof_difference``): standard uncertainty of a - b where the two share influences, such as
    the scale of one meter; left out, they are taken as independent. Raises ValueError for two units.
    """
    return _verdict(a, b, margin, u_difference, dof_difference, ALPHA, ALPHA, 1)


def decide_all(pairs: Sequence[tuple[Measurand, Measurand, Margin | None]]) -> tuple[Verdict, ...]:
    """`decide` for many parameters at once: at most 5 % that any one of all is a false alarm.

    The step-down method of Holm (1979, from memory), for the differences and for the equivalences apart.
    """
    return holm([decide(a, b, margin) for a, b, margin in pairs])


def holm(verdicts: Sequence[Verdict]) -> tuple[Verdict, ...]:
    """Verdicts that were found one by one, judged together after Holm; `Verdict.tested` says how many there were."""
    different = _stepped([one.p_different for one in verdicts])
    equivalent = _stepped([1.0 if one.p_equivalent is None else one.p_equivalent for one in verdicts])
    together = []
    for one, (is_different, alpha_d), (is_equivalent, alpha_e) in zip(verdicts, different, equivalent, strict=True):
        together.append(
            _changed(
                one,
                different=is_different,
                equivalent=is_equivalent and one.margin is not None,
                alpha_different=alpha_d,
                alpha_equivalent=alpha_e,
                tested=len(verdicts),
            )
        )
    return tuple(together)


def _changed(verdict: Verdict, **changes: object) -> Verdict:
    from dataclasses import replace

    changed: Verdict = replace(verdict, **changes)  # type: ignore[arg-type]
    return changed


def _stepped(ps: Sequence[float]) -> list[tuple[bool, float]]:
    """For each p: is it significant after Holm, and what it was compared with."""
    found: list[tuple[bool, float]] = [(False, ALPHA)] * len(ps)
    going = True
    for rank, index in enumerate(sorted(range(len(ps)), key=lambda one: ps[one])):
        alpha = ALPHA / (len(ps) - rank)
        going = going and ps[index] < alpha
        found[index] = (going, alpha)
    return found


def _verdict(
    a: Measurand,
    b: Measurand,
    margin: Margin | None,
    u_difference: float | None,
    dof_difference: float | None,
    alpha_d: float,
    alpha_e: float,
    tested: int,
) -> Verdict:
    if a.unit != b.unit:
        raise ValueError(f"{a.unit} and {b.unit} can't be compared")
    d = a.value - b.value
    u = math.hypot(a.u, b.u) if u_difference is None else u_difference
    dof = (dof_difference or math.inf) if u_difference is not None else welch_dof(a, b)
    half, half90 = (u * _safe_point(p, dof) for p in (1.0 - alpha_d / 2.0, 1.0 - alpha_e))
    judged = _judging_dof(a, b, dof) if u_difference is None else dof
    t = _over(d, u)
    p_different = min(1.0, 2.0 * t_above(abs(t), judged)) if u > 0.0 else float(d == 0.0)
    size = margin.around(b.value) if margin is not None else None
    t_low = t_high = p_equivalent = None
    if size is not None:
        t_low, t_high = _over(d + size, u), _over(d - size, u)
        p_equivalent = max(t_above(t_low, judged), t_above(-t_high, judged)) if u > 0.0 else float(abs(d) >= size)
    different = p_different < alpha_d
    equivalent = p_equivalent is not None and p_equivalent < alpha_e
    more, why = (None, "") if different or equivalent else _more(a, b, u, size)
    return Verdict(
        *(d, a.unit, u, dof, d - half, d + half, t, p_different, size, d - half90, d + half90, t_low, t_high),
        *(p_equivalent, different, equivalent, more, why, alpha_d, alpha_e, tested),
    )
