"""Where the uncertainty of a figure comes from: independent sources, and how much each moves the figure.

A figure carries a `Node`, computed only when needed. Computed it is `Contributions`: for each
source the signed change of the figure when that source is off by one of its standard uncertainties. Parts of
a derived figure add up with their signs, so whatever two parts share cancels or adds by itself: the scale of
one meter vanishes from a contrast and stays in a luminance. After JCGM 100:2008, 5.1.2 and F.1.2.3.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple, Protocol, TypeAlias

from benchd.distributions import t_quantile

LEVEL = 0.95
"""The level of confidence of every interval."""
NORMAL = 1.959963984540054
"""Coverage factor at `LEVEL` for infinitely many degrees of freedom."""

Triple = tuple[float, float, float]
Covariance = tuple[float, float, float, float, float, float]
"""XX, YY, ZZ, XY, XZ, YZ."""
WHITE_XYZ: Triple = (0.3127 / 0.3290, 1.0, 0.3583 / 0.3290)
"""D65 of a luminance of 1."""


class Source(NamedTuple):
    """One independent influence, or one of the independent ``part`` s of a vector with one name.

    ``dof``     degrees of freedom of its standard uncertainty; infinite where it was stated, not estimated
    ``shared``  true when it is the same in every log of the same meter: its name states which meter
    ``display`` true when it is the same only in logs of one display: a spectral error on an unstated technology
    ``group``   roundings to steps of one size: those to the same multiple, which is their ``part``, may be independent
                of each other or one and the same, which is not known. "": independent
    """

    name: str
    dof: float = math.inf
    part: int = 0
    shared: bool = False
    display: bool = False
    group: str = ""


Contributions = dict[Source, float]
Vectors: TypeAlias = "list[tuple[Source, Triple]]"


class Lit(Protocol):
    """The readings of one step, which know how each source moves their mean X, Y, Z."""

    @property
    def mean(self) -> Triple | None:
        """X, Y, Z in cd/m2."""

    def vectors(self) -> Vectors | None:
        """For each source the change of X, Y, Z in cd/m2; None where the noise is not known."""


class Node(Protocol):
    """Anything that contributions can be computed of."""

    def contributions(self) -> Contributions | None:
        """Signed contribution of each source, in the figure's unit; None where one is not known."""


class Fixed(NamedTuple):
    """Contributions that are known from the start; without any, an exact figure."""

    items: tuple[tuple[Source, float], ...] = ()

    def contributions(self) -> Contributions | None:
        """They themselves."""
        return dict(self.items)


EXACT = Fixed()


class OfLight(NamedTuple):
    """A figure of one step's X, Y, Z with its ``gradient``: derivatives by X, Y, Z, or the name of a formula.

    The name spares long lists of patches three numbers for each figure.
    """

    light: Lit
    gradient: Triple | str

    def contributions(self) -> Contributions | None:
        """Of each source that moves the readings."""
        if (vectors := self.light.vectors()) is None:
            return None
        a, b, c = gradient_of(self.gradient, self.light.mean)
        return {source: a * x + b * y + c * z for source, (x, y, z) in vectors}


class Sum(NamedTuple):
    """The sum of parts, each with the sensitivity of the figure to it."""

    parts: tuple[tuple[float, Node], ...]

    def contributions(self) -> Contributions | None:
        """Signed, so that what is shared can cancel."""
        whole: Contributions = {}
        for sensitivity, node in self.parts:
            if (found := node.contributions()) is None:
                return None
            add(whole, sensitivity, found)
        return whole


def add(whole: Contributions, sensitivity: float, part: Contributions) -> None:
    """Add a part to ``whole``, which is changed."""
    before = whole.get
    for source, amount in part.items():
        whole[source] = before(source, 0.0) + sensitivity * amount


@dataclass(frozen=True)
class Renamed:
    """The same with what belongs to one log only kept apart from every other log's by a ``prefix``.

    ``display``  the prefix of sources that are the same in all logs of one display; "" as ``prefix``
    """

    node: Node
    prefix: str
    display: str = ""

    def contributions(self) -> Contributions | None:
        """Sources of the meter keep their names."""
        return self._contributions

    @cached_property
    def _contributions(self) -> Contributions | None:
        # A comparison needs them for each of the others, and of an average they take a while.
        found = self.node.contributions()
        return None if found is None else {self.named(source): amount for source, amount in found.items()}

    def named(self, source: Source) -> Source:
        """The source under its new name."""
        if source.shared:
            return source
        prefix = self.display if source.display and self.display else self.prefix
        name, dof, part, shared, display, group = source
        return Source(prefix + name, dof, part, shared, display, group and prefix + group)


class Stated(NamedTuple):
    """An uncertainty as it is published, all in the figure's unit.

    ``expanded``  half the width of the interval of 95 %: k times the standard uncertainty
    ``k``         coverage factor; None for an interval that is not symmetrical
    ``dof``       effective degrees of freedom; infinite where nothing was estimated
    ``low``, ``high``  the ends of the interval
    """

    expanded: float
    k: float | None
    dof: float
    low: float
    high: float


