"""The JSON Schema of results, made from the result classes, so that the two can't part."""

from __future__ import annotations

import inspect
import json
import types
import typing
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from benchd.analysis.catalogue_figure import Figure
from benchd.analysis.colour.target import Target
from benchd.analysis.log.conditions_log import RecordedCondition
from benchd.analysis.log.results_run import Offset, WarmUp
from benchd.analysis.measurement import result_part
from benchd.analysis.results import SCHEMA, Absent, Doubt
from benchd.analysis.results_log import Compensation, Drift, Sweep
from benchd.analysis.uncertainty.quantity import STATUSES, Quantity
from benchd.measurements import registry
from benchd.measurements.declared_figure import Better, DeclaredFigure
from benchd.report.data.document import FIGURE_TEXTS, KEYED, Json
from benchd.report.words import SIMULATED

FILE = "results.schema.json"

_PLAIN: dict[Any, Json] = {
    str: {"type": "string"},
    bool: {"type": "boolean"},
    int: {"type": "integer"},
    float: {"type": "number"},
    type(None): {"type": "null"},
}
_RANGE: Json = {"type": "array", "items": {"type": "integer"}, "minItems": 2, "maxItems": 2}
_NULL: Json = {"type": "null"}

_PRECISION: Json = {
    "anyOf": [
        {"type": "null"},
        {
            "type": "object",
            "properties": {
                "steps": {"type": "integer"},
                "unit": {"const": "%"},
                "short": {
                    "type": "object",
                    "additionalProperties": {
                        "type": "object",
                        "properties": {
                            "asked": {"type": "number"},
                            "reached": {"type": ["number", "null"]},
                            "why": {"type": "string"},
                        },
                        "required": ["asked", "reached", "why"],
                        "additionalProperties": False,
                    },
                },
            },
            "required": ["steps", "unit", "short"],
            "additionalProperties": False,
        },
    ]
}


def results_schema() -> Json:
    """The schema of a document that `benchd.report.data.document.to_json` makes (JSON Schema 2020-12)."""
    definitions: Json = {"Quantity": _quantity(), "Figure": _figure()}
    blocks = [_block(kind, result_part(kind).shape, definitions) for kind in registry.usable_kinds()]
    count: Json = {"type": "integer", "minimum": 0}
    properties: Json = {
        "schema": {"const": SCHEMA},
        "simulated": {"type": "boolean", "description": "true when a simulator took part in any figure"},
        "notice": {"enum": [SIMULATED, ""]},
        "virtual_time": {"type": "boolean", "description": "true when waits were skipped"},
        "log": _object({"file": _PLAIN[str], "sha256": {"type": "string", "pattern": "^[0-9a-f]{64}$"}}),
        **dict.fromkeys(("sample", "note", "plan", "started"), _PLAIN[str]),
        "sessions": count,
        "complete": {"type": "boolean", "description": "false for a log of a run that has not ended"},
        "steps": _object({"planned": count, "done": count}),
        "readings": count,
        "faults": count,
        **{name: {"type": "object"} for name in ("meter", "screen", "settings", "versions")},
        "target": {"anyOf": [_shape(Target, definitions), _NULL]},
        "judged_by": {"type": "string", "description": "what its figures were held against, in words"},
        "warm_up": {"anyOf": [_shape(WarmUp, definitions), _NULL]},
        "blocks": {"type": "object", "additionalProperties": {"oneOf": blocks}},
        "figures": {"type": "object", "additionalProperties": {"$ref": "#/$defs/Figure"}},
        "absent": {"type": "array", "items": _shape(Absent, definitions)},
        "later_warm_ups": {"type": "array", "items": _shape(WarmUp, definitions)},
        "sweep": {"anyOf": [_shape(Sweep, definitions), _NULL]},
        "drift": {"type": "object", "additionalProperties": _named(Drift, definitions)},
        "uncertainty": {"type": ["object", "null"], "description": "what was stated of the meter; null: nothing"},
        "technology": {"type": "string", "description": "of the display, as the bench states it; empty: it does not"},
        "imported": {"type": "string"},
        "compensation": {"type": "object", "additionalProperties": _named(Compensation, definitions)},
        "precision": _PRECISION,
        "conditions": {"type": "object", "additionalProperties": _shape(RecordedCondition, definitions)},
        "stands_out": {"type": "array", "items": _PLAIN[str], "description": "by written rules, farthest first"},
        "doubts": {"type": "array", "items": _shape(Doubt, definitions)},
        "offsets": {"type": "object", "additionalProperties": _named(Offset, definitions)},
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"Results of a display measurement, {SCHEMA}",
        **_object(properties),
        "allOf": [
            {
                "if": {"properties": {"simulated": {"const": True}}},
                "then": {"properties": {"notice": {"const": SIMULATED}}},
                "else": {"properties": {"notice": {"const": ""}}},
            }
        ],
        "$defs": dict(sorted(definitions.items())),
    }


def schema_text() -> str:
    """The schema as the text of its file."""
    return json.dumps(results_schema(), ensure_ascii=False, indent=2) + "\n"


