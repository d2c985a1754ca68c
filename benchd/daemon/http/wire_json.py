"""Values of `job_control` as JSON and back, with what travels beside them. Light imports only.

Outgoing: finite numbers only, so that every reader can parse it. Incoming: UTF-8, no repeated key, no NaN; keys and
their values are checked by `shapes`.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass
from enum import Enum
from typing import Any

from benchd.daemon.job_control import Submission
from benchd.errors import InputError

Json = dict[str, Any]

BODY_BYTES = 4 * 1024 * 1024
"""The largest body of a request: a plan and the files that it names."""

JOB_ID = "^j[1-9][0-9]{0,8}$"

BRIEF: Mapping[type, frozenset[str]] = {Submission: frozenset({"plan_text", "files"})}
"""What the brief form leaves out. A snapshot goes to every watcher with every change: plans don't."""


@dataclass(frozen=True, slots=True)
class WireFault:
    """One fault in a submitted file. ``line`` and ``column`` count from 1."""

    file: str
    line: int
    column: int
    text: str


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a request was refused: one sentence, and all errors in a submitted file."""

    error: str
    faults: tuple[WireFault, ...] = ()


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
    return None if isinstance(value, float) and not math.isfinite(value) else value


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
