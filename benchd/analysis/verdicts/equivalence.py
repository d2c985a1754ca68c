"""Two results of one quantity: different, equivalent within a stated margin, or inconclusive.

Two independent questions, since both answers can be yes:

- different: Welch's test of the null hypothesis that both are the same
- equivalent: two one-sided tests (TOST, Schuirmann 1987, from memory) against a margin that is stated beforehand

"Not different" is never reported as "the same". Where neither is shown, `Verdict.more` is how many more readings
(or runs) on either side it would take.

Welch's test lets through up to 12 % of false alarms where one side has two readings and the other ten. So that it
is 5 % at most, results are judged by a more careful tail (`_Tail`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal, NamedTuple

from benchd.distributions import root_above, t_above, t_quantile

ALPHA = 0.05
METHOD = (
    "difference by Welch's t test, equivalence by two one-sided tests, each at 5 %, judged with care for few "
    "readings; after NIST/SEMATECH e-Handbook 1.3.5.3, Schuirmann 1987, Cochran and Cox 1950 (from memory); of figures "
    "whose intervals are not symmetrical from joint draws (JCGM 101) and MOVER (Zou and Donner 2008), both from memory"
)

_UNDECIDED = 0.2533471
"""Half the width, in standard uncertainties, of a gap that a normal variable falls into with 20 % at most."""
MAX_MORE = 10_000
"""A comparison that would need more readings than this needs something else."""


@dataclass(frozen=True, slots=True)
class Measurand:
    """One side of a comparison.

    ``value``      in ``unit``
    ``u``          its standard uncertainty: those influences that the two sides do not share
    ``dof``        degrees of freedom of ``u``; ``math.inf`` where it is known
    ``n``, ``s``   how many replicates are behind the value, and the standard deviation of one of them, in ``unit``:
                   the part of ``u`` that more of them would shrink. Left out: no advice on how many more
    ``replicate``  what they are: "reading", "run", "unit"

    Raises ValueError for what is no finite value, for a negative ``u`` and for ``dof`` that is not above zero.
    """

    value: float
    u: float
    dof: float = math.inf
    unit: str = "1"
    n: int = 0
    s: float | None = None
    replicate: str = "reading"

    def __post_init__(self) -> None:
        if not (math.isfinite(self.value) and 0.0 <= self.u < math.inf and self.dof > 0.0):
            raise ValueError("a measurand needs a finite value, an uncertainty of at least 0 and degrees of freedom")


@dataclass(frozen=True, slots=True)
class Margin:
    """The largest difference that does not matter, stated before the comparison: ``size`` in the unit of the values,
    or, when ``percent``, in per cent of the mean of both, so that no order of the two changes a verdict.
    ``unit``: that of the values as the operator wrote it, "" where none was written.
    Raises ValueError when it is not above zero."""

    size: float
    percent: bool = False
    unit: str = ""

    def __post_init__(self) -> None:
        if not 0.0 < self.size < math.inf:
            raise ValueError("a margin is larger than zero")

    def between(self, a: float, b: float) -> float:
        """The margin for two values, in their unit."""
        return (abs(a) + abs(b)) / 2.0 * self.size / 100.0 if self.percent else self.size


class Reach(NamedTuple):
    """How far the interval of a difference reaches below and above it where that is not symmetrical, in its unit.

    ``below``, ``above`` with 95 %; ``below90``, ``above90`` with 90 %, which equivalence is judged by.
    """

    below: float
    above: float
    below90: float
    above90: float


Answer = Literal["different", "equivalent", "different and equivalent", "inconclusive"]


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the comparison of two results found.

    ``difference``         first minus second, in ``unit``; ``u`` its standard uncertainty, ``dof`` its degrees of
                           freedom after Welch and Satterthwaite
    ``low``, ``high``      95 % interval of the difference; zero lies outside when they are different
    ``p_different``        how often results of the same would differ so much, or more
    ``margin``             in ``unit``; None where none was stated, and then nothing is equivalent
    ``low90``, ``high90``  90 % interval; inside the margin when they are equivalent
    ``p_equivalent``       the larger p of the two one-sided tests; None without a margin
    ``more``               replicates more, on either side, that would lead to an answer with 80 %, whatever the true
                           difference is; None where there is an answer, and where no number would help
    ``why``                a sentence about ``more``
    ``tested``             how many parameters were judged together (`holm`); ``alpha_different`` and
                           ``alpha_equivalent`` are what the p were compared with
    """

    difference: float
    unit: str
    u: float
    dof: float
    low: float
    high: float
    p_different: float
    margin: float | None
    low90: float
    high90: float
    p_equivalent: float | None
    different: bool
    equivalent: bool
    more: int | None = None
    why: str = ""
    tested: int = 1
    alpha_different: float = ALPHA
    alpha_equivalent: float = ALPHA

    @property
    def answer(self) -> Answer:
        """In words."""
        if self.different:
            return "different and equivalent" if self.equivalent else "different"
        return "equivalent" if self.equivalent else "inconclusive"


