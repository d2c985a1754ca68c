"""Every colour figure of a log computed again by an independent library, and how far the two are apart.

`Again` is one figure and what the library gives for it. What is compared is judged by the tolerance of its kind; what
is not is listed with its reason, so that compared and listed figures together are all figures of the results.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, NamedTuple, TypeAlias

import numpy as np

from benchd.analysis.colour import reference_library as reference
from benchd.analysis.log.log_data import LogData
from benchd.analysis.results import Results
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.analysis.uncertainty.sources import OfLight, Triple

Kind = Literal[
    "x, y", "u', v'", "CCT", "Duv", "du'v'", "hue angle", "RGB balance", "tone curve", "target colour",
    "CIEDE2000", "CIEDE2000, adapted", "CIE 1976", "CIE 1994", "PQ", "HLG", "ICtCp", "dE ITP",
]  # fmt: skip


class Tolerance(NamedTuple):
    """How far figures of a kind may be apart, and why so far; ``relative``: as a share of the figure."""

    unit: str
    most: float
    why: str
    relative: bool = False


ROUNDING = "one definition in both: rounding of double precision"
DIFFERENCE = Tolerance(
    "1", 1e-6, "one definition in both; the hue of a grey is rounding alone, and a root is taken of it"
)
SCALE = Tolerance("1", 1e-9, ROUNDING, relative=True)
TOLERANCES: Mapping[Kind, Tolerance] = {
    "x, y": Tolerance("1", 1e-12, ROUNDING),
    "u', v'": Tolerance("1", 1e-12, ROUNDING),
    "CCT": Tolerance(
        "K",
        2e-5,
        "nearest point of the Planckian locus in CIE 1960 u, v in both; the library's (Ohno 2013, c2 brought to that "
        "of the SI) lies between rows of a table, on a straight line where |Duv| < 0.002, which is off by up to 1e-5",
        relative=True,
    ),
    "Duv": Tolerance("1", 1e-7, "as CCT"),
    "du'v'": Tolerance("1", 1e-12, ROUNDING),
    "hue angle": Tolerance("deg", 1e-8, ROUNDING),
    "RGB balance": Tolerance("1", 1e-10, "one definition in both; a matrix is inverted"),
    "tone curve": SCALE,
    "target colour": SCALE,
    "CIEDE2000": DIFFERENCE,
    "CIEDE2000, adapted": DIFFERENCE,
    "CIE 1976": Tolerance("1", 1e-9, ROUNDING),
    "CIE 1994": DIFFERENCE,
    "PQ": SCALE,
    "HLG": SCALE,
    "ICtCp": Tolerance("1", 1e-8, ROUNDING + "; the curve of PQ is steep near black"),
    "dE ITP": Tolerance("1", 1e-8, "as ICtCp"),
}

AREAS = "the library has no areas of polygons; the chromaticities of the primaries are compared"
VOLUMES = "the library has no volume of a mesh of colours"
TERMS = "the library gives CIEDE2000 as a whole; the whole is compared"
DRIFT = "results keep no colours of the reference patch to compute it from"
BOUND = "only a bound is known"
UNKNOWN = "no way is known here to compute it with the library"
NO_COLOUR = "no colour figure: luminance, ratio, gamma, time or share"
WHY_NOT: Mapping[str, str] = {
    **dict.fromkeys(("coverage_xy", "coverage_uv", "area_ratio_xy", "area_ratio_uv"), AREAS),
    **dict.fromkeys(("volume", "volume_ratio"), VOLUMES),
    **dict.fromkeys(("lightness", "chroma", "hue"), TERMS),
    "colour/maximum_change": DRIFT,
}
"""Colour figures that the library can't compute, by the end of their path."""
PHOTOMETRIC = frozenset(
    (
        *("gamma", "local_gamma", "point_gamma", "max_residual", "ratio", "contrast", "min_over_max"),
        *("response", "target", "rise", "near_over_far"),
    )
)
"""Figures of the unit 1 that are of luminance alone, by the end of their path."""


