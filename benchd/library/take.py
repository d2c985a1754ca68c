"""From the results of one log to what the library keeps of it."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from dataclasses import replace

from benchd.analysis.catalogue import AT, headlines, point_words
from benchd.analysis.catalogue_figure import Figure as Headline
from benchd.analysis.figure_conditions import conditions_text
from benchd.analysis.meter_model.spectral import spectral_in
from benchd.analysis.results import Results
from benchd.analysis.sweep_points import brightest
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.analysis.uncertainty.sources import effective_dof, standard
from benchd.analysis.unread_blocks import unread_text
from benchd.library.entry import BudgetPart, Facts, Figure, NamedFigure
from benchd.report.data.document import Json, plain
from benchd.report.data.held import held


def facts_of(document: Json) -> Facts:
    """The facts in the results of one log."""
    meter, screen, target = document["meter"], document["screen"], document["target"]
    signal = document["settings"].get("signal")  # its curve judges an HDR log, no SDR target does
    return Facts(
        sha256=document["log"]["sha256"],
        sample=document["sample"],
        plan=document["plan"],
        target=str(signal["transfer"] if signal else target["name"] if target else ""),
        note=document["note"],
        started=document["started"],
        complete=document["complete"],
        simulated=document["simulated"],
        imported=document["imported"],
        stated=document["uncertainty"] is not None,
        meter=" ".join(str(meter[key]) for key in ("model", "serial_number") if meter.get(key)),
        screen=str(screen.get("name", "")),
        steps_done=document["steps"]["done"],
        steps_planned=document["steps"]["planned"],
        readings=document["readings"],
        faults=document["faults"],
        conditions=json.dumps({key: one["value"] for key, one in document["conditions"].items()}, ensure_ascii=False),
        unread=unread_text(((one["result"], one["why"]) for one in document["absent"]), document["blocks"]),
        **spectral_in(document["technology"], meter, document["uncertainty"])._asdict(),
    )


def figures_of(results: Results, document: Json) -> Iterator[NamedFigure]:
    """Every figure in the results of one log, which are in ``document`` as JSON: the headlines, then all by paths."""
    for one, settings in headlines_of(results):
        under = conditions_text(one.conditions)
        figure = figure_of(plain(one.quantity, results.simulated))._replace(settings=settings, conditions=under)
        unit = one.quantity.unit
        short = "" if AT in one.name else one.short
        yield NamedFigure(one.name, unit, True, figure, one.unit, one.better, short, parts_of(one.quantity))
    for path, quantity, under in held(document):
        yield NamedFigure(path, quantity["unit"], False, figure_of(quantity)._replace(conditions=under))


def figure_of(quantity: Json) -> Figure:
    """The figure of a quantity as JSON."""
    records = " ".join(f"{first}-{last}" for first, last in quantity["records"])
    return Figure(**{name: quantity[name] for name in Figure._fields if name in quantity} | {"records": records})


def headlines_of(results: Results) -> Iterator[tuple[Headline, str]]:
    """Every headline figure of one log, and the settings that it holds for, "" without a sweep.

    Of a sweep: those of each point under names with its settings, and before them those of the point with the most
    white luminance under the names that logs without a sweep have.
    """
    found = headlines(results)
    rows = () if results.sweep is None else results.sweep.rows
    points = {row.point: point_words(row) for row in rows}
    if row := brightest(rows):
        for one in found:
            if one.block.partition("/")[0] == row.point:
                yield replace(one, name=one.name.partition(AT)[0]), points[row.point]
    for one in found:
        yield one, points.get(one.block.partition("/")[0], "")


def parts_of(quantity: Quantity) -> tuple[BudgetPart, ...]:
    """What of its uncertainty other logs share, source by source, and the rest as one part."""
    stated = quantity.stated
    found = quantity.sources.contributions() if quantity.sources is not None else None
    if stated is None or stated.k is None or found is None:
        return ()
    own = {source: amount for source, amount in found.items() if not source.shared}
    shared = [
        BudgetPart(f"{source.name}#{source.part}", amount, _finite(source.dof))
        for source, amount in found.items()
        if source.shared and amount
    ]
    return (BudgetPart("", standard(own), _finite(effective_dof(own))), *shared)


def _finite(dof: float) -> float | None:
    return None if math.isinf(dof) else dof
