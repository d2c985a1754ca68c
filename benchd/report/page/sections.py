"""Sections of the report page that every log has: its summary, its sweep, its history."""

from __future__ import annotations

from collections.abc import Sequence

from benchd.analysis.catalogue import headlines
from benchd.analysis.catalogue_figure import Figure
from benchd.analysis.log.history import Event
from benchd.analysis.results import Results
from benchd.analysis.uncertainty.quantity import absent
from benchd.report.data.document import point_text
from benchd.report.page.parts import (
    esc,
    method,
    number_cell,
    quantity_cells,
    table,
    tag,
    text_cell,
)
from benchd.report.page.section_html import without_empty
from benchd.report.shown import UNIT_TEXT, plain_name, with_uncertainty

UNITS = {**UNIT_TEXT, "dE00": "", "xy": "", "u'v'": "", "Duv": "", "gamma": ""}
LEADS = (
    "maximum peak luminance",
    "white luminance",
    "contrast",
    "white CCT",
    "grayscale delta E mean",
    "colour delta E mean",
)
"""The figures that are set large, where they are there; four at most."""
_NAMES = {"white luminance": "White, full screen", "contrast": "Contrast", "white CCT": "Colour of white"}


def lead(found: Sequence[Figure]) -> str:
    """The few figures that a reader looks for first."""
    by_name = {one.name: one for one in found}
    by_name |= {one.name.partition(" of ")[0]: one for one in reversed(found) if one.topic == "colours"}
    items = []
    for name in [name for name in LEADS if name in by_name][:4]:
        one = by_name[name]
        value, about = with_uncertainty(one.quantity, one.unit)
        unit = UNITS.get(one.unit, "")
        shown = (
            f"{esc(value)}:1" if unit == ":1" else esc(value) + (tag("span", esc(unit), class_="unit") if unit else "")
        )
        said = [about] if about else []
        said += [f"Duv {_plain(by_name['white Duv'])}"] if name == "white CCT" and "white Duv" in by_name else []
        items.append(tag("div", tag("dt", esc(_title(name))) + tag("dd", shown + tag("small", esc(", ".join(said))))))
    return tag("dl", "".join(items), class_="lead") if items else ""


def _title(name: str) -> str:
    return _NAMES.get(name) or plain_name(name[0].upper() + name[1:])


def _plain(one: Figure) -> str:
    return with_uncertainty(one.quantity, one.unit, sign=True)[0].replace("-", "−")


def summary(results: Results, simulated: bool) -> str:
    """Every headline figure with its uncertainty; of a sweep only the ranges, its table has the rest."""
    if results.sweep:
        return _ranges(results)
    found = headlines(results)
    rows, groups = [], []
    for topic in dict.fromkeys(one.topic for one in found):
        several = [one for one in found if one.topic == topic]
        groups.append((topic[0].upper() + topic[1:], len(several)))
        for one in several:
            value, about = quantity_cells(one.quantity, one.unit, sign=one.unit == "Duv")
            stated = one.quantity.stated
            k = number_cell(f"{stated.k:.2f}") if stated and stated.k else text_cell("")
            n = number_cell(str(one.quantity.n) if one.quantity.n else "")
            note = f"{one.how}. {one.quantity.why}".strip(". ") if one.quantity.why else one.how
            unit = UNITS.get(one.unit, "")
            name = text_cell(plain_name(one.name))
            rows.append((name, value, about, text_cell(unit), k, n, text_cell(note)))
    head = ("Figure", "Value", "U (95 %)", "Unit", "k", "n", "What it is")
    shown = table(head, rows, caption="Summary of all figures", groups=groups, folded=False)
    note = (
        "U is the expanded uncertainty, k standard uncertainties: the true value is within ± U of it with 95 %, or "
        "between the two ends that stand there. "
        if results.meter_is_stated
        else "Nothing is stated of the meter: U is of the standard deviation of the readings alone (expanded to 95 %), "
        "and the true value may be farther away. "
    ) + "Where there is none, it is not known. n: readings behind the figure."
    return lead(found) + shown + tag("p", esc(note), class_="method")


def _ranges(results: Results) -> str:
    assert results.sweep is not None
    rows = []
    for one in results.sweep.ranges:
        name = f"{one.control}" + (f" ({point_text(one.others)})" if one.others else "")
        low, high = quantity_cells(one.minimum, "cd/m2"), quantity_cells(one.maximum, "cd/m2")
        at = (text_cell(str(one.minimum_at)), text_cell(str(one.maximum_at)))
        rows.append((text_cell(name), *low, at[0], *high, at[1], number_cell(str(one.points))))
    head = ("White over", "Minimum, cd/m²", "U (95 %)", "at", "Maximum, cd/m²", "U (95 %)", "at", "Points")
    return table(head, rows, caption="Range of white luminance over the sweep", folded=False)


def sweep_table(results: Results) -> str:
    """One row a point."""
    sweep = results.sweep
    if sweep is None:
        return ""
    parts = (
        ("White, cd/m²", "cd/m2", "white luminance"),
        ("Black, cd/m²", "cd/m2", "black luminance"),
        ("Contrast, :1", "1", "contrast"),
        ("CCT, K", "K", "white CCT"),
        ("Duv", "Duv", "white Duv"),
        ("ΔE₀₀ mean", "dE00", "grayscale delta E mean"),
        ("Gamma fit", "gamma", "gamma"),
    )
    used = [one for one in parts if any(found.present for row in sweep.rows if (found := row.quantity(one[2])))]
    if not used:  # a sweep of other measurements: what they have
        own = {name: one for row in sweep.rows for name, one in row.figures.items() if one.quantity.present}
        used = [(f"{_title(name)}, {one.unit}", one.unit, name) for name, one in own.items()]
    head = list(sweep.controls)
    for title, *_ in used:
        head += [title, "± U"]
    rows = []
    for row in sweep.rows:
        cells = [
            number_cell(f"{row.settings[name]:g}")
            if isinstance(row.settings[name], int | float)
            else text_cell(str(row.settings[name]))
            for name in sweep.controls
        ]
        for _, kind, name in used:
            cells += quantity_cells(row.quantity(name) or absent(kind, "not measured"), kind, sign=kind == "Duv")
        rows.append(cells)
    head, rows = without_empty(head, rows)
    return table(head, rows, caption="Every point of the sweep") + method(sweep.method)


def events_html(results: Results, events: Sequence[Event]) -> str:
    """Faults, pauses and what else happened."""
    told = [
        (
            number_cell(f"{event.minutes:.1f}"),
            number_cell(str(event.session)),
            text_cell(event.kind),
            text_cell(event.step),
            text_cell(event.text),
        )
        for event in events
    ]
    head = ("Minutes", "Session", "Event", "Step", "What")
    faults = sum(event.kind == "fault" for event in events)
    words = f"{faults} faults" if faults else "No fault"
    inner = tag("p", esc(f"{words} in {results.sessions} session{'s' if results.sessions > 1 else ''}."))
    inner += table(head, told, caption="Faults, pauses and looks at the first patches")
    return inner
