"""``KEYS.md``: every key of every profile with its meaning, its range and its default, each thing said once.

Made from the same models that check the files. A key that means what another means refers to it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from benchd.plan.schema import MODELS, tidy

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
_BLOCK = "Block"
"""The definition whose keys are the kinds of a block."""


class _Row(NamedTuple):
    meaning: str
    allowed: str
    default: str


_Rows = Mapping[str, _Row]


class _Place(NamedTuple):
    """Where a meaning stands: the profile, the section of it ("": its own keys), and the key."""

    profile: str
    section: str
    key: str


class _Section(NamedTuple):
    """One mapping of a profile: the keys that it is the value of, what it is, and its own keys."""

    heading: str
    about: str
    rows: _Rows


def keys_page() -> str:
    """Every key of every profile as a Markdown page."""
    lines = [
        "# Keys of the profiles",
        "",
        "Made by `python -m benchd.generated profiles` from the models that check the files.",
        "A key without a default must be given, unless its meaning states otherwise. A range is in the unit that the",
        "key ends in. A thing is said once: `as in` names where the same key stands with its meaning.",
    ]
    said: dict[str, _Place] = {}
    known: dict[str, tuple[str, _Rows]] = {}
    for name, model in MODELS.items():
        schema = tidy(model.model_json_schema())
        title, here = ("Claims", "claims") if name == "claims" else (f"A {name}", f"a {name}")
        own = _rows(schema, schema.get("$defs", {}))
        lines += ["", f"## {title} (`profiles/{FOLDERS[name]}/`)", "", *_table(own, here, "", said)]
        for heading, about, rows in _sections(schema, own):
            lines += ["", f"### {heading}", ""]
            where, before = known.setdefault(heading, (here, rows))
            alike = before.items() <= rows.items() and (where, before) != (here, rows)
            more = {key: row for key, row in rows.items() if key not in before} if alike else rows
            # What the key is for stands where the key does.
            first = said.setdefault(_plain(about), _Place(here, heading, "")) == (here, heading, "")
            if alike and before:
                lines += [f"As in {where}{', and:' if more else '.'}", ""]
            elif about and first:
                lines += [about, ""]
            lines += _table(more, here, heading, said) if more else [] if rows else ["It has no key of its own.", ""]
            if not lines[-1]:
                lines.pop()
    return "\n".join(lines) + "\n"


def _sections(schema: Mapping[str, Any], own: _Rows) -> Iterator[_Section]:
    """The definitions of a schema, in the order in which its keys lead to them."""
    inner: Mapping[str, Any] = schema.get("$defs", {})
    keys: dict[str, list[str]] = {}
    order: list[str] = []
    waiting = [""]
    while waiting:
        owner, below = waiting.pop(0), []
        order.append(owner)
        for key, part in _references(inner[owner] if owner else schema):
            below += [] if part in keys else [part]
            if key not in keys.setdefault(part, []):
                keys[part].append(key)
        waiting = below + waiting
    kinds = [part for _, part in _references(inner[_BLOCK])] if _BLOCK in inner else []
    shared = _shared([_rows(inner[kind], inner) for kind in kinds])
    of_plan = [key for key, row in shared.items() if key in own and row.meaning == own[key].meaning]
    for part in order[1:]:
        rows = _rows(inner[part], inner)
        heading = ", ".join(f"`{key}`" for key in keys[part])
        about = str(inner[part].get("description", "")).partition("\n")[0]
        if part == _BLOCK:
            yield _Section(heading, about, rows)
            about = f"Keys of the plan that a block may state for itself: {', '.join(f'`{key}`' for key in of_plan)}."
            yield _Section("Every block", about, {key: shared[key] for key in shared if key not in of_plan})
        else:
            yield _Section(
                heading, about, {key: row for key, row in rows.items() if part not in kinds or key not in shared}
            )


def _shared(tables: list[_Rows]) -> _Rows:
    """The rows that all tables have."""
    return {key: row for key, row in tables[0].items() if all(one.get(key) == row for one in tables)} if tables else {}


def _references(part: Any, key: str = "") -> Iterator[tuple[str, str]]:
    """Key and definition of everything that a part of a schema refers to."""
    if isinstance(part, list):
        for item in part:
            yield from _references(item, key)
    elif isinstance(part, dict):
        if "$ref" in part:
            yield key, str(part["$ref"]).rpartition("/")[2]
        for name, value in part.items():
            if name == "properties":
                for inner, field in value.items():
                    yield from _references(field, inner)
            elif name != "$defs":
                yield from _references(value, key)


def _rows(schema: Mapping[str, Any], inner: Mapping[str, Any]) -> dict[str, _Row]:
    """What is said of each key: its own description, or that of the model that it holds."""
    rows = {}
    for key, field in schema.get("properties", {}).items():
        of_model = inner.get(str(field.get("$ref", "")).rpartition("/")[2], {}).get("description", "")
        meaning = str(field.get("description") or of_model.partition("\n")[0].removesuffix("."))
        default = field.get("default")
        shown = "" if default in (None, "") or isinstance(default, dict) else _value(default)
        rows[key] = _Row(meaning, _allowed(field), shown)
    return rows


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "`true`" if value else "`false`"
    text = f"[{', '.join(_value(one).strip('`') for one in value)}]" if isinstance(value, list) else str(value)
    return f"`{value:g}`" if isinstance(value, float) else f"`{text}`"


def _allowed(field: Mapping[str, Any]) -> str:
    """The range or the words that a schema allows; "" where it states none."""
    for part in (field, field.get("items", {}), *field.get("anyOf", ())):
        if "enum" in part or "const" in part:
            return ", ".join(str(one) for one in part.get("enum", [part.get("const")]))
        low, above, high = (part.get(key) for key in ("minimum", "exclusiveMinimum", "maximum"))
        if high is not None and (low is not None or above is not None):
            return f"{low:.12g} to {high:.12g}" if low is not None else f"more than {above:g}, at most {high:.12g}"
        if low is not None or above is not None:
            return f"at least {low:g}" if low is not None else f"more than {above:g}"
    return ""


def _table(rows: _Rows, profile: str, section: str, said: dict[str, _Place]) -> Iterator[str]:
    """The rows as a table; ``said``: each meaning that the page has, with where it stands, and it grows."""
    yield "| key | meaning | allowed | default |"
    yield "|---|---|---|---|"
    for key, row in rows.items():
        place = _Place(profile, section, key)
        before = said.setdefault(_plain(row.meaning), place) if row.meaning else place
        meaning = row.meaning if before == place else _refer(before, place)
        cells = (f"`{key}`", *(text.replace("|", "\\|") for text in (meaning, row.allowed, row.default)))
        yield f"| {' | '.join(cells)} |"


def _refer(there: _Place, here: _Place) -> str:
    if (there.profile, there.section) == (here.profile, here.section):
        return f"as `{there.key}`"
    if there.profile == here.profile:
        return f"as in {there.section or there.profile}"
    return f"as in {there.section} of {there.profile}" if there.section else f"as in {there.profile}"


def _plain(sentence: str) -> str:
    """A sentence as it is compared: whatever it begins and ends with."""
    return sentence.lower().removesuffix(".")
