"""Results as data: the shape ``benchd.results/2``.

Top level, in this order::

    schema        "benchd.results/2"; what changed from /1: profiles/schema/CHANGES.md
    simulated     true when a simulator took part; then ``notice`` is "SIMULATED", else ""
    virtual_time  true when waits were skipped on a simulated bench
    log           {file, sha256}: the log these results were computed from
    sample, note, plan, started, sessions, complete, steps {planned, done}, readings, faults
    meter, screen, settings, versions     as the log has them; of a port in a temporary folder its name alone
    target        the SDR target that the screen was held against, or null
    judged_by     the same in words; of an HDR log the curve and the colours that its figures are held against
    warm_up       {stable, minutes, luminance, trend, swing_percent, not_stable_because} or null; trend: {ahead_min,
                  to_come, in_hour, per_hour, steady} or null, what was still to come when it ended
    blocks        {name of the block: {kind, method, ...}}, a key for every block that has results
    figures       {name: {topic, unit, better, short, how, block, conditions, quantity}}: every figure of the
                  catalogue, which summaries, comparisons, claims and the library speak of; ``unit`` says which digits
                  it is worth, ``better`` is "more", "less" or "nearer"
    absent        [{result, why}]: what could not be had, and the reason
    later_warm_ups  [the same]: warmed up again after a gap; not among steps and readings
    sweep         the sweep over the display's controls as a table, or null: {method, controls, rows, ranges}
    uncertainty   what the bench profile states of the meter's uncertainty, or null
    technology    of the display, as the bench states it, or ""
    drift         {name of the reference block: {settings, readings, maximum_change, segments, ...}}
    imported      the file that the readings were imported from, or "" when benchd took them
    compensation  {name of the reference block: {applied, why, curves, maximum, steps: [{step, session, drift, raw,
                  luminance}], ...}}: what was taken out of the results, with every luminance as it was read
    precision     null, or {steps, unit: "%", short: {step: {asked, reached, why}}}: patches read to a precision, and
                  those that did not reach it; percent of the luminance, k = 1
    conditions    {preset, brightness, ...: {words, value, unit, source, when, others [{value, source, when}], changes
                  [{session, value, source}], note}}: every condition that can be recorded; value null: not recorded
    stands_out    [sentence]: what stands out of the figures by the rules of `benchd.report.stands_out`, farthest first
    doubts        [{about, text, steps}]: where a condition was given otherwise than the display answered
                  ("condition"); where the operator was to set the display or move the meter, the light did not follow,
                  and nobody answered whether it was done ("setting", "move"); where readings are of a kind for which
                  intervals are known to fall short ("coverage"); the steps in doubt
    offsets       {"dark_offset" or "ambient": {screen, readings, luminance, subtracted, why, left_out, ...}}

A block's fields are those of its result class (``results.py`` in the folder of its kind), under the same names.
Collections whose items have names are objects with these for keys instead of lists: ``levels`` ("white", "grey50"),
``delta_e`` of a grayscale ("white_luminance", "white_measured", "absolute"), ``patches``; ``rgb_balance`` has the keys
red, green, blue. So are a sweep's ``rows`` ("preset=warm,brightness=50"), the ``figures`` of a row, by name without the
point, its ``ranges`` ("brightness/preset=warm"), and the ``segments`` of a drift ("session-1").

Every figure is a quantity::

    {"value": 384.6, "unit": "cd/m2", "expanded_uncertainty": 2.1, "standard_uncertainty": 1.07,
     "coverage_factor": 1.96, "dof": null, "low": 382.5, "high": 386.7, "n": 3, "s": 0.19, "status": "ok",
     "bound": null, "why": "", "records": [[12, 14]], "simulated": false}

``value`` is not rounded, and null when ``status`` is "absent". ``bound`` is null, "above" (the truth is more
than ``value``) or "below". ``s`` is the standard deviation of ``n`` readings. ``expanded_uncertainty`` (U, 95 %) is in
the figure's unit: ``coverage_factor`` (k) times ``standard_uncertainty`` (u); ``dof`` are the effective degrees of
freedom, null when infinite; ``low`` and ``high`` the ends of the 95 % coverage interval. Where that is skew (a distance
near zero, a ratio with an uncertain denominator) U, u and k are null and the ends alone describe it. All six are null
for a bound, an absent figure, and where an uncertainty is not known. ``records`` are the first and last
sequence numbers of the log's readings behind the figure. No figure is ever NaN or infinite.

The same as a JSON Schema, made from the classes: `benchd.report.data.results_schema`.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields, is_dataclass
from pathlib import PurePosixPath
from typing import Any

from benchd.analysis.catalogue import figures
from benchd.analysis.catalogue_figure import Figure
from benchd.analysis.figure_conditions import Conditions
from benchd.analysis.log.results_run import PrecisionSummary
from benchd.analysis.measurement import KeyOf, in_order, result_part
from benchd.analysis.results import Results
from benchd.analysis.results_log import Drift, DriftSegment, Setting, Sweep, SweepRange, SweepRow
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.measuring_conditions import plain_value
from benchd.report.data.log_reference import LogReference
from benchd.report.measurement import is_of_block, judged_by
from benchd.report.summary import what_stands_out
from benchd.report.uncertain import uncertainty_fields
from benchd.report.units import sentence
from benchd.report.words import SIMULATED

Json = dict[str, Any]


def _of_row(row: SweepRow) -> str:
    return row.point


def _of_range(one: SweepRange) -> str:
    return "/".join(filter(None, (one.control, point_text(one.others))))


def _of_segment(segment: DriftSegment) -> str:
    return f"session-{segment.session}"


def point_text(settings: Mapping[str, Setting]) -> str:
    """``preset=warm,brightness=50``, as the names of blocks begin."""
    return ",".join(f"{name}={plain_value(value)}" for name, value in settings.items())


Tables = tuple[Mapping[tuple[type, str], KeyOf], Mapping[tuple[type, str], tuple[str, ...]]]

KEYED: dict[tuple[type, str], KeyOf] = {
    (Sweep, "rows"): _of_row,
    (Sweep, "ranges"): _of_range,
    (Drift, "segments"): _of_segment,
}
"""Collections beside the blocks that become objects: the key of each item. Those of blocks are in their parts."""

_SILENT = frozenset({"levels", "patches", "steps", "grid", "intervals", "rows", "ranges", "readings", "segments"}) | {
    *("windows", "moments", "beside", "boards", "figures", "quantity"),
}
"""Names of collections that a path leaves out: "uniformity/white/r2c3/luminance"."""


def to_json(results: Results, log: LogReference) -> Json:
    """The results as plain values, in a fixed order of keys.

    Raises ValueError when a figure is not finite or two items would share a key: either is a fault of
    the analysis and must not reach a file.
    """
    simulated = results.simulated
    return {
        "schema": results.schema,
        "simulated": simulated,
        "notice": SIMULATED if simulated else "",
        "virtual_time": results.virtual_time,
        "log": {"file": log.file, "sha256": log.sha256},
        "sample": results.sample,
        "note": results.note,
        "plan": results.plan,
        "started": results.started,
        "sessions": results.sessions,
        "complete": not results.interrupted and not results.skipped,
        "steps": {"planned": results.steps_planned, "done": results.steps_done},
        "readings": results.readings,
        "faults": results.faults,
        "meter": _plain(_meter(results), simulated),
        "screen": _plain(_screen(results), simulated),
        "settings": _plain(results.settings, simulated),
        "versions": _plain(results.versions, simulated),
        "target": _plain(results.target, simulated),
        "judged_by": judged_by(results),
        "warm_up": _plain(results.warm_up, simulated),
        "blocks": _blocks(results),
        "figures": {one.name: _figure(one, simulated) for one in figures(results)},
        "absent": _plain(results.absent, simulated),
        "later_warm_ups": _plain(results.later_warm_ups, simulated),
        "sweep": _plain(results.sweep, simulated),
        "drift": _named(results.drift, simulated),
        "uncertainty": _plain(results.uncertainty, simulated),
        "technology": results.technology,
        "imported": results.imported,
        "compensation": _named(results.compensation, simulated),
        "offsets": _named(results.offsets, simulated),
        "precision": _precision(results.precision),
        "conditions": {one["key"]: one for one in _plain(results.conditions, simulated)},
        "stands_out": [sentence(text) for text in what_stands_out(results)],
        "doubts": _plain(results.doubts, simulated),
    }


def of_block(document: Json, name: str) -> Json:
    """The document of a log with the figures of one block alone, or those of ``drift``; what holds for the log stays.

    The shape is the same: what is of other blocks, or of none, is empty.
    """
    none: Json = {"warm_up": None, "later_warm_ups": [], "sweep": None, "stands_out": []}
    none |= {key: {} for key in ("drift", "compensation", "offsets") if key != name}
    return (
        document
        | none
        | {
            "blocks": {block: one for block, one in document["blocks"].items() if is_of_block(block, name)},
            "figures": {figure: one for figure, one in document["figures"].items() if is_of_block(one["block"], name)},
            "absent": [one for one in document["absent"] if is_of_block(one["result"], name)],
        }
    )


def _meter(results: Results) -> Json:
    """As the log has it; the folder of a run's own port is gone, and says where this machine keeps its files."""
    address = PurePosixPath(str(results.meter.get("address") or ""))
    temporary = address.is_absolute() and address.parent.name.startswith("benchd-")
    return {**results.meter, "address": address.name} if temporary else {**results.meter}


