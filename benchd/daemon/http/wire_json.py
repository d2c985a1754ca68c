"""Values of `desk` as JSON and back. What comes in is checked key by key; nothing is guessed.

Outgoing: finite numbers only, so that every reader can parse it. Incoming: UTF-8, no repeated key, no NaN, no
unknown key, no value out of the limits of `schemas.LIMITS`; every fault is one sentence that names the key.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from typing import Any, get_type_hints

from benchd.daemon.http.schemas import BRIEF, LIMITS, Json
from benchd.daemon.job_control import Submission
from benchd.errors import InputError

_WORDS = {str: "text", int: "a whole number", bool: "true or false"}


def encode(value: object, *, brief: bool = False) -> bytes:
    """``value`` (dataclasses, enums, mappings, tuples) as UTF-8 JSON; ``brief`` leaves plans and files out."""
    return json.dumps(plain(value, brief), ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode()


def plain(value: object, brief: bool = False) -> Any:
    """``value`` made of dicts, lists and scalars. A number that is not finite becomes null."""
    if isinstance(value, Enum):
        return value.value
    if is_dataclass(value):
        left_out = BRIEF.get(type(value), frozenset()) if brief else frozenset()
        names = [item.name for item in fields(value) if item.name not in left_out]
        return {name: plain(getattr(value, name), brief) for name in names}
    if isinstance(value, Mapping):
        return {str(key): plain(item, brief) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [plain(item, brief) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def parse(body: bytes) -> Any:
    """JSON text as Python values. Raises `InputError` for anything that JSON (RFC 8259) does not allow."""
    try:
        return json.loads(body.decode("utf-8"), object_pairs_hook=_once, parse_constant=_no_constant)
    except UnicodeDecodeError as error:
        raise InputError(f"the body is not UTF-8 text (byte {error.start + 1}); send JSON in UTF-8") from None
    except json.JSONDecodeError as error:
        where = f"line {error.lineno}, column {error.colno}"
        raise InputError(f"the body is not JSON: {error.msg.lower()} at {where}") from None
    except RecursionError:
        raise InputError("the body is nested too deeply; send the keys that the description names") from None
    except ValueError:  # a number of thousands of digits
        raise InputError("the body holds a number that is too long; send a plain one") from None


def submission_from(body: bytes) -> Submission:
    """The submission in a request's body. Raises `InputError` that names the key at fault."""
    found = parse(body)
    if not isinstance(found, dict):
        raise InputError("the body must be a JSON object with the keys of a submission")
    names = [item.name for item in fields(Submission)]
    for key in found:
        if key not in names:
            raise InputError(f"unknown key {_shown(key)}; use {', '.join(names)}")
    for key in ("plan_name", "plan_text"):
        if key not in found:
            raise InputError(f"the key {key!r} is missing; a submission needs plan_name and plan_text")
    hints = get_type_hints(Submission)
    return Submission(**{key: _checked(key, hints[key], value) for key, value in found.items()})


def _checked(key: str, hint: Any, value: Any) -> Any:
    limits = LIMITS.get((Submission, key), {})
    if hint in _WORDS:
        return _scalar(key, hint, value, limits)
    if not isinstance(value, dict):
        raise InputError(f"{key!r} must be an object of file names and their texts")
    if len(value) > limits["maxProperties"]:
        raise InputError(f"{key!r} holds {len(value)} files; at most {limits['maxProperties']} are taken")
    for name in value:
        _scalar(f"{key}: the name {_shown(name)}", str, name, limits["propertyNames"])
    return {name: _scalar(f"{key}: {name}", str, text, {}) for name, text in value.items()}


def _scalar(key: str, kind: type, value: Any, limits: Json) -> Any:
    if kind is int and isinstance(value, float) and value.is_integer():
        value = int(value)  # JSON has one kind of number: 1.0 is a whole one
    if type(value) is not kind:
        raise InputError(f"{key!r} must be {_WORDS[kind]}")
    if kind is int and not limits["minimum"] <= value <= limits["maximum"]:
        raise InputError(f"{key!r} must be {limits['minimum']} to {limits['maximum']}")
    if isinstance(value, str):
        _check_text(key, value, limits)
    return value


def _check_text(key: str, text: str, limits: Json) -> None:
    if len(text) < limits.get("minLength", 0):
        raise InputError(f"{key!r} must not be empty")
    if len(text) > limits.get("maxLength", len(text)):
        raise InputError(f"{key!r} has {len(text)} signs; at most {limits['maxLength']} are taken")
    if "pattern" in limits and not re.fullmatch(limits["pattern"], text):
        raise InputError(f"{key!r} {_why(key)}")
    try:
        text.encode()
    except UnicodeEncodeError:
        raise InputError(f"{key!r} holds half of a surrogate pair; send whole characters") from None


def _why(key: str) -> str:
    if key == "note":
        return "must be one line of text"
    if key == "not_before":
        return "must be a moment such as 2026-03-02T18:00:00Z, or empty"
    return "must be a name in one line whose parts (between slashes) are not empty and begin with no dot"


def _once(pairs: list[tuple[str, Any]]) -> Json:
    found = dict(pairs)
    if len(found) != len(pairs):
        seen: set[str] = set()
        twice = next(key for key, _ in pairs if key in seen or seen.add(key))  # type: ignore[func-returns-value]
        raise InputError(f"the key {_shown(twice)} is there twice; send it once")
    return found


def _no_constant(name: str) -> Any:
    raise InputError(f"the body is not JSON: {name} is no number there")


def _shown(text: str) -> str:
    short = text if len(text) <= 40 else f"{text[:40]}…"
    return repr(short.encode("ascii", "backslashreplace").decode() if not short.isprintable() else short)
