"""What pydantic finds wrong, as sentences for the operator: what, where, and what is allowed instead."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING, Any, Literal, TypeVar, get_args, get_origin

from pydantic import ValidationError
from pydantic.fields import FieldInfo

from benchd.profile.reading.base import CheckedLazily, Path, ProfileModel, Wrong, summary

if TYPE_CHECKING:
    from pydantic_core import ErrorDetails

    from benchd.profile.reading.base import Document

Model = TypeVar("Model", bound=ProfileModel)
Models = tuple[type[ProfileModel], ...]

_SHOWN_LENGTH = 40
MOST_LISTED = 14
"""Keys that a sentence lists."""
MOST_OWNERS = 3
"""Mappings that a sentence names as those that a key belongs to."""
NEAR_ELSEWHERE = 0.8
"""How alike a key of another mapping must be to be offered: nearer than one of the same mapping."""
_PLAIN_NUMBER = re.compile(r"-?(0|[1-9][0-9]*)(\.[0-9]+)?\Z")
_NUMBER_LIKE = re.compile(r"[-+]?[0-9._:,eExXoO]*[0-9][0-9._:,eExXoO]*\Z")
_HEXADECIMAL = re.compile(r"0[xX][0-9a-fA-F]{1,8}\Z")
_DECIMAL_COMMA = re.compile(r"-?[0-9]+,[0-9]+\Z")
_WITH_UNIT = re.compile(r"[-+]?[0-9]+(?:[.,][0-9]+)? ?[^\s0-9.,:][^0-9]*[0-9]?\Z")
_FLAG_WORDS = {"yes": "true", "on": "true", "true": "true", "no": "false", "off": "false", "false": "false"}
_NEEDED = {
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number",
    "bool_type": "true or false",
    "string_type": "text",
    "list_type": "a list",
    "tuple_type": "a list",
    "dict_type": "a mapping, such as {key: value}",
    "model_type": "a mapping, such as {key: value}",
}
_LIMITS = {"greater_than_equal", "less_than_equal", "greater_than", "less_than"}
_LENGTHS = {"too_short", "too_long", "string_too_short", "string_too_long"}


def faults_of(model: type[Model], document: Document) -> Model | None:
    """Validate the data of ``document`` and note every fault in it; None when the model has one."""
    known = len(document.faults)
    data = document.data
    loaded: Model | None = None
    try:
        # As JSON text, because only there a strict model takes a list for a tuple.
        loaded = model.model_validate_json(json.dumps(data), context=model.context(data))
    except ValidationError as error:
        for detail in error.errors(include_url=False):
            _note(model, document, detail)
    for path, text, at_key in _together((model,), data, ()):
        if not document.is_refused(path):
            (document.at_key if at_key else document.at_value)(path, text)
    return loaded if len(document.faults) == known else None


def if_sound(model: type[Model], data: Any) -> Model | None:
    """The model of plain data; None where anything is wrong with it, which is not noted."""
    try:
        loaded = model.model_validate_json(json.dumps(data), context=model.context(data))
    except ValidationError:
        return None
    return None if any(_together((model,), data, ())) else loaded


def show(value: Any) -> str:
    """A value as a sentence quotes it: short, on one line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        quoted = repr(value)
        return quoted if len(quoted) <= _SHOWN_LENGTH else f"{quoted[: _SHOWN_LENGTH - 2]}…'"
    if isinstance(value, Mapping):
        return "a mapping"
    if isinstance(value, (list, tuple)):
        return "a list"
    return "no value" if value is None else str(value)


def nearest(word: str, known: Iterable[str], cutoff: float = 0.6) -> str | None:
    """The known word most like ``word``, if any is like it; ``cutoff``: 0 (anything) to 1 (the same)."""
    import difflib  # for a wrong word only

    close = difflib.get_close_matches(word[:_SHOWN_LENGTH].lower(), sorted(known), n=1, cutoff=cutoff)
    return close[0] if close else None


def hint(field: FieldInfo) -> str:
    """What a key means and what it may be: its description, and its range or its choices."""
    return ", ".join(part for part in (_description(field), allowed(field)) if part)


def allowed(field: FieldInfo) -> str:
    """The range or the choices of a key, such as ``0 to 600`` or ``listed or shuffled``; may be empty."""
    choices = _choices(field.annotation)
    return _either(choices) if choices else _range(field)