class Again(NamedTuple):
    """What the library gives for ``figure``: a `Quantity`, or the name and value of a plain number."""

    kind: Kind
    figure: Quantity | tuple[str, float]
    again: float


class NotHad(NamedTuple):
    """Figures, and names of plain numbers, that could be computed in general but not for this log, and why."""

    figures: tuple[Quantity | str, ...]
    why: str


@dataclass(frozen=True, slots=True)
class Compared:
    """One kind of figure: how many, and the one that is farthest apart. ``deviation`` in the tolerance's terms."""

    kind: Kind
    count: int
    deviation: float
    figure: str
    value: float
    again: float
    tolerance: Tolerance

    @property
    def agrees(self) -> bool:
        """False also where the library gives no number."""
        return self.deviation <= self.tolerance.most


@dataclass(frozen=True, slots=True)
class NotCompared:
    """Figures that were not computed again: how many of each name, and why."""

    names: Mapping[str, int]
    why: str


@dataclass(frozen=True, slots=True)
class CrossCheck:
    """The whole check. ``library``: its name and version; ``figures``: how many the results hold in all."""

    library: str
    figures: int
    compared: tuple[Compared, ...]
    not_compared: tuple[NotCompared, ...]

    @property
    def agrees(self) -> bool:
        """True when every kind is within its tolerance."""
        return all(one.agrees for one in self.compared)


Found = Iterator[Again | NotHad]
Check: TypeAlias = Callable[..., Found]
"""Of one kind of block: (its result, its description in the log, all results, readings of the log) -> figures again."""


def cross_check(
    results: Results, log: LogData, figures: Iterable[tuple[str, Quantity]], check_of: Callable[[str], Check | None]
) -> CrossCheck:
    """Chromaticities of all kinds of blocks, and what ``check_of`` a kind of block knows.

    ``log``: the readings as the figures use them; ``figures``: all of the results with their paths.
    """
    named: dict[int, tuple[str, Quantity]] = {}
    for name, figure in figures:
        if figure.value is not None:
            named.setdefault(id(figure), (name, figure))
    found: list[Again] = []
    reasons: dict[int, str] = {}
    numbers: list[tuple[str, str]] = []
    with reference.quiet():
        for one in (*chromaticities(named.values()), *_of_blocks(results, log, check_of)):
            if isinstance(one, NotHad):
                reasons |= {id(figure): one.why for figure in one.figures}
                numbers += [(figure, one.why) for figure in one.figures if isinstance(figure, str)]
            elif not isinstance(one.figure, Quantity) or one.figure.plain:
                found.append(one)
        version = reference.version()
    done = {id(one.figure) for one in found}
    left = [
        (name, reasons.get(key) or _why_not(name, figure)) for key, (name, figure) in named.items() if key not in done
    ]
    return CrossCheck(
        library=version,
        figures=len(named),
        compared=tuple(_compared(found, {key: name for key, (name, _) in named.items()})),
        not_compared=tuple(_not_compared([*left, *numbers])),
    )


def xyz_of(figure: Quantity) -> Triple | None:
    """The mean X, Y, Z in cd/m2 that a figure of one colour was computed from; None where it is none."""
    light = figure.sources.light if isinstance(figure.sources, OfLight) and figure.plain else None
    return None if light is None else light.mean


def rows_of(several: Iterable[Quantity]) -> Any:
    """X, Y, Z (n, 3) that figures were computed from; NaN where there is none."""
    nothing = (np.nan, np.nan, np.nan)
    return np.array([xyz_of(one) or nothing for one in several], dtype=np.float64).reshape(-1, 3)


def black_of(black: Quantity) -> float:
    """The black of a curve that goes through it, cd/m2: zero where it is no value."""
    return black.value if black.plain and black.value else 0.0


CHROMATICITY: Mapping[str, tuple[Kind, int]] = {
    "x": ("x, y", 0),
    "y": ("x, y", 1),
    "u_prime": ("u', v'", 2),
    "v_prime": ("u', v'", 3),
    "cct": ("CCT", 4),
    "duv": ("Duv", 5),
}


