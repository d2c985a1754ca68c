"""The library's figures and samples as text: value with its expanded uncertainty, SIMULATED in every row."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from benchd.analysis.meter_model.spectral import Spectral, moved_by_spectrum, spectral_words
from benchd.analysis.uncertainty.quantity import Bound, Quantity
from benchd.library.entry import Figure
from benchd.library.ranking import Ranked, by_conditions
from benchd.library.store import StoredSample
from benchd.report.digits import SIGNED, bound, digits_of, number, with_ends, with_uncertainty
from benchd.report.words import SIMULATED, columns

IMPORTED = "imported"
REPEATABILITY_ONLY = "meter not stated, ± of repeatability only"
UNITS = {"1": "", "": ""}


class ListColumn(NamedTuple):
    """A figure of many samples: its name, unit and kind of digits ("" of a path), and its values by the sample's id."""

    name: str
    unit: str
    kind: str
    figures: Mapping[int, Figure]


def figure_text(name: str, unit: str, kind: str, figure: Figure | None, *, with_unit: bool = False) -> str:
    """``384.6 ± 2.1``, ``1.57 (1.08 to 2.40)``, ``> 82 000``, ``-`` when absent; where none is known the value alone.

    ``kind`` of digits as of `Named`. No uncertainty is zero: where nothing is stated of the meter and no reading
    differs from another, nothing is known. A ``!`` marks a value that the meter did not call ok.
    """
    if figure is None or figure.value is None:
        return "-"
    kind = kind or digits_of(name, unit)
    tail = f" {unit}" if with_unit and UNITS.get(unit, unit) else ""
    if figure.bound is not None:
        side: Bound = "above" if figure.bound == "above" else "below"
        return bound(Quantity(figure.value, unit, bound=side), kind) + tail
    mark = "" if figure.status == "ok" else "!"
    u, low, high = figure.expanded_uncertainty, figure.low, figure.high
    if u is None and low is not None and high is not None and high > low:
        text, *ends = with_ends(figure.value, low, high, kind, sign=kind in SIGNED)
        return f"{mark}{text}{tail} ({' to '.join(ends)})"
    if u is None or u <= 0.0:
        return f"{mark}{number(figure.value, kind, figure.s, sign=kind in SIGNED)}{tail}"
    return f"{mark}{' ± '.join(with_uncertainty(figure.value, u, kind, sign=kind in SIGNED))}{tail}"


def heading(name: str, unit: str) -> str:
    """``White luminance, cd/m2``: a column's head; a path stays as it is."""
    title = name if "/" in name.partition(" ")[0] else name[:1].upper() + name[1:]
    return f"{title}, {unit}" if UNITS.get(unit, unit) else title


def notice(sample: StoredSample, *figures: Figure | None) -> str:
    """What must stand beside every figure of a sample: SIMULATED, imported, nothing stated of the meter, incomplete.

    And of ``figures`` from a sweep, with which settings.
    """
    facts = sample.facts
    parts = [SIMULATED] if facts.simulated else []
    parts += [IMPORTED] if facts.imported else []
    parts += [] if facts.stated else [REPEATABILITY_ONLY]
    parts += [] if facts.complete else [f"{facts.steps_done} of {facts.steps_planned} steps"]
    settings = dict.fromkeys(figure.settings for figure in figures if figure is not None and figure.settings)
    return ", ".join([*parts, *(f"at {one}" for one in settings)])


def spectral_remark(columns: Iterable[ListColumn], samples: Iterable[StoredSample]) -> str:
    """Why spectral errors do not cancel in the ranks of these figures; "" where they do, or move none of them."""
    if not any(moved_by_spectrum(one.name, one.kind or digits_of(one.name, one.unit)) for one in columns):
        return ""
    several = [sample.facts for sample in samples]
    if len(several) < 2:
        return ""
    return spectral_words(Spectral(one.technology, one.correction, one.by_spectrum) for one in several)


def day(sample: StoredSample) -> str:
    """The day on which the run began, by the log."""
    return sample.facts.started[:10]


def ranking_lines(column: ListColumn, lines: list[Ranked], limit: int) -> list[str]:
    """A ranking as a table; an empty line separates groups that differ significantly."""
    rows = [("rank", "sample", heading(column.name, column.unit), "day", "plan", "")]
    for line in lines[:limit]:
        place = line.place if line.shared or line.rank is None else f"{line.rank}  "
        text = figure_text(column.name, column.unit, column.kind, line.figure)
        facts = line.sample.facts
        rows.append((place, facts.sample, text, day(line.sample), facts.plan, notice(line.sample, line.figure)))
    table = columns(rows, left=(1, 3, 4, 5))
    out = [table[0]]
    before: int | None = None
    for line, text in zip(lines[:limit], table[1:], strict=True):
        if before is not None and line.group != before and any(one.shared for one in lines):
            out.append("")
        before = line.group
        out.append(text)
    return out


def conditions_lines(samples: Iterable[StoredSample], shown: Iterable[ListColumn]) -> list[str]:
    """What each figure holds for, and for which samples where that is not the same in all."""
    several, lines = list(samples), []
    for column in shown:
        found = by_conditions(several, column.figures)
        for under, having in found.items():
            whose = f" ({', '.join(sample.facts.sample for sample in having)})" if len(found) > 1 else ""
            lines += [f"{column.name}: holds for {under or 'no condition'}{whose}"] if under or whose else []
    return ["", *lines] if lines else []


def sample_lines(samples: list[StoredSample], shown: list[ListColumn]) -> list[str]:
    """Samples as a table with the figures ``shown``."""
    rows = [("sample", *(heading(one.name, one.unit) for one in shown), "day", "plan", "log", "")]
    for sample in samples:
        own = [one.figures.get(sample.id) for one in shown]
        texts = (figure_text(one.name, one.unit, one.kind, found) for one, found in zip(shown, own, strict=True))
        digest = sample.facts.sha256[:12]
        rows.append((sample.facts.sample, *texts, day(sample), sample.facts.plan, digest, notice(sample, *own)))
    last = len(rows[0])
    return columns(rows, left=(0, *range(last - 4, last)))