def _note(model: type[ProfileModel], document: Document, detail: ErrorDetails) -> None:
    """Turn one error of pydantic into a fault at its place."""
    kind, context = detail["type"], detail.get("ctx", {})
    path = document.known_path((*detail["loc"], *context.get("path", ())) if kind == "benchd" else detail["loc"])
    if document.is_refused(path) or _reported_by_items(detail) or _reported_by_old_name(model, detail):
        return
    put = document.at_key if kind in ("extra_forbidden", "missing") else document.at_value
    put(path, sentence(model, path, detail))


def sentence(model: type[ProfileModel], path: Path, detail: ErrorDetails) -> str:
    """One error of pydantic at ``path``, in words for the operator."""
    kind, context = detail["type"], detail.get("ctx", {})
    if kind == "extra_forbidden":
        return _unknown_key(str(path[-1]), _models_and_field(model, path[:-1])[0], model)
    if kind == "missing":
        key = str(detail["loc"][-1])
        fields = _fields(_models_and_field(model, path)[0])
        return f"key '{key}' is missing{_in_brackets(hint(fields[key]) if key in fields else '')}"
    if kind == "benchd":
        return str(context["text"])
    if kind == "value_error":
        return str(context["error"]) or detail["msg"]
    return _wrong_value(model, path, detail)


def _reported_by_items(detail: ErrorDetails) -> bool:
    """True for a list that is too short only because some of its items are wrong; those errors are reported."""
    least, value = detail.get("ctx", {}).get("min_length"), detail["input"]
    return detail["type"] == "too_short" and least is not None and isinstance(value, list) and len(value) >= least


def _reported_by_old_name(model: type[ProfileModel], detail: ErrorDetails) -> bool:
    """True for a missing key that is there under the name of an earlier version; that is reported."""
    if detail["type"] != "missing" or not isinstance(detail["input"], dict):
        return False
    models, _ = _models_and_field(model, tuple(detail["loc"][:-1]))
    now = {text.partition(":")[0] for one in models for old, text in one.renamed.items() if old in detail["input"]}
    return detail["loc"][-1] in now


def _wrong_value(model: type[ProfileModel], path: Path, detail: ErrorDetails) -> str:
    kind, value, context = detail["type"], detail["input"], detail.get("ctx", {})
    models, field = _models_and_field(model, path)
    name = next((part for part in reversed(path) if isinstance(part, str)), "the file")
    about = hint(field) if field else ""
    limits = allowed(field) if field else ""
    described = _description(field) if field else ""
    if kind in _LIMITS or kind == "literal_error" or kind == "enum":
        close = nearest(value, _choices(field.annotation)) if isinstance(value, str) and field else None
        advice = f"use {limits}" if limits else detail["msg"][:1].lower() + detail["msg"][1:]
        if close == value:  # the choice is a number, and this its text
            advice += "; remove the quotation marks"
        elif close:
            advice += f"; did you mean {show(close)}?"
        return f"{name} {show(value)}: {advice}{_in_brackets(described)}"
    if kind in _LENGTHS:
        least, most = context.get("min_length"), context.get("max_length")
        what = "sign" if kind.startswith("string") else "item"
        needs = f"at least {_count(least, what)}" if least is not None else f"at most {_count(most, what)}"
        return f"{name}: needs {needs}{_in_brackets(described)}"
    if kind == "model_type" and isinstance(value, str) and (written := _for_word(models, name, value)):
        return f"{name}: needs a mapping; write {written}"
    if kind == "model_type" and (own := _own_keys(models)):
        return f"{name}: needs a mapping, such as {{{own[0]}: …}}, not {show(value)}{_in_brackets(about)}"
    if kind in _NEEDED:
        return f"{name}: needs {_NEEDED[kind]}{_not_this(kind, value)}{_in_brackets(about)}"
    message = detail["msg"]
    if kind == "string_pattern_mismatch":
        fits = re.match(context["pattern"], value.lower())
        message = f"write it in small letters: {value.lower()}" if fits else "this text does not fit"
    return f"{name} {show(value)}: {message[:1].lower()}{message[1:]}{_in_brackets(about)}"


def _for_word(models: Models, name: str, word: str) -> str:
    """What to write in the place of a single word for a mapping, for the key ``name``; "" where nothing is likely."""
    fields = _fields(models)
    likely = next((one.for_word for one in models if one.for_word), {})
    if word not in likely and word in fields:
        return f"{word}: {{}}" if _inner_models(fields[word].annotation) else ""
    written = likely.get(word) or likely.get("", "").replace("{}", word)
    return f"{name}: {written}" if written else ""


