"""What travels, as pydantic models: the check of what comes in, and JSON Schemas (2020-12) of what is answered, made
from the dataclasses of `job_control`. Imported for a submission or for the description.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, TypeAdapter, ValidationError
from pydantic.json_schema import GenerateJsonSchema
from pydantic_core import core_schema

from benchd.daemon.http.wire_json import BRIEF, JOB_ID, Json, Refusal, parse
from benchd.daemon.job_control import AWAITED, DOING, Job, Snapshot, Submission
from benchd.errors import InputError
from benchd.measuring_conditions import KINDS_OF_CONDITION
from benchd.profile.reading.base import ProfileModel
from benchd.profile.reading.explain import sentence

_SEGMENT = r"[^./\\\x00-\x1f\x7f][^/\\\x00-\x1f\x7f]*"
_MOMENT = r"^([0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}(:[0-9]{2}([.][0-9]{1,6})?)?(Z|[+-][0-9]{2}:[0-9]{2}))?$"
_PARTS = "in one line, its parts (between slashes) not empty and without a dot at their beginning"
_REF = "#/components/schemas/{model}"


def _whole(value: Any) -> Any:
    """JSON has one kind of number: 1.0 is a whole one."""
    return int(value) if isinstance(value, float) and value.is_integer() else value


Name = Annotated[str, Field(min_length=1, max_length=200, pattern=f"^{_SEGMENT}(/{_SEGMENT})*$")]
"""A name that may have parts (``plover-27/1``), none of which leads out of a folder or hides in it."""


ConditionName = Annotated[str, Field(pattern=f"^({'|'.join(KINDS_OF_CONDITION)})$")]
ConditionText = Annotated[str, Field(min_length=1, max_length=80, pattern=r"^[^\x00-\x1f\x7f]*$")]


class Submitted(ProfileModel):
    """A submission: these keys and no others, each within its limits."""

    plan_name: Name = Field(description=f"file of the plan as errors name it, {_PARTS}; its name is in its text")
    plan_text: str = Field(min_length=1, max_length=1024 * 1024, description="text of the plan, YAML")
    files: dict[Name, str] = Field(
        {},
        max_length=100,
        description=f"texts of the plan's files by name, {_PARTS}",
        json_schema_extra={"additionalProperties": False},  # no other names: JSON Schema allows them else
    )
    sample: str = Field(
        "",
        max_length=200,
        pattern=f"^({_SEGMENT}(/{_SEGMENT})*)?$",
        description=f"name of the sample, {_PARTS}; or none",
    )
    note: str = Field("", max_length=2000, pattern=r"^[^\x00-\x1f\x7f]*$", description="one line of text")
    not_before: str = Field(
        "",
        pattern=_MOMENT,
        description="ISO 8601 with an offset or Z; empty: at once",
        examples=["2026-03-02T18:00:00Z"],
    )
    priority: Annotated[int, BeforeValidator(_whole)] = Field(0, ge=-1000, le=1000, description="higher goes first")
    attended: bool = Field(False, description="an operator is present, to move the meter on request")
    conditions: dict[ConditionName, ConditionText] = Field(
        {},
        max_length=len(KINDS_OF_CONDITION),
        description="conditions to record, by their key, such as preset: standard",
        json_schema_extra={"additionalProperties": False},  # no other names, as above
    )


def submission_from(body: bytes) -> Submission:
    """The submission in a request's body. Raises `InputError` that names the key at fault."""
    if not isinstance(parse(body), dict):
        raise InputError("the body must be a JSON object with the keys of a submission")
    try:
        return Submission(**dict(Submitted.model_validate_json(body)))
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        if not first["loc"]:  # half of a surrogate pair, say
            raise InputError(f"the body is not JSON: {first['ctx']['error']}") from None
        path = () if first["type"] == "missing" else first["loc"][:1]
        raise InputError(sentence(Submitted, path, first)) from None


_LIMITS: Mapping[type, Json] = {
    Job: {"id": {"pattern": JOB_ID}},
    Snapshot: {
        "doing": {"enum": list(DOING)},
        "awaited": {"enum": ["", *AWAITED]},
        "share_done": {"minimum": 0, "maximum": 1},
    },
}
"""Limits of answers that no type expresses."""


class _Plain(GenerateJsonSchema):
    """Schemas without titles and defaults. An answer has every key of its dataclass, and no other."""

    def field_title_should_be_set(self, schema: object) -> bool:
        return False

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> Json:
        return self.generate_inner(schema["schema"])

    def dataclass_schema(self, schema: core_schema.DataclassSchema) -> Json:
        made = super().dataclass_schema(schema)
        for name, limits in _LIMITS.get(schema["cls"], {}).items():
            made["properties"][name].update(limits)
        return {**made, "required": list(made["properties"]), "additionalProperties": False}


def ref(name: str) -> Json:
    """A reference to a named shape."""
    return {"$ref": _REF.format(model=name)}


def definitions() -> Json:
    """Name -> schema of every shape; ``SubmissionBrief`` and ``JobBrief`` are the brief forms."""
    found: Json = {}
    for shape in (Job, Snapshot, Refusal):
        made = TypeAdapter(shape).json_schema(ref_template=_REF, schema_generator=_Plain)
        found |= {**made.pop("$defs", {}), shape.__name__: made}
    whole, left_out = found["Submission"], BRIEF[Submission]
    kept = {name: made for name, made in whole["properties"].items() if name not in left_out}
    found["SubmissionBrief"] = {**whole, "properties": kept, "required": list(kept)}
    found["JobBrief"] = _of_brief(found["Job"], "Submission")
    found["Snapshot"] = _of_brief(found["Snapshot"], "Job")
    found["Submission"] = Submitted.model_json_schema(ref_template=_REF, schema_generator=_Plain)
    return dict(sorted(found.items()))


def _of_brief(schema: Json, name: str) -> Json:
    """``schema`` with the brief form of the shape ``name`` in it."""
    reference = _REF.format(model=name)
    brief: Json = json.loads(json.dumps(schema).replace(f'"{reference}"', f'"{reference}Brief"'))
    return brief