def gradient_of(gradient: Triple | str, xyz: Triple | None) -> Triple:
    """Derivatives by X, Y, Z of "Y", "x", "y", "u'" or "v'" (CIE 15) at ``xyz``; numbers are taken as they are."""
    if not isinstance(gradient, str):
        return gradient
    if gradient == "Y":
        return 0.0, 1.0, 0.0
    if xyz is None:
        return 0.0, 0.0, 0.0
    x, y, z = xyz
    weights = (1.0, 1.0, 1.0) if gradient in "xy" else (1.0, 15.0, 3.0)
    bottom = x * weights[0] + y * weights[1] + z * weights[2]
    if not bottom:
        return 0.0, 0.0, 0.0
    top = {"x": (1.0, 0.0, 0.0), "y": (0.0, 1.0, 0.0), "u'": (4.0, 0.0, 0.0), "v'": (0.0, 9.0, 0.0)}[gradient]
    value = (top[0] * x + top[1] * y + top[2] * z) / bottom
    a, b, c = ((one - value * weight) / bottom for one, weight in zip(top, weights, strict=True))
    return a, b, c


def total(parts: Iterable[tuple[float, Node | None]]) -> Node | None:
    """The node of a sum; None where a part that matters has none."""
    that_matter = [(sensitivity, node) for sensitivity, node in parts if sensitivity]
    kept = tuple((sensitivity, node) for sensitivity, node in that_matter if node is not None)
    return Sum(kept) if len(kept) == len(that_matter) else None


def standard(contributions: Mapping[Source, float]) -> float:
    """Combined standard uncertainty: the root of the sum of squares (JCGM 100, equation 10).

    Of roundings to the same value the sum counts instead where it is the larger: they may all be one error (equation
    16). Not so where the lights are seen to spread over the steps: then their errors do too.
    """
    squares = [amount * amount for amount in contributions.values()]
    groups: dict[str, dict[int, list[float]]] = {}
    for source, amount in contributions.items():
        if source.group:
            groups.setdefault(source.group, {}).setdefault(source.part, []).append(amount)
    for values in groups.values():
        for value, alike in values.items():
            together = math.fsum(alike) ** 2 - math.fsum(amount * amount for amount in alike)
            if len(alike) > 1 and together > 0.0 and not _spread(values, value):
                squares.append(together)
    return math.sqrt(math.fsum(squares))


def _spread(values: Mapping[int, Sequence[float]], value: int) -> bool:
    """True where ``value`` is one of three or more in a row, and what was rounded to it is at most half of them all."""
    low = high = value
    while low - 1 in values:
        low -= 1
    while high + 1 in values:
        high += 1
    if high - low < 2:
        return False
    sizes = [math.fsum(abs(amount) for amount in values[one]) for one in range(low, high + 1)]
    return 2.0 * sizes[value - low] <= math.fsum(sizes)


def effective_dof(contributions: Mapping[Source, float], u: float | None = None) -> float:
    """Effective degrees of freedom, u^4 / sum(u_i^4 / nu_i) (Welch-Satterthwaite; JCGM 100, G.2b).

    The parts of one source were estimated together and count as one. ``u``: `standard` of them, where it is known.
    """
    variance: dict[tuple[str, float], float] = {}
    whole = (standard(contributions) if u is None else u) ** 2
    for source, amount in contributions.items():
        if source.dof != math.inf:
            key = (source.name, source.dof)
            variance[key] = variance.get(key, 0.0) + amount * amount
    below = math.fsum([one * one / dof for (_, dof), one in variance.items()])
    return whole * whole / below if below > 0.0 else math.inf


def coverage_factor(dof: float) -> float:
    """Two-sided Student's t at 95 %, between whole degrees of freedom interpolated in 1 / nu (JCGM 100, G.4.1)."""
    if math.isinf(dof) or dof > 1e5:
        return NORMAL
    p = 0.5 + LEVEL / 2.0
    below = max(1, math.floor(dof))
    if dof <= below:
        return t_quantile(p, below)
    share = (1.0 / below - 1.0 / dof) / (1.0 / below - 1.0 / (below + 1))
    return (1.0 - share) * t_quantile(p, below) + share * t_quantile(p, below + 1)


def stated(value: float, contributions: Mapping[Source, float], *, lowest: float = -math.inf) -> Stated:
    """The published uncertainty of ``value``; its interval never reaches below ``lowest``."""
    u = standard(contributions)
    dof = effective_dof(contributions, u)
    k = coverage_factor(dof)
    expanded = k * u
    return Stated(expanded, k, dof, max(lowest, value - expanded), value + expanded)


def full(covariance: Sequence[float]) -> list[list[float]]:
    """The symmetrical matrix of XX, YY, ZZ, XY, XZ, YZ."""
    xx, yy, zz, xy, xz, yz = covariance
    return [[xx, xy, xz], [xy, yy, yz], [xz, yz, zz]]


def six(matrix: Sequence[Sequence[float]]) -> Covariance:
    """XX, YY, ZZ, XY, XZ, YZ of a symmetrical matrix."""
    (xx, xy, xz), (_, yy, yz), (_, _, zz) = matrix
    return float(xx), float(yy), float(zz), float(xy), float(xz), float(yz)


def lower_triangle(matrix: Sequence[Sequence[float]]) -> list[list[float]]:
    """Cholesky factor of a covariance matrix; a direction without variance gets zeros."""
    size = len(matrix)
    factor = [[0.0] * size for _ in range(size)]
    for i in range(size):
        for j in range(i + 1):
            rest = matrix[i][j] - math.fsum(factor[i][k] * factor[j][k] for k in range(j))
            if i == j:
                # What is left of a dependent direction is rounding.
                factor[i][i] = math.sqrt(rest) if rest > 1e-12 * matrix[i][i] else 0.0
            elif factor[j][j]:
                factor[i][j] = rest / factor[j][j]
    return factor