def _not_this(kind: str, value: Any) -> str:
    """What stands there instead, and the usual remedy."""
    if kind in ("list_type", "tuple_type"):
        if not isinstance(value, dict):
            return f", not {show(value)}; write [{value if str(value).isprintable() and value is not None else '…'}]"
        space = " with a space behind it" if any(key.startswith("-") for key in value) else ""
        return f", not a mapping; begin each item with '-'{space or ' and a space'}"
    if kind == "string_type" and isinstance(value, (bool, int, float)):
        return f', not {show(value)}; put it in quotation marks: "{show(value)}"'
    if not isinstance(value, str):
        return f", not {show(value)}"
    if kind == "bool_type" and value.lower() in _FLAG_WORDS:
        return f", not {show(value)}; write {_FLAG_WORDS[value.lower()]}"
    if kind in ("int_type", "float_type") and _PLAIN_NUMBER.match(value):
        return f", not the text {show(value)}; remove the quotation marks"
    if kind in ("int_type", "float_type") and _DECIMAL_COMMA.match(value):
        return f", not {show(value)}; write a decimal point: {value.replace(',', '.')}"
    if kind in ("int_type", "float_type") and _HEXADECIMAL.match(value):
        return f", not {show(value)}; write it as a plain decimal: {int(value, 16)}"
    if kind in ("int_type", "float_type") and _NUMBER_LIKE.match(value):
        return f", not {show(value)}; write a plain decimal such as {12 if kind == 'int_type' else 0.5}"
    if kind in ("int_type", "float_type") and _WITH_UNIT.match(value):
        return f", not the text {show(value)}; write the number alone, in the unit that the key has"
    return f", not the text {show(value)}"


def _unknown_key(key: str, models: Models, file: type[ProfileModel]) -> str:
    """``file``: the model of the whole file, where a key may belong to another mapping."""
    fields = _fields(models)
    for model in models:
        if key in model.renamed:
            return f"{show(key)} is now called {model.renamed[key]}"
    elsewhere = _owners(file)
    if key in elsewhere:
        return f"key {show(key)} does not belong here; it is a key of {_named(elsewhere[key])}"
    misnamed = next((one.misnamed[key] for one in models if key in one.misnamed), None)
    if close := misnamed or nearest(key, fields):
        return f"unknown key {show(key)}; did you mean '{close}'?{_in_brackets(hint(fields[close]))}"
    own = _own_keys(models)
    # Such as columns, where one key takes "columns x rows".
    if meant := next((one for one in own if key in re.findall(r"[a-z]{4,}", _description(fields[one]))), None):
        return f"unknown key {show(key)}; did you mean '{meant}'?{_in_brackets(hint(fields[meant]))}"
    if close := nearest(key, elsewhere, NEAR_ELSEWHERE):
        return f"unknown key {show(key)}; did you mean '{close}', a key of {_named(elsewhere[close])}?"
    if len(own) > MOST_LISTED:  # the keys of its own kind, without those that others have too
        own = [name for name in own if _is_own(models, name)] or own
    shown = own[:MOST_LISTED]
    listed, left = ", ".join(shown) or "none", len(fields) - len(shown)
    more = f" and {left} more (profiles/KEYS.md)" if left else ""
    return f"unknown key {show(key)}; allowed here: {listed}{more}"


def _owners(file: type[ProfileModel]) -> dict[str, list[str]]:
    """Every key of a file, and the keys that hold the mappings it may stand in; "": the file itself, and that alone."""
    found: dict[str, list[str]] = {}
    waiting: list[tuple[str, Models]] = [("", (file,))]
    seen: set[type[ProfileModel]] = set()
    while waiting:
        owner, models = waiting.pop(0)
        for model in models:
            if model in seen:
                continue
            seen.add(model)
            for name, field in _fields((model,)).items():
                # What many mappings may state for themselves is named where it stands for all.
                if found.get(name) != [""]:
                    found.setdefault(name, []).append(owner)
                waiting.append((name, _inner_models(field.annotation)))
    return found


def _named(owners: list[str]) -> str:
    """The owners of a key, as the end of a sentence."""
    if owners == [""]:
        return "the file itself: begin it at the left margin"
    return " or of ".join(f"'{one}'" for one in owners[:MOST_OWNERS])