def decide(
    a: Measurand,
    b: Measurand,
    margin: Margin | None = None,
    *,
    u_difference: float | None = None,
    dof_difference: float = math.inf,
    reach: Reach | None = None,
) -> Verdict:
    """Are ``a`` and ``b`` different, are they equivalent within ``margin``, or is it inconclusive?

    ``u_difference`` with ``dof_difference``: standard uncertainty of a - b where the two share influences, such as
    the scale of one meter, and then ``u`` of either is that of its own influences alone; left out, they are taken as
    independent. ``reach``: the ends of its interval where they are not as far on both sides; beyond them its tail is
    taken as that of a t whose standard uncertainty is in proportion. Raises ValueError for two units.
    """
    if a.unit != b.unit:
        raise ValueError(f"a value in {a.unit} and one in {b.unit} can't be compared")
    d = a.value - b.value
    if u_difference is None:
        u, dof, tail = math.hypot(a.u, b.u), welch_dof(a, b), _Tail.of(a, b)
    else:
        u, dof, tail = u_difference, dof_difference, _Tail.among(a, b, u_difference, dof_difference)
    size = None if margin is None else margin.between(a.value, b.value)
    k, k90 = tail.point(1.0 - ALPHA / 2.0), tail.point(1.0 - ALPHA)
    if reach is None:
        reach = Reach(k * u, k * u, k90 * u, k90 * u)
    p_different = min(1.0, 2.0 * tail.above(_over(abs(d), (reach.below if d > 0.0 else reach.above) / k)))
    p_equivalent = None
    if size is not None:
        sides = (size + d, reach.below90), (size - d, reach.above90)
        p_equivalent = max(tail.above(_over(apart, half / k90)) for apart, half in sides)
    different, equivalent = p_different < ALPHA, p_equivalent is not None and p_equivalent < ALPHA
    more, why = (None, "") if different or equivalent else _how_many_more(a, b, u, size)
    interval, interval90 = (d - reach.below, d + reach.above), (d - reach.below90, d + reach.above90)
    return Verdict(
        *(d, a.unit, u, dof, *interval, p_different, size, *interval90, p_equivalent, different, equivalent),
        *(more, why),
    )


def holm(verdicts: Sequence[Verdict]) -> tuple[Verdict, ...]:
    """Verdicts found one by one, judged together: at most 5 % that any one of all is a false alarm.

    The step-down method of Holm (1979, from memory), for differences and for equivalences apart. The intervals stay
    those of each parameter alone.
    """
    different = _stepped([one.p_different for one in verdicts])
    equivalent = _stepped([1.0 if one.p_equivalent is None else one.p_equivalent for one in verdicts])
    return tuple(
        replace(
            one,
            different=is_different,
            equivalent=is_equivalent,
            alpha_different=alpha,
            alpha_equivalent=other,
            tested=len(verdicts),
            why=one.why or _lost(one, is_different, is_equivalent, len(verdicts)),
        )
        for one, (is_different, alpha), (is_equivalent, other) in zip(verdicts, different, equivalent, strict=True)
    )


def welch_dof(a: Measurand, b: Measurand) -> float:
    """Degrees of freedom of the difference of two independent measurands (Welch and Satterthwaite, JCGM 100 G.4)."""
    spread = a.u**4 / a.dof + b.u**4 / b.dof
    return (a.u**2 + b.u**2) ** 2 / spread if spread > 0.0 else math.inf


