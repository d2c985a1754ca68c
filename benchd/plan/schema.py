"""JSON Schemas of plans, benches, dialects, stages, targets and spaces, from the same models that load them.

An editor that reads the first line of a profile completes and checks with them. What only benchd can judge (two keys
together, codes against bits, the pace of light and dark) is not in a schema: a file that an editor finds right may
still be refused, never the other way round.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

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
    tidy = {key: _tidy(value) for key, value in part.items() if (key, type(value)) not in _NOISE}
    choices = tidy.get("anyOf")
    if isinstance(choices, list):
        choices = [choice for choice in choices if choice != {"type": "null"}]
        tidy["anyOf"] = choices
        if len(choices) == 1:
            del tidy["anyOf"]
            tidy = {**choices[0], **tidy}
    return tidy


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
        schema = _tidy(model.model_json_schema())
        inner = schema.get("$defs", {})
        about = {one: str(definition.get("description", "")).partition("\n")[0] for one, definition in inner.items()}
        own = _rows(schema, about)
        head = "Claims" if name == "claims" else f"A {name}"
        lines += ["", f"## {head} (`profiles/{FOLDERS[name]}/`)", "", *_table(own)]
        for one, definition in inner.items():
            rows = _rows(definition, about)
            # What a block may state in place of the plan is described there.
            same = [key for key, row in rows.items() if key in own and row in (own[key], own[key]._replace(default=""))]
            lines += ["", f"### {one}", "", about[one], ""]
            lines += [f"As in the {name}, for this alone: {', '.join(f'`{key}`' for key in same)}.", ""] if same else []
            lines += _table({key: row for key, row in rows.items() if key not in same})
    return "\n".join(lines) + "\n"


class _Row(NamedTuple):
    meaning: str
    default: str


def _rows(schema: dict[str, Any], about: Mapping[str, str]) -> dict[str, _Row]:
    """What is said of each key: its own description, or that of the model that it holds."""
    rows = {}
    for key, field in schema.get("properties", {}).items():
        meaning = str(field.get("description") or about.get(str(field.get("$ref", "")).rpartition("/")[2], ""))
        default = field.get("default")
        shown = "" if default in (None, "") or isinstance(default, dict) else f"`{default!r}`".replace("'", "")
        rows[key] = _Row(meaning, shown)
    return rows


def _table(rows: Mapping[str, _Row]) -> Iterator[str]:
    yield "| key | meaning | default |"
    yield "|---|---|---|"
    for key, row in rows.items():
        yield " | ".join(("| " + f"`{key}`", *(text.replace("|", "\\|") for text in row))) + " |"