def _own_keys(models: Models) -> list[str]:
    """The keys that may stand in a mapping, those of its own kind before those that others have too."""
    return sorted(_fields(models), key=lambda key: not _is_own(models, key))


def _is_own(models: Models, key: str) -> bool:
    """True for a key that one of ``models`` declares itself."""
    own = {name for model in models for name in vars(model).get("__annotations__", {})}
    return bool(own & {key, f"own_{key}"})


def _together(models: Models, data: Any, path: Path) -> Iterator[Wrong]:
    """What `ProfileModel.key_rules` and `cross_field_errors` find in every model of the file, with full paths."""
    if isinstance(data, list):
        for index, item in enumerate(data):
            yield from _together(models, item, (*path, index))
    elif isinstance(data, dict):
        for model in models:
            rules = dict.fromkeys(rule for one in model.__mro__ for rule in vars(one).get("key_rules", ()))
            broken = (fault for rule in rules for fault in rule.faults(data))
            yield from (one._replace(path=(*path, *one.path)) for one in (*broken, *model.cross_field_errors(data)))
        fields = _fields(models)
        for key, value in data.items():
            if key in fields:
                inner, at = _inner_models(fields[key].annotation), (*path, key)
                # Of dict[Name, Model] the keys are the operator's own.
                if get_origin(fields[key].annotation) is dict and isinstance(value, dict):
                    for name, item in value.items():
                        yield from _together(inner, item, (*at, name))
                else:
                    yield from _together(inner, value, at)


def _models_and_field(model: type[ProfileModel], path: Path) -> tuple[Models, FieldInfo | None]:
    """The models whose keys may stand at ``path``, and the field that ``path`` is in the value of."""
    models: Models = (model,)
    field: FieldInfo | None = None
    for part in path:
        if isinstance(part, str) and part in (fields := _fields(models)):
            field = fields[part]
            models = _inner_models(field.annotation)
    return models, field


def _fields(models: Models) -> dict[str, FieldInfo]:
    return {info.alias or name: info for model in models for name, info in model.model_fields.items()}


def _inner_models(annotation: Any) -> Models:
    """The models in an annotation such as ``tuple[Block, ...] | None``."""
    if isinstance(annotation, type) and issubclass(annotation, ProfileModel):
        return (annotation,)
    if isinstance(annotation, CheckedLazily):
        return (annotation.model(),)
    return tuple(model for part in get_args(annotation) for model in _inner_models(part))


def _choices(annotation: Any) -> list[str]:
    """The words of a ``Literal`` in an annotation, but only where nothing else may stand there."""
    if get_origin(annotation) is Literal:
        return [str(choice) for choice in get_args(annotation)]
    parts = [part for part in get_args(annotation) if isinstance(part, type) or get_origin(part)]
    parts = [part for part in parts if part not in (type(None), str)]
    return _choices(parts[0]) if len(parts) == 1 else []


def _layers(field: FieldInfo) -> Iterator[FieldInfo]:
    """The field, and those inside its annotation: ``Annotated[float, Field(...)] | None`` has two."""
    yield field
    pending = [field.annotation]
    while pending:
        part = pending.pop(0)
        for inner in get_args(part):
            if isinstance(inner, FieldInfo):
                yield inner
            elif get_origin(part) is not Literal:
                pending.append(inner)


def _description(field: FieldInfo) -> str:
    """The key's own description, or what its model says in its first line."""
    own = next((layer.description for layer in _layers(field) if layer.description), "")
    return own or next(map(summary, _inner_models(field.annotation)), "")


def _range(field: FieldInfo) -> str:
    for layer in _layers(field):
        found = ((name, getattr(rule, name, None)) for rule in layer.metadata for name in ("ge", "gt", "le", "lt"))
        limits = {name: limit for name, limit in found if limit is not None}
        if {"ge", "le"} <= limits.keys():
            return f"{limits['ge']:.12g} to {limits['le']:.12g}"
        words = {"gt": "more than", "ge": "at least", "lt": "less than", "le": "at most"}
        if limits:
            return ", ".join(f"{words[name]} {limits[name]:.12g}" for name in words if name in limits)
    return ""


def _either(choices: list[str]) -> str:
    return choices[0] if len(choices) == 1 else f"{', '.join(choices[:-1])} or {choices[-1]}"


def _count(number: Any, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def _in_brackets(text: str) -> str:
    return f" ({text})" if text else ""
