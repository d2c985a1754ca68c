"""Colour differences by CIEDE2000 itself as a cloud: errors are drawn in light and carried through the formula.

The weights of CIEDE2000 change with the colours, so that a linear map of a large difference is wrong by a third. Here
lights are drawn about what was read, their L*, a*, b* follow to first order (they are nearly straight over the
errors of any meter), and the formula is exact. What it gives for the drawn lights is the distribution of the true
difference (JCGM 101:2008), but for its bias: near zero differences of drawn lights are longer than the true ones. So
the distribution is put back until its median is what was read, and an interval begins at 0 where errors alone would
read as much as was read in more than 2.5 % of draws.
"""

from __future__ import annotations

from collections.abc import Container, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from benchd.analysis.colour import colorimetry as colour
from benchd.analysis.uncertainty.cloud import AVERAGES, Cloud, Whole, dof_of, of_lengths
from benchd.analysis.uncertainty.draws import Normal, drawn_normal, widened
from benchd.analysis.uncertainty.noisy_length import PutBack, whole_intervals
from benchd.analysis.uncertainty.sources import Contributions, Lit, Source, coverage_factor, effective_dof

Array = colour.Array

WHOLES: tuple[Whole, ...] = (*AVERAGES, "max")
DRAWS, FEWER_DRAWS, LONG_LIST = 1000, 400, 30
"""Draws; for lists of more rows fewer: their ends are as certain as the second digit of an uncertainty."""