def _screen(results: Results) -> Json:
    """As the log has it; a refresh rate that the screen does not report is not zero."""
    return {key: value or None if key == "refresh_hz" else value for key, value in results.screen.items()}


def json_text(document: Json) -> str:
    """``document`` as text: UTF-8 kept readable, no NaN, a line end at the end."""
    return json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def quantities(document: Json) -> Iterator[tuple[str, Json]]:
    """Every quantity of a document with its path, such as "uniformity/white/r2c3/luminance"."""
    for path, quantity, _ in with_conditions(document):
        yield path, quantity


def every_figure(results: Results, log: LogReference) -> Iterator[tuple[str, Quantity]]:
    """Every figure of the results with its path."""
    for path, data in quantities(to_json(results, log)):
        if isinstance(data, FigureJson):
            yield path, data.quantity


def with_conditions(document: Json) -> Iterator[tuple[str, Json, Conditions]]:
    """The same, each with what stands above it in the document and belongs to it: see `HOLDS`."""
    yield from _walk("warm_up", document["warm_up"])
    for name, block in document["blocks"].items():
        yield from _walk(name, block)
    yield from _walk("later_warm_ups", document["later_warm_ups"])
    yield from _walk("sweep", document["sweep"])
    for name, block in document["drift"].items():
        yield from _walk(name, block)


