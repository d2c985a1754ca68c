"""The library's figures and samples as text: value with its expanded uncertainty, SIMULATED in every row."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from benchd.analysis.meter_model.spectral import Spectral, moved_by_spectrum, spectral_words
from benchd.analysis.uncertainty.quantity import Bound, Quantity
from benchd.library.entry import Figure
from benchd.library.ranking import Ranked, by_conditions
from benchd.library.store import StoredSample
from benchd.measurements.declared_figure import plain_name
from benchd.report.digits import SIGNED, bound, digits_of, number, with_ends, with_uncertainty
from benchd.report.units import unit_text
from benchd.report.words import SIMULATED, capital, columns, longest_piece, printable, rows_within

IMPORTED = "imported"
MOST_SIGNS, MOST_OF_PLAN = 16, 10  # of a sample's and a plan's name in 80 columns; in more as many more
LONGEST_WORD = len("preset=standard")
"""Of the remarks beside a sample: longer words go on in the next line, after a sign that parts them."""
ELLIPSIS = "…"
REPEATABILITY_ONLY = "meter not stated, ± of repeatability only"


def unit_words(unit: str, kind: str) -> str:
    """The unit of a figure as reports have it, such as ":1" of a contrast; of a path "1" says nothing."""
    return unit_text(kind) if kind else "" if unit == "1" else unit


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
    words = unit_words(unit, kind) if with_unit else ""
    kind = kind or digits_of(name, unit)
    own = words if words == ":1" else ""  # it belongs to the number; any other unit is that of both
    tail = f" {words}" if words and not own else own
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
    value, reach = with_uncertainty(figure.value, u, kind, sign=kind in SIGNED)
    return f"{mark}{value}{own} ± {reach}{'' if own else tail}"


def heading(name: str, unit: str, kind: str = "") -> str:
    """``White luminance, cd/m2``: a column's head; a path stays as it is."""
    title = name if "/" in name.partition(" ")[0] else capital(plain_name(name))
    words = unit_words(unit, kind)
    return f"{title}, {words}" if words else title


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


def ranking_lines(column: ListColumn, lines: list[Ranked], limit: int, width: int) -> list[str]:
    """A ranking as a table in ``width`` signs; an empty line separates groups that differ significantly."""
    shown = lines[:limit]
    texts = [figure_text(column.name, column.unit, column.kind, line.figure) for line in shown]
    rows: list[tuple[str, ...]] = [
        ("rank", "sample", heading(column.name, column.unit, column.kind), "day", "plan", "")
    ]
    grouped = any(one.shared for one in lines)
    for before, line, text in zip([None, *shown], shown, texts, strict=False):
        if grouped and before is not None and before.group != line.group:
            rows.append(("",) * len(rows[0]))
        place = line.place if line.shared or line.rank is None else f"{line.rank}  "
        facts = line.sample.facts
        rows.append((place, facts.name, text, day(line.sample), facts.plan, notice(line.sample, line.figure)))
    return _fitted(rows, width, left=(1, 3, 4, 5), names={1: MOST_SIGNS, 4: MOST_OF_PLAN}, figures=(2,), spared=(4,))


def conditions_lines(samples: Iterable[StoredSample], shown: Iterable[ListColumn], width: int) -> list[str]:
    """What each figure holds for, and for which samples where that is not the same in all."""
    several, lines = list(samples), []
    for column in shown:
        found = by_conditions(several, column.figures)
        for under, having in found.items():
            whose = f" ({', '.join(sample.facts.name for sample in having)})" if len(found) > 1 else ""
            text = f"{plain_name(column.name)}: holds for {under or 'no condition'}{whose}"
            lines += [text] if under or whose else []
    wrapped = [line for text in lines for line in wrapped_lines(text, width)]
    return ["", *wrapped] if wrapped else []


def sample_lines(samples: list[StoredSample], shown: list[ListColumn], width: int) -> list[str]:
    """Samples as a table in ``width`` signs with the figures ``shown``."""
    rows = [("sample", *(heading(one.name, one.unit, one.kind) for one in shown), "day", "plan", "log", "")]
    for sample in samples:
        own = [one.figures.get(sample.id) for one in shown]
        texts = (figure_text(one.name, one.unit, one.kind, found) for one, found in zip(shown, own, strict=True))
        digest = sample.facts.sha256[:12]
        rows.append((sample.facts.name, *texts, day(sample), sample.facts.plan, digest, notice(sample, *own)))
    last = len(rows[0])
    figures = _for_most(rows[1:], range(1, last - 4))
    spared = (*figures[1:2], last - 3, *figures[2:], last - 2)  # the second figure, the plan, more figures, the digest
    return _fitted(
        rows,
        width,
        left=(0, *range(last - 4, last)),
        names={0: MOST_SIGNS, last - 3: MOST_OF_PLAN},
        figures=figures,
        spared=spared,
    )


