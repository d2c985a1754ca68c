"""JSON Schemas of plans, benches, dialects, stages, targets and spaces, from the same models that load them.

An editor that reads the first line of a profile completes and checks with them. What only benchd can judge (two keys
together, codes against bits, the pace of light and dark) is not in a schema: a file that an editor finds right may
still be refused, never the other way round.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from benchd.plan.plan import Plan
from benchd.profile.bench import Bench
from benchd.profile.claim_sheet import ClaimSheet
from benchd.profile.dialect import Dialect
from benchd.profile.made_files import CorrectionFile
from benchd.profile.reading.base import ProfileModel
from benchd.profile.stage_dialect import StageDialect
from benchd.profile.target_file import Space, Target

MODELS: Mapping[str, type[ProfileModel]] = {
    "plan": Plan,
    "bench": Bench,
    "dialect": Dialect,
    "stage": StageDialect,
    "target": Target,
    "space": Space,
    "claims": ClaimSheet,
    "correction": CorrectionFile,
}


_NOISE = {("title", str), ("default", type(None))}
"""Titles made of key names; null, since a key that is left out has no value at all."""
_DRAFT = "https://json-schema.org/draft/2020-12/schema"


def schema_of(model: type[ProfileModel]) -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of a model."""
    schema: dict[str, Any] = tidy(model.model_json_schema(mode="validation"))
    return {"$schema": _DRAFT, **schema}


def files() -> dict[str, str]:
    """File name -> text of every schema."""
    return {f"{name}.schema.json": json.dumps(schema_of(model), indent=2) + "\n" for name, model in MODELS.items()}


def tidy(part: Any) -> Any:
    """Without titles made of key names, and without null: a key that is left out has no value at all."""
    if isinstance(part, list):
        return [tidy(item) for item in part]
    if not isinstance(part, dict):
        return part
    found = {key: tidy(value) for key, value in part.items() if (key, type(value)) not in _NOISE}
    choices = found.get("anyOf")
    if isinstance(choices, list):
        choices = [choice for choice in choices if choice != {"type": "null"}]
        found["anyOf"] = choices
        if len(choices) == 1:
            del found["anyOf"]
            found = {**choices[0], **found}
    return found
