"""Samples in the order of one figure, in groups without a significant difference.

Two figures differ significantly when they differ by more than the expanded uncertainty (95 %) of their difference. Of
headline figures the parts of the uncertainty are known: what both logs share, such as the scale of one meter, cancels
with its sign, the rest adds as squares (JCGM 100:2008, 5.2.2 and G.4.1). Of other figures only the intervals are: then
it is the root of the sum of the squares of the expanded uncertainties, as for independent measurements (5.1.2), which
errs towards "not different". Where an interval is not symmetric the halves that face each other count; a bound
is open on one side. A figure without an uncertainty differs
from nothing, and forms no group: it stands where its value puts it.

"Not different" is not transitive, so a group needs a rule: it begins with the best sample that is left, and
takes in those after it that do not differ significantly from that first one. Every comparison is made at 95 % by
itself; among hundreds some come out wrong by chance.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from benchd.analysis.uncertainty.sources import NORMAL, coverage_factor
from benchd.library.conditions import interval
from benchd.library.entry import Figure
from benchd.library.store import StoredSample
from benchd.report.words import grouped

OWN = 0
_NONE: tuple[float, float | None] = (0.0, None)


@dataclass(frozen=True, slots=True)
class Ranked:
    """One line of a ranking. ``rank`` is shared by a group; None where it can't be had for want of an uncertainty.

    ``shared``: is another one of that rank?
    """

    rank: int | None
    group: int
    sample: StoredSample
    figure: Figure
    shared: bool = False

    @property
    def place(self) -> str:
        """``1``, ``2 =`` where it is shared, ``?``."""
        return "?" if self.rank is None else f"{self.rank} =" if self.shared else str(self.rank)


Parts = Mapping[int, tuple[float, float | None]]
"""Source -> its share of a standard uncertainty and degrees of freedom (None: infinite); 0: what only this log has."""


def distinguishable(
    better: Figure, worse: Figure, parts: Parts | None = None, parts_of_worse: Parts | None = None
) -> bool | None:
    """True when the two differ by more than their uncertainties; None where one has none.

    Which of them is the larger does not matter. With the ``parts`` of both, what they share cancels.
    """
    if better.value is None or worse.value is None:
        return None
    if parts and parts_of_worse and better.bound is None and worse.bound is None:
        return _differ(abs(better.value - worse.value), parts, parts_of_worse)
    high, low = (better, worse) if better.value >= worse.value else (worse, better)
    low_end, _ = interval(high)
    _, high_end = interval(low)
    if low_end is None or high_end is None or high.value is None or low.value is None:
        return None
    return high.value - low.value > math.hypot(high.value - low_end, high_end - low.value)


def _differ(difference: float, a: Parts, b: Parts) -> bool:
    """Is ``difference`` more than its expanded uncertainty?"""
    squares = [(one[OWN][0] ** 2, one[OWN][1]) for one in (a, b) if OWN in one]
    if difference**2 <= NORMAL**2 * sum(square for square, _ in squares):
        return False  # what is shared can't make it smaller
    for source in {*a, *b} - {OWN}:
        (first, dof), (second, _) = a.get(source, _NONE), b.get(source, _NONE)
        squares.append(((first - second) ** 2, dof if source in a else b[source][1]))
    variance = math.fsum(square for square, _ in squares)
    if difference <= NORMAL * math.sqrt(variance):
        return False  # the coverage factor is never smaller
    spread = math.fsum(square**2 / dof for square, dof in squares if dof)
    k = coverage_factor(variance**2 / spread if spread else math.inf)
    return difference > k * math.sqrt(variance)


def by_conditions(samples: Sequence[StoredSample], figures: Mapping[int, Figure]) -> dict[str, list[StoredSample]]:
    """The samples that have the figure, apart by what it holds for; the conditions that most have come first."""
    known = ((figures[one.id], one) for one in samples if one.id in figures)
    found = grouped((figure.conditions, one) for figure, one in known if figure.value is not None)
    return dict(sorted(found.items(), key=lambda one: (-len(one[1]), one[0])))


def rank(
    samples: Sequence[StoredSample],
    figures: Mapping[int, Figure],
    *,
    highest_first: bool,
    parts: Mapping[int, Parts] = MappingProxyType({}),
) -> list[Ranked]:
    """The samples that have the figure, best first; equal values in the order of ``samples``.

    They must hold for the same conditions: see `by_conditions`.
    ``parts``: of each sample's figure, by the sample's id, as `benchd.library.store.Store.parts` gives them.
    """
    have = [(sample, figures[sample.id]) for sample in samples if sample.id in figures]
    have = [(sample, figure) for sample, figure in have if figure.value is not None]
    have.sort(key=lambda one: one[1].value or 0.0, reverse=highest_first)
    lines: list[Ranked] = []
    leader: Figure | None = None
    leaders: Parts | None = None
    group, rank_of_group = 0, 1
    for place, (sample, figure) in enumerate(have, 1):
        if interval(figure)[0] is None:
            lines.append(Ranked(None, group, sample, figure))
            continue
        own = parts.get(sample.id)
        if leader is None or distinguishable(leader, figure, leaders, own):
            leader, leaders, group, rank_of_group = figure, own, group + 1, place
        lines.append(Ranked(rank_of_group, group, sample, figure))
    sizes = Counter(line.rank for line in lines)
    return [replace(line, shared=line.rank is not None and sizes[line.rank] > 1) for line in lines]


def newest(samples: Sequence[StoredSample]) -> list[StoredSample]:
    """Of every sample (by name) the log that was begun last; a log without a sample's name is one by itself."""
    last = {one.facts.name: one for one in sorted(samples, key=lambda one: one.facts.started)}
    return [sample for sample in samples if last[sample.facts.name] is sample]