def chromaticities(named: Iterable[tuple[str, Quantity]]) -> Iterator[Again]:
    """x, y, u', v', CCT and Duv of whatever block, all at once."""
    ends = [(_end(name).removeprefix("white_"), one) for name, one in named]
    chosen = [(name, one, light) for name, one in ends if name in CHROMATICITY and (light := xyz_of(one))]
    if not chosen:
        return
    rows = {light: row for row, light in enumerate(dict.fromkeys(light for _, _, light in chosen))}
    xyz = np.array(list(rows))
    columns = [reference.xy(xyz), reference.uv(xyz)]
    if any(name in ("cct", "duv") for name, _, _ in chosen):
        columns.append(reference.cct_duv(xyz))
    again = np.concatenate(columns, axis=-1)
    for name, one, light in chosen:
        kind, column = CHROMATICITY[name]
        yield Again(kind, one, float(again[rows[light], column]))


def averaged(
    kind: Kind, parts: Iterable[Quantity], over: Sequence[Quantity | None], found: Iterable[Again]
) -> Iterator[Again | NotHad]:
    """Mean, median, 95th percentile and maximum (None: not wanted) of ``parts``, which are among those ``found``."""
    several, by_figure = list(parts), {id(one.figure): one.again for one in found}
    if any(one.bound is not None for one in several):
        yield NotHad(tuple(one for one in over if one is not None), "an average in which bounds take part")
        return
    if values := [by_figure.get(id(one), math.nan) for one in several if one.plain]:
        for figure, again in zip(over, reference.averages(values), strict=True):
            if figure is not None:
                yield Again(kind, figure, again)


def _of_blocks(results: Results, log: LogData, check_of: Callable[[str], Check | None]) -> Iterator[Again | NotHad]:
    assert log.started is not None
    described = {str(block["name"]): block for block in log.started.body.get("blocks") or ()}
    for name, one in results.blocks.items():
        block = described.get(name)
        if block is not None and (check := check_of(one.kind)):
            yield from check(one, block, results, log)


def _compared(found: Iterable[Again], names: Mapping[int, str]) -> Iterator[Compared]:
    every = list(found)
    for kind, tolerance in TOLERANCES.items():
        if several := [one for one in every if one.kind == kind]:
            deviations = [_apart(one, tolerance) for one in several]
            row = max(range(len(several)), key=[_sortable(one) for one in deviations].__getitem__)
            worst = several[row]
            yield Compared(kind, len(several), deviations[row], *_named(worst, names), worst.again, tolerance)


def _apart(one: Again, tolerance: Tolerance) -> float:
    value = one.figure.value or 0.0 if isinstance(one.figure, Quantity) else one.figure[1]
    apart = abs(value - one.again)
    if tolerance.unit == "deg":
        apart = abs((value - one.again + 180.0) % 360.0 - 180.0)
    return apart / abs(one.again) if tolerance.relative and one.again else apart


def _sortable(deviation: float) -> float:
    return math.inf if math.isnan(deviation) else deviation


def _named(one: Again, names: Mapping[int, str]) -> tuple[str, float]:
    if isinstance(one.figure, Quantity):
        return names.get(id(one.figure), "?"), one.figure.value or 0.0
    return one.figure


def _not_compared(left: Iterable[tuple[str, str]]) -> Iterator[NotCompared]:
    by_why: dict[str, Counter[str]] = {}
    for name, why in left:
        by_why.setdefault(why, Counter())[_end(name)] += 1
    for why, names in by_why.items():
        yield NotCompared(dict(names), why)


def _end(name: str) -> str:
    return name.rpartition("/")[2]


def _why_not(name: str, figure: Quantity) -> str:
    if why := next((why for end, why in WHY_NOT.items() if name.endswith(f"/{end}")), ""):
        return why
    if figure.unit not in ("1", "K", "deg") or _end(name) in PHOTOMETRIC:
        return NO_COLOUR
    return BOUND if figure.bound is not None else UNKNOWN