@dataclass(frozen=True)
class Lights:
    """Lights that several clouds are made of, and their drawn errors, computed once."""

    own: tuple[Lit, ...]
    shared: tuple[Lit, ...] = ()

    @cached_property
    def loads(self) -> tuple[list[Source], Array] | None:
        """Sources, and how they move X, Y, Z of each light, own ones first (lights, 3, sources); None: not known.

        Nothing moves a light without figures: its differences are absent, and it must not cost the others theirs.
        Own lights that read the same share the error of their rounding, so that it does not average away; a shared
        light has one of its own, so that it does not vanish from a difference either.
        """
        lights = (*self.own, *self.shared)
        known = [light.vectors() for light in lights]
        if any(vectors is None and light.mean is not None for light, vectors in zip(lights, known, strict=True)):
            return None
        apart = {source for vectors in known[len(self.own) :] for source, _ in vectors or ()}
        sources: dict[Source, int] = {}
        moves = [
            (i, sources.setdefault(_together(source, apart), len(sources)), change)
            for i, vectors in enumerate(known)
            for source, change in vectors or ()
        ]
        array = np.zeros((len(known), 3, len(sources)))
        for i, source, change in moves:
            array[i, :, source] += change
        return list(sources), array

    @cached_property
    def drawn(self) -> Array:
        """Drawn errors of X, Y, Z (lights, 3, draws), each draw with its mirror image."""
        sources, array = self.loads or ([], np.zeros((len(self.own) + len(self.shared), 3, 0)))
        draws = FEWER_DRAWS if len(self.own) > LONG_LIST else DRAWS
        half = array @ drawn_normal(draws // 2, len(sources)).T
        return np.concatenate([half, -half], axis=-1)


class ExactCloud(Cloud):
    """One row a colour difference. ``maps`` (rows, 3, 3) make a vector as long as the difference from L*, a*, b*.

    ``slopes``: for each light how L*, a*, b* of goals and samples follow its X, Y, Z, each (2, rows, 3, 3).
    """

    def __init__(
        self,
        goal: Array,
        sample: Array,
        maps: Array,
        slopes: Sequence[Array],
        lights: Lights,
        rows: Sequence[int] | None = None,
    ) -> None:
        self.rows = list(range(len(goal))) if rows is None else list(rows)
        super().__init__(np.einsum("nij,nj->ni", maps, sample - goal), [()] * len(goal))
        self.goal, self.sample = goal, sample
        self._maps, self._slopes, self._lights = maps, slopes, lights

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, ExactCloud):
            return NotImplemented
        same = np.array_equal(self.goal, other.goal) and np.array_equal(self.sample, other.sample)
        return same and self.rows == other.rows and self._lights == other._lights

    __hash__ = Cloud.__hash__

    def picked(self, rows: Sequence[int]) -> Cloud:
        """Some of its rows."""
        index = list(rows)
        slopes = [one[:, index] for one in self._slopes]
        own = [self.rows[row] for row in index]
        return ExactCloud(self.goal[index], self.sample[index], self._maps[index], slopes, self._lights, own)

    def _carried(self, moved: Array, side: int) -> Array:
        """Changes of L*, a*, b* (rows, 3, n) of goals (0) or samples (1) for n changes of lights (lights, 3, n)."""
        total = self._slopes[0][side] @ moved[self.rows]
        for k, slopes in enumerate(self._slopes[1:]):
            if slopes[side].any():
                total += slopes[side] @ moved[len(self._lights.own) + k]
        return np.asarray(total, dtype=np.float64)

    @cached_property
    def loads(self) -> tuple[list[Source], Array] | None:
        """Sources, and their contributions to each component (rows, components, sources), to first order."""
        if self._lights.loads is None:
            return None
        sources, array = self._lights.loads
        return sources, self._maps @ (self._carried(array, 1) - self._carried(array, 0))

    def reach_of_colour(self) -> Array | None:
        """Expanded uncertainty (95 %) of each sample's a*, b* in the direction where it is largest; None: not known."""
        if self._lights.loads is None:
            return None
        sources, array = self._lights.loads
        ab = self._carried(array, 1)[:, 1:]
        sizes = np.sqrt((ab**2).sum(axis=(0, 1)))
        k = coverage_factor(effective_dof(dict(zip(sources, sizes.tolist(), strict=True))))
        return np.asarray(k * np.sqrt(np.maximum(np.linalg.eigvalsh(ab @ np.swapaxes(ab, 1, 2))[:, -1], 0.0)))

    def linear(self, which: Whole | int) -> Contributions | None:
        """Contributions to the function as if it were linear where it was read, with the slopes of CIEDE2000."""
        if self._lights.loads is None:
            return None
        sources, array = self._lights.loads
        goal, sample = (self._carried(array, side) for side in (0, 1))
        # Small against the difference's own curvature, large against rounding.
        size = np.maximum(np.abs(goal).max(axis=(0, 1)), np.abs(sample).max(axis=(0, 1)))
        h = 1e-4 / np.where(size > 0.0, size, 1.0)
        up, down = self._at(h * goal, h * sample), self._at(-h * goal, -h * sample)
        if isinstance(which, int):
            slopes = (up - down)[which]
        else:
            slopes = of_lengths(up.T, which) - of_lengths(down.T, which)
        return dict(zip(sources, (slopes / (2.0 * h)).tolist(), strict=True))

    def _at(self, goal: Array, sample: Array) -> Array:
        """CIEDE2000 (rows, n) of goals and samples moved by (rows, 3, n)."""
        return colour.delta_e_2000(
            np.swapaxes(self.goal[:, :, None] + goal, 1, 2), np.swapaxes(self.sample[:, :, None] + sample, 1, 2)
        )

    def interval(self, which: Whole | int) -> tuple[float, float] | None:
        """Both ends of the interval of 95 % of a row's difference or of a whole; None where a source is not known."""
        loads = self.loads
        if loads is None:
            return None
        if not loads[1].any():
            return super().interval(which)
        if not self._found:
            self._all(loads)
        return self._found[str(which)]

    def moved(self, which: Whole | int, normal: Normal) -> Array | None:
        """What the function may truly be (draws,) when lights are drawn about what was read; None: not known."""
        loads, lights = self.loads, self._lights.loads
        if loads is None or lights is None:
            return None
        errors = lights[1] @ normal.of(lights[0]).T * widened(dof_of(loads))
        drawn = self._at(-self._carried(errors, 0), -self._carried(errors, 1))
        return drawn[which] if isinstance(which, int) else of_lengths(drawn.T, which)

    def read(self, which: Whole | int) -> float:
        """The function of what was read."""
        lengths = colour.delta_e_2000(self.goal, self.sample)
        return float(lengths[which] if isinstance(which, int) else of_lengths(lengths, which))

    def _all(self, loads: tuple[list[Source], Array]) -> None:
        errors = self._lights.drawn * widened(dof_of(loads))
        goal, sample = self._carried(errors, 0), self._carried(errors, 1)
        drawn, read = self._at(-goal, -sample), colour.delta_e_2000(self.goal, self.sample)
        noise = self._maps @ (sample - goal)
        alone = np.sqrt((noise * noise).sum(axis=1))
        self._found = {str(row): ends for row, ends in enumerate(PutBack.of(drawn, read, alone).intervals())}
        self._found |= whole_intervals(drawn, read, alone, dof_of(loads), WHOLES)


def _together(source: Source, apart: Container[Source]) -> Source:
    return source if not source.group or source in apart else source._replace(name=source.group)