def item_name(item: Any, index: int) -> str:
    """The name of a list's item in a path: a step, a place or an interval of codes; else its number."""
    if isinstance(item, Mapping):
        if "step" in item:
            return str(item["step"]).rpartition("/")[2]
        if "row" in item and "column" in item:
            return f"r{item['row']}c{item['column']}"
        if "code_from" in item:
            return f"code-{item['code_from']}-to-{item['code_to']}"
    return str(index)


def plain(value: Any, simulated: bool) -> Any:
    """A result of any class as plain values, its figures marked when they are simulated."""
    return _plain(value, simulated)


def is_quantity(value: Any) -> bool:
    """True for a quantity as JSON."""
    return isinstance(value, Mapping) and "value" in value and "status" in value and "bound" in value


def _blocks(results: Results) -> Json:
    """Every block that has results: kind by kind."""
    blocks: Json = {}
    for one in in_order(results):
        blocks |= {name: {"kind": one.kind, **body} for name, body in _named([one], results.simulated).items()}
    return blocks


def _figure(one: Figure, simulated: bool) -> Json:
    """A figure of the catalogue, so that it can be shown and ranked where its measurement is not known."""
    return {
        **{name: getattr(one, name) for name in FIGURE_TEXTS} | {"unit": one.quantity_unit},
        "conditions": dict(one.conditions),
        "quantity": _quantity(one.quantity, simulated),
    }


FIGURE_TEXTS = ("topic", "unit", "better", "short", "how", "block")
"""What a document says of a figure of the catalogue in words."""


def _precision(found: PrecisionSummary | None) -> Json | None:
    if found is None:
        return None
    short = {
        one.step: {"asked": one.asked_percent, "reached": one.reached_percent, "why": one.why} for one in found.short
    }
    return {"steps": found.steps, "unit": "%", "short": short}


