"""Every key of every profile as a Markdown page, made from the same models as the JSON Schemas."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from benchd.plan.schema import MODELS

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


def page() -> str:
    """The whole page."""
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
