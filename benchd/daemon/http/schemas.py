"""JSON Schemas (2020-12) of what travels, made from the dataclasses of `desk`, so that the two can't part.

Limits that a type can't say (length, pattern, range) stand in `LIMITS`, in JSON Schema's own words; the
decoder reads the same table, so the description and the gate agree.
"""

from __future__ import annotations

import types
from collections.abc import Mapping
from dataclasses import MISSING, dataclass, fields, is_dataclass
from enum import StrEnum
from typing import Any, Union, get_args, get_origin, get_type_hints

from benchd.daemon.job_control import DOING, Job, LatestFault, LatestReading, Snapshot, Submission

Json = dict[str, Any]

BODY_BYTES = 4 * 1024 * 1024
"""The largest body of a request: a plan and the files that it names."""

_SEGMENT = r"[^./\\\x00-\x1f\x7f][^/\\\x00-\x1f\x7f]*"
NAME = f"^{_SEGMENT}(/{_SEGMENT})*$"
"""A name that may have parts (``plover-27/1``), none of which leads out of a folder or hides in it."""

ONE_LINE = r"^[^\x00-\x1f\x7f]*$"
MOMENT = r"^([0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}(:[0-9]{2}([.][0-9]{1,6})?)?(Z|[+-][0-9]{2}:[0-9]{2}))?$"
JOB_ID = "^j[1-9][0-9]{0,8}$"

LIMITS: Mapping[tuple[type, str], Json] = {
    (Submission, "plan_name"): {"minLength": 1, "maxLength": 200, "pattern": NAME},
    (Submission, "plan_text"): {"minLength": 1, "maxLength": 1024 * 1024},
    (Submission, "files"): {"maxProperties": 100, "propertyNames": {"minLength": 1, "maxLength": 200, "pattern": NAME}},
    (Submission, "sample"): {"minLength": 1, "maxLength": 200, "pattern": NAME},
    (Submission, "note"): {"maxLength": 2000, "pattern": ONE_LINE},
    (Submission, "not_before"): {
        "pattern": MOMENT,
        "description": "ISO 8601 with an offset or Z; empty: at once",
        "examples": ["2026-03-02T18:00:00Z"],
    },
    (Submission, "priority"): {"minimum": -1000, "maximum": 1000, "description": "higher goes first"},
    (Job, "id"): {"pattern": JOB_ID},
    (Snapshot, "doing"): {"enum": list(DOING)},
    (Snapshot, "share_done"): {"minimum": 0, "maximum": 1},
}


@dataclass(frozen=True, slots=True)
class WireFault:
    """One fault in a submitted file. ``line`` and ``column`` count from 1."""

    file: str
    line: int
    column: int
    text: str


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a request was refused: one sentence, and every fault of a submitted file."""

    error: str
    faults: tuple[WireFault, ...] = ()


BRIEF: Mapping[type, frozenset[str]] = {Submission: frozenset({"plan_text", "files"})}
"""What the brief form leaves out. A snapshot goes to every watcher with every change: plans don't."""

NAMED: tuple[type, ...] = (Submission, Job, LatestReading, LatestFault, Snapshot, WireFault, Refusal)
"""The shapes that the description names."""

_PLAIN: Mapping[Any, Json] = {
    str: {"type": "string"},
    bool: {"type": "boolean"},
    int: {"type": "integer"},
    float: {"type": "number"},
    object: {},
    type(None): {"type": "null"},
}


def definitions() -> Json:
    """Name -> schema of every shape; ``SubmissionBrief`` and ``JobBrief`` are the brief forms."""
    found: Json = {shape.__name__: _shape_of(shape, brief=shape is Snapshot) for shape in NAMED}
    for shape in (Submission, Job):
        found[f"{shape.__name__}Brief"] = _shape_of(shape, brief=True)
    return dict(sorted(found.items()))


def ref(name: str) -> Json:
    """A reference to a named shape."""
    return {"$ref": f"#/components/schemas/{name}"}


def _shape_of(shape: type, brief: bool) -> Json:
    hints = get_type_hints(shape)
    left_out = BRIEF.get(shape, frozenset()) if brief else frozenset()
    kept = [item for item in fields(shape) if item.name not in left_out]
    # What is submitted may leave out what has a default; what is answered has every key.
    required = [item.name for item in kept if shape is not Submission or brief or _is_required(item)]
    return {
        "type": "object",
        "description": (shape.__doc__ or "").strip().splitlines()[0],
        "properties": {
            item.name: {**_schema(hints[item.name], brief), **LIMITS.get((shape, item.name), {})} for item in kept
        },
        "required": required,
        "additionalProperties": False,
    }


def _is_required(item: Any) -> bool:
    return item.default is MISSING and item.default_factory is MISSING


def _schema(hint: Any, brief: bool) -> Json:
    if hint in _PLAIN:
        return dict(_PLAIN[hint])
    origin, arguments = get_origin(hint), get_args(hint)
    if origin in (Union, types.UnionType):
        return {"anyOf": [_schema(argument, brief) for argument in arguments]}
    if origin is tuple:
        many = arguments[-1] is Ellipsis
        size = {} if many else {"minItems": len(arguments), "maxItems": len(arguments)}
        return {"type": "array", "items": _schema(arguments[0], brief), **size}
    if origin is not None and issubclass(origin, Mapping):
        values = _schema(arguments[1], brief)
        return {"type": "object", **({"additionalProperties": values} if values else {})}
    if isinstance(hint, type) and issubclass(hint, StrEnum):
        return {"type": "string", "enum": [member.value for member in hint]}
    if not is_dataclass(hint):
        raise TypeError(f"no schema for {hint}")
    name = hint.__name__  # type: ignore[union-attr]
    return ref(f"{name}Brief" if brief and name in ("Submission", "Job") else name)