class _Tail(NamedTuple):
    """The tail that differences are judged by: a mixture of Student's t, never lighter than Welch's.

    Where both sides have as many degrees of freedom: Welch's, rounded down. The less alike they are, the more
    weight has each side's own t, as in the test of Cochran and Cox (1950): by its share of the variance, that of
    the side with few readings raised, since their standard deviation may be small by chance. The weights are our own,
    found by simulation to keep false alarms at 5 %: ``python -m tests.analysis.false_alarms``.
    """

    parts: tuple[tuple[float, float], ...]  # (weight, degrees of freedom)

    @classmethod
    def of(cls, a: Measurand, b: Measurand) -> _Tail:
        few, many = (a, b) if a.dof <= b.dof else (b, a)
        variance = a.u**2 + b.u**2
        dof = welch_dof(a, b)
        if not math.isinf(dof):
            dof = max(1.0, math.floor(dof), few.dof)
        if variance == 0.0 or few.dof == many.dof:
            return cls(((1.0, dof),))
        unlike = min(1.0, 2.0 - 2.0 * few.dof / many.dof)
        share = (few.u**2 / variance) ** (few.dof / (few.dof + 3.0))
        return cls(((1.0 - unlike, dof), (unlike * share, few.dof), (unlike * (1.0 - share), many.dof)))

    @classmethod
    def among(cls, a: Measurand, b: Measurand, u: float, dof: float) -> _Tail:
        """Of a difference with ``u`` and ``dof`` in all: the side with few readings against all the rest."""
        few = a if a.dof <= b.dof else b
        rest = u**2 - few.u**2
        if a.dof == b.dof or math.isinf(few.dof) or not few.u or rest <= 1e-9 * u**2:
            return cls(((1.0, dof),))
        spread = (0.0 if math.isinf(dof) else u**4 / dof) - few.u**4 / few.dof
        return cls.of(few, Measurand(0.0, math.sqrt(rest), rest**2 / spread if spread > 0.0 else math.inf))

    def above(self, t: float) -> float:
        """P(T > t)."""
        if math.isinf(t):
            return 0.0 if t > 0.0 else 1.0
        return math.fsum(weight * t_above(t, dof) for weight, dof in self.parts if weight > 0.0)

    def point(self, p: float) -> float:
        """The t with P(T > t) = 1 - ``p``."""
        return _point(self, p)


@lru_cache(maxsize=1024)
def _point(tail: _Tail, p: float) -> float:
    return root_above(tail.above, 1.0 - p)


def _over(distance: float, u: float) -> float:
    """``distance`` in standard uncertainties; without any uncertainty, infinitely many of them, or none."""
    if u > 0.0:
        return distance / u
    return math.inf if distance > 0.0 else 0.0 if distance == 0.0 else -math.inf


def _stepped(ps: Sequence[float]) -> list[tuple[bool, float]]:
    """For each p: does it stand after Holm, and what it was compared with."""
    found = [(False, ALPHA)] * len(ps)
    standing = True
    for rank, index in enumerate(sorted(range(len(ps)), key=ps.__getitem__)):
        alpha = ALPHA / (len(ps) - rank)
        standing = standing and ps[index] < alpha
        found[index] = (standing, alpha)
    return found


def _lost(one: Verdict, different: bool, equivalent: bool, tested: int) -> str:
    lost = (one.different and not different) or (one.equivalent and not equivalent)
    return f"alone it would be {one.answer}; among {tested} figures that is no proof" if lost else ""


def _how_many_more(a: Measurand, b: Measurand, u: float, size: float | None) -> tuple[int | None, str]:
    """The smallest number of further replicates on either side, and a sentence.

    An answer is certain, whatever the true difference is, once the margin is u (t(0.975) + t(0.95)): what is not
    different is equivalent then. A gap of twice 0.253 u below that is fallen into with 20 % at most.
    """
    if size is None:
        return None, "state a margin to find how many more readings it would take"
    sides = [(side, side.s) for side in (a, b)]
    if any(s is None or side.n < 1 for side, s in sides):
        return None, "the standard deviation of a single reading is not known, nor how many more it would take"
    names = " or ".join(dict.fromkeys((f"{a.replicate}s", f"{b.replicate}s")))
    shrinking = math.fsum((s or 0.0) ** 2 / side.n for side, s in sides)
    lasting = max(0.0, u**2 - shrinking)

    def enough(more: int) -> bool:
        part = [((s or 0.0) ** 2 / (side.n + more), side.n + more - 1) for side, s in sides]
        variance = lasting + math.fsum(one for one, _ in part)
        spread = math.fsum(one**2 / dof for one, dof in part if dof > 0)
        dof = variance**2 / spread if spread > 0.0 else math.inf
        reach = t_quantile(1.0 - ALPHA / 2.0, dof) + t_quantile(1.0 - ALPHA, dof) - 2.0 * _UNDECIDED
        return size >= reach * math.sqrt(variance)

    if not enough(MAX_MORE):
        return None, f"no number of {names} would be enough: what they don't shrink is too large for this margin"
    low, high = 0, 1
    while not enough(high):
        low, high = high, high * 2
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high, f"about {high} more {names} on either side would decide"
