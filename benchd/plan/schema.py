"""JSON Schemas of plans, benches, dialects, stages, targets and spaces, from the same models that load them.

An editor that reads the first line of a profile completes and checks with them. What only benchd can judge (two keys
together, codes against bits, the pace of light and dark) is not in a schema: a file that an editor finds right may
still be refused, never the other way round.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
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

_DRAFT = "https://json-schema.org/draft/2020-12/schema"


def schema_of(model: type[ProfileModel]) -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of a model."""
    schema: dict[str, Any] = _tidy(model.model_json_schema(mode="validation"))
    return {"$schema": _DRAFT, **schema}


def files() -> dict[str, str]:
    """File name -> text of every schema."""
    return {f"{name}.schema.json": json.dumps(schema_of(model), indent=2) + "\n" for name, model in MODELS.items()}


def _tidy(part: Any) -> Any:
    """Without titles made of key names, and without null: a key that is left out has no value at all."""
    if isinstance(part, list):
        return [_tidy(item) for item in part]
    if not isinstance(part, dict):
        return part
    tidy = {key: _tidy(value) for key, value in part.items() if not _is_noise(key, value)}
    choices = tidy.get("anyOf")
    if isinstance(choices, list):
        choices = [choice for choice in choices if choice != {"type": "null"}]
        tidy["anyOf"] = choices
        if len(choices) == 1:
            del tidy["anyOf"]
            tidy = {**choices[0], **tidy}
    return tidy


def _is_noise(key: str, value: Any) -> bool:
    return (key == "title" and isinstance(value, str)) or (key == "default" and value is None)


FOLDERS = {
    "plan": "plans",
    "bench": "benches",
    "dialect": "meters",
    "stage": "stages",
    "target": "targets",
    "space": "spaces",
    "claims": "claims",
    "correction": "corrections",
}


def keys_page() -> str:
    """Every key of every profile as a Markdown page."""
    lines = [
        "# Keys of the profiles",
        "",
        "Made by `python -m benchd.generated profiles` from the models that check the files.",
        "A key without a default must be given, unless its meaning states otherwise.",
    ]
    for name, model in MODELS.items():
        schema = model.model_json_schema()
        lines += ["", f"## A {name} (`profiles/{FOLDERS[name]}/`)", "", *_table(schema)]
        for inner, definition in schema.get("$defs", {}).items():
            about = str(definition.get("description", "")).partition("\n")[0]
            lines += ["", f"### {inner}", "", f"{about}", "", *_table(definition)]
    return "\n".join(lines) + "\n"


def _table(schema: dict[str, Any]) -> Iterator[str]:
    yield "| key | meaning | default |"
    yield "|---|---|---|"
    for key, field in schema.get("properties", {}).items():
        meaning = str(field.get("description") or "for this block only; left out: as in the plan")
        default = field.get("default")
        shown = "" if default in (None, "") or isinstance(default, dict) else f"`{default!r}`".replace("'", "")
        yield f"| `{key}` | {meaning.replace('|', chr(92) + '|')} | {shown.replace('|', chr(92) + '|')} |"
