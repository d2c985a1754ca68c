"""Samples in the order of one figure, in groups that can't be told apart.

Two figures can be told apart when they differ by more than the root of the sum of the squares of their expanded
uncertainties (95 %), as for independent measurements (after JCGM 100:2008, 5.1.2); a part that both share, such as
the meter's calibration, would cancel, so this errs towards "can't be told apart". Where an interval is not symmetric
the halves that face each other count; a bound is open on one side. A figure without an uncertainty can be told apart
from nothing, and forms no group: it stands where its value puts it.

"Can't be told apart" is not transitive, so a group needs a rule: it begins with the best sample that is left, and
takes in those after it that can't be told apart from that first one. Every comparison is made at 95 % by itself; among
hundreds some come out wrong by chance.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from benchd.library.entry import Figure
from benchd.library.judge import interval
from benchd.library.store import Sample


@dataclass(frozen=True, slots=True)
class Ranked:
    """One line of a ranking. ``rank`` is shared by a group; None where it can't be had for want of an uncertainty."""

    rank: int | None
    group: int
    sample: Sample
    figure: Figure


def told_apart(better: Figure, worse: Figure) -> bool | None:
    """True when the two differ by more than their uncertainties; None where one has none.

    Which of them is the larger does not matter.
    """
    if better.value is None or worse.value is None:
        return None
    high, low = (better, worse) if better.value >= worse.value else (worse, better)
    low_end, _ = interval(high)
    _, high_end = interval(low)
    if low_end is None or high_end is None or high.value is None or low.value is None:
        return None
    return high.value - low.value > math.hypot(high.value - low_end, high_end - low.value)


def rank(samples: Sequence[Sample], figures: Mapping[int, Figure], *, highest_first: bool) -> list[Ranked]:
    """The samples that have the figure, best first; equal values in the order of ``samples``."""
    have = [(sample, figures[sample.id]) for sample in samples if sample.id in figures]
    have = [(sample, figure) for sample, figure in have if figure.value is not None]
    have.sort(key=lambda one: one[1].value or 0.0, reverse=highest_first)
    lines: list[Ranked] = []
    leader: Figure | None = None
    group, rank_of_group = 0, 1
    for place, (sample, figure) in enumerate(have, 1):
        if interval(figure)[0] is None:
            lines.append(Ranked(None, group, sample, figure))
            continue
        if leader is None or told_apart(leader, figure):
            leader, group, rank_of_group = figure, group + 1, place
        lines.append(Ranked(rank_of_group, group, sample, figure))
    return lines