def _named(several: Iterable[Any], simulated: bool) -> Json:
    """Results of blocks under the names of the blocks."""
    found: Json = {}
    for one in several:
        body = _plain(one, simulated)
        name = body.pop("block")
        if name in found:
            raise ValueError(f"two blocks have the name {name!r}")
        found[name] = body
    return found


def _plain(value: Any, simulated: bool, tables: Tables | None = None) -> Any:
    """``value`` as JSON knows it."""
    if value is None or isinstance(value, (str, bool, int)):
        return value
    if isinstance(value, float):
        if not math.isfinite(value):
            raise ValueError(f"a figure of the results is {value}")
        return float(value)  # a plain float, whatever number type of an array library it was
    if isinstance(value, Quantity):
        return _quantity(value, simulated)
    if isinstance(value, Figure):
        return _figure(value, simulated)
    if is_dataclass(value):
        keyed, named = _of_kind(getattr(value, "kind", "")) if tables is None else tables
        return {
            f.name: _field((type(value), f.name), getattr(value, f.name), simulated, (keyed, named))
            for f in fields(value)
        }
    if isinstance(value, Mapping):
        return {str(key): _plain(item, simulated, tables) for key, item in value.items()}
    return [_plain(item, simulated, tables) for item in value]


def _of_kind(kind: object) -> Tables:
    """Collections and tuples that become objects, in the results of a block of this kind."""
    if not isinstance(kind, str) or not kind:
        return KEYED, {}
    part = result_part(kind)
    return part.keys, part.names


def _field(at: tuple[type, str], value: Any, simulated: bool, tables: Tables) -> Any:
    keyed, names = tables
    if at in names:
        return {key: _plain(v, simulated, tables) for key, v in zip(names[at], value, strict=True)}
    if at not in keyed:
        return _plain(value, simulated, tables)
    key_of = keyed[at]
    items = {
        getattr(item, key_of) if isinstance(key_of, str) else key_of(item): _plain(item, simulated, tables)
        for item in value
    }
    if len(items) != len(value):
        raise ValueError(f"two items of {at[1]} have the same name")
    return items


class FigureJson(dict[str, Any]):
    """A figure as JSON that still knows the quantity it was made from."""

    __slots__ = ("quantity",)
    quantity: Quantity


def _quantity(quantity: Quantity, simulated: bool) -> FigureJson:
    found = FigureJson(_fields(quantity, simulated))
    found.quantity = quantity
    return found


def _fields(quantity: Quantity, simulated: bool) -> Json:
    return {
        "value": _plain(quantity.value, simulated),
        "unit": quantity.unit,
        **uncertainty_fields(quantity),
        "n": quantity.n,
        "s": _plain(quantity.s, simulated),
        "status": quantity.status,
        "bound": quantity.bound,
        "why": quantity.why,
        "records": [list(pair) for pair in quantity.records],
        "simulated": simulated,
    }


HOLDS = (
    *("curve", "rule", "convention", "delta_e_convention", "formula", "adaptation", "list", "space", "aim", "patch"),
    *("area_percent", "requested_cd_m2", "columns", "rows", "transfer", "inside", "black_s"),
)
"""Fields of a result without which its figures mean nothing."""


def _walk(path: str, value: Any, held: Conditions = ()) -> Iterator[tuple[str, Json, Conditions]]:
    if is_quantity(value):
        yield path, value, held
    elif isinstance(value, Mapping) and isinstance(value.get("conditions"), Mapping):
        yield path, value["quantity"], (*held, *value["conditions"].items())
    elif isinstance(value, Mapping):
        own = [(key, value[key]) for key in HOLDS if key in value]
        held = (*held, *((key, str(text)) for key, text in own if isinstance(text, (str, int, float)) and text != ""))
        for key, item in value.items():
            yield from _walk(path if key in _SILENT else f"{path}/{key}", item, held)
    elif isinstance(value, list):
        for index, item in enumerate(value):
            # A row of a grid is a list of its own and has no name: its cells have.
            yield from _walk(path if isinstance(item, list) else f"{path}/{item_name(item, index)}", item, held)