def _for_most(rows: Sequence[tuple[str, ...]], figures: Sequence[int]) -> tuple[int, ...]:
    """Columns of figures in the order in which they matter where not all fit: first those that give each row a value.

    One display is measured in SDR, another in HDR, and they have few figures in common.
    """
    left, without, order = list(figures), list(rows), []
    while left:
        best = max(left, key=lambda column: sum(row[column] != "-" for row in without))
        left.remove(best)
        order.append(best)
        without = [row for row in without if row[best] == "-"]
    return tuple(order)


def _fitted(
    rows: Sequence[tuple[str, ...]],
    width: int,
    *,
    left: Sequence[int],
    names: Mapping[int, int],
    figures: Sequence[int],
    spared: Sequence[int],
) -> list[str]:
    """Rows, the first a heading, in ``width`` signs: what stands in the last column goes on in the next line.

    Names (columns ``names``, each with its most signs on a line of 80) are shortened, and of the columns ``spared``,
    the most important first, those stay that there is room for; which do not is said. No figure is broken.
    """
    rows = [tuple(map(printable, row)) for row in rows]
    whole = columns(rows, left=left)
    if max(map(len, whole)) <= width:
        return whole
    for column, most in names.items():
        short = shortened([row[column] for row in rows[1:]], max(8, most * width // 80))
        rows = [rows[0], *((*row[:column], short[row[column]], *row[column + 1 :]) for row in rows[1:])]
    last = len(rows[0]) - 1
    least = [max(len(row[column]) for row in rows) for column in range(last + 1)]
    for column in (*figures, last):
        whole_cells = rows[1:] if column != last else []
        words = max((len(word) for row in rows for word in row[column].split()), default=0)
        least[column] = max([words, *(len(row[column]) for row in whole_cells)])
    kept = [column for column in range(last + 1) if column not in spared]
    room = width - sum(least[one] for one in kept if one != last) - 2 * (len(kept) - 1)
    pieces = max(longest_piece(row[last]) for row in rows)
    least[last] = least[last] if least[last] <= min(LONGEST_WORD, room) else max(pieces, min(LONGEST_WORD, room))
    below = pieces > room  # then what stands in the last column goes under the row
    if below:
        kept.remove(last)
    for column in spared:
        if sum(least[one] for one in (*kept, column)) + 2 * len(kept) <= width:
            kept.append(column)
    kept.sort()
    missing = [rows[0][column].partition(",")[0].lower() for column in spared if column not in kept]
    narrower = [(kept.index(column), least[column]) for column in (*figures, last) if column in kept]
    aligned = [place for place, column in enumerate(kept) if column in left]
    lines: list[str] = []
    for row, own in zip(
        rows,
        rows_within([[row[column] for column in kept] for row in rows], width, narrower, left=aligned),
        strict=True,
    ):
        lines += own
        if below and row[last]:
            lines += wrapped_lines(row[last], width, "  ")
    if missing:
        text = f"for want of width without {', '.join(missing)}; a wider terminal or --format json has all"
        lines += ["", *wrapped_lines(text, width)]
    return lines


def wrapped_lines(text: str, width: int, indent: str = "") -> list[str]:
    """A sentence in lines of at most ``width``, those after the first indented more; a path is not broken."""
    return textwrap.wrap(
        *(printable(text), width),
        initial_indent=indent,
        subsequent_indent=f"{indent}  ",
        break_on_hyphens=False,
        break_long_words=False,
    )


def shortened(names: Iterable[str], most: int) -> dict[str, str]:
    """Names in at most ``most`` signs where they stay different: the middle gives way, since ends tell units apart."""
    several = sorted(set(names))
    while True:
        short = {name: name if len(name) <= most else _middle_out(name, most) for name in several}
        if len(set(short.values())) == len(several):
            return short
        most += 1


def _middle_out(name: str, most: int) -> str:
    end = (most - 1) // 2
    return f"{name[: most - 1 - end]}{ELLIPSIS}{name[len(name) - end :]}"