def _object(properties: Json) -> Json:
    return {
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


def _quantity() -> Json:
    number_or_null: Json = {"type": ["number", "null"]}
    shape = _object(
        {
            "value": {**number_or_null, "description": "not rounded; null when absent"},
            "unit": _PLAIN[str],
            "expanded_uncertainty": {
                **number_or_null,
                "description": "U at 95 %, in the unit: coverage factor times standard uncertainty; null: not known, "
                "or the interval is skew",
            },
            "standard_uncertainty": {**number_or_null, "description": "u, in the unit; null as the expanded one"},
            "coverage_factor": {**number_or_null, "description": "k; null also where the interval is skew"},
            "dof": {**number_or_null, "description": "effective degrees of freedom; null also when infinite"},
            "low": {**number_or_null, "description": "lower end of the 95 % coverage interval"},
            "high": {**number_or_null, "description": "upper end of the 95 % coverage interval"},
            "n": {"type": "integer", "minimum": 0, "description": "readings behind the value"},
            "s": {**number_or_null, "description": "standard deviation of the readings, in the unit"},
            "status": {"enum": list(STATUSES)},
            "bound": {"enum": [None, "above", "below"], "description": "which side the truth lies on"},
            "why": {"type": "string", "description": "why it is a bound, absent, or to be read with care"},
            "records": {"type": "array", "items": _RANGE, "description": "first and last sequence numbers"},
            "simulated": _PLAIN[bool],
        }
    )
    absent: Json = {"properties": {"status": {"const": "absent"}}}
    return {
        **shape,
        "description": _about(Quantity).splitlines()[0],
        "if": absent,
        "then": {"properties": {"value": _NULL, "why": {"minLength": 1}}},
        "else": {"properties": {"value": {"type": "number"}}},
    }


def _figure() -> Json:
    texts: Json = dict.fromkeys(FIGURE_TEXTS, _PLAIN[str]) | {"better": {"enum": list(get_args(Better))}}
    conditions: Json = {"type": "object", "additionalProperties": _PLAIN[str]}
    shape = _object({**texts, "conditions": conditions, "quantity": {"$ref": "#/$defs/Quantity"}})
    return {**shape, "description": f"{_about(Figure)}\n\n{_about(DeclaredFigure)}"}


def _block(kind: str, shape: type, definitions: Json) -> Json:
    return _named(shape, definitions, kind={"const": kind})


def _named(shape: type, definitions: Json, **first: Json) -> Json:
    """What stands under the name of a block: all fields but the name."""
    body = _members(shape, definitions)
    del body["block"]
    return {**_object({**first, **body}), "description": _about(shape)}


def _members(shape: type, definitions: Json) -> Json:
    hints = get_type_hints(shape)
    return {f.name: _member(shape, f.name, hints[f.name], definitions) for f in fields(shape)}


def _member(owner: type, name: str, hint: Any, definitions: Json) -> Json:
    parts = [result_part(kind) for kind in registry.usable_kinds()]
    keyed = {at for table in (KEYED, *(part.keys for part in parts)) for at in table}
    named = {at: keys for part in parts for at, keys in part.names.items()}
    if (owner, name) in keyed:
        return {"type": "object", "additionalProperties": _shape(get_args(hint)[0], definitions)}
    if (owner, name) in named:
        return _object({key: _shape(get_args(hint)[0], definitions) for key in named[owner, name]})
    return _shape(hint, definitions)


def _shape(hint: Any, definitions: Json) -> Json:
    """The schema of a type as the result classes use them."""
    if hint in _PLAIN:
        return _PLAIN[hint]
    origin, arguments = get_origin(hint), get_args(hint)
    if origin is Literal:
        return {"enum": list(arguments)}
    if origin in (Union, types.UnionType):
        return {"anyOf": [_shape(argument, definitions) for argument in arguments]}
    if origin is tuple:
        kinds = arguments[:1] if arguments[-1] is Ellipsis else arguments
        items = _shape(kinds[0], definitions)
        fixed = {} if arguments[-1] is Ellipsis else {"minItems": len(kinds), "maxItems": len(kinds)}
        return {"type": "array", "items": items, **fixed}
    if origin is not None and issubclass(origin, Mapping):
        figures = {"additionalProperties": {"$ref": "#/$defs/Figure"}} if Figure in arguments else {}
        return {"type": "object", **figures}
    if not is_dataclass(hint) and hint is not Quantity:
        raise TypeError(f"no schema for {hint}")
    name = typing.cast(type, hint).__name__
    if name not in definitions:
        definitions[name] = {}  # a place, so that a class that holds itself would not loop
        definitions[name] = {
            **_object(_members(typing.cast(type, hint), definitions)),
            "description": _about(typing.cast(type, hint)),
        }
    return {"$ref": f"#/$defs/{name}"}


def _about(shape: type) -> str:
    """What a class says of itself and of its fields, as the schema's reader needs it."""
    return inspect.cleandoc(shape.__doc__ or "").replace("``", "")
