"""Sweeps over display controls: which points, in which order, and which blocks at which point. Pure.

A point is one value for every swept control. The order needs the fewest changes and the shortest settling:
the control that settles slowest changes least often (it stands in the outermost loop), and every inner loop
runs there and back, so that from one point to the next only one control changes.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Annotated, Any

from pydantic import BeforeValidator, Field, WithJsonSchema
from pydantic_core import PydanticCustomError

from benchd.errors import did_you_mean
from benchd.measuring_conditions import plain_value
from benchd.profile.reading.base import ProfileModel, Wrong, is_number, items_of, numbers_of, wrong
from benchd.profile.reading.explain import show
from benchd.profile.reading.values import CONTROL_PATTERN, Setting

if TYPE_CHECKING:
    from benchd.profile.display import ControlPart

Point = tuple[tuple[str, Setting], ...]
"""Control and value, in the order of the plan's sweep."""

MAX_VALUES = 1001
MAX_POINTS = 20_000
"""More would not be measured in a year, and their steps would fill the memory."""
MAX_SHOWN = 12
"""Values of a control that a sentence lists."""
_PERCENT = re.compile(r"([0-9]+(?:\.[0-9]+)?) ?%\Z")
_SEVERAL = re.compile(r"[0-9]+(?:\.[0-9]+)?(?: +[0-9]+(?:\.[0-9]+)?)+\Z")
ControlName = Annotated[str, Field(pattern=CONTROL_PATTERN)]


def _is_setting(value: Any) -> bool:
    if isinstance(value, str):
        return 0 < len(value) <= 32 and not set(value) & set("/,=\n\r\t")
    return is_number(value)


def _values(value: Any) -> tuple[Setting, ...]:
    """A list, or ``{from: 0, to: 100, step: 10}`` with both ends included where the step meets them."""
    if isinstance(value, dict):
        return _range(value)
    if not isinstance(value, list) or not value:
        raise wrong("values: write a list, such as [0, 50, 100], or {from: 0, to: 100, step: 10}")
    for index, item in enumerate(value):
        if isinstance(item, str) and (meant := _numbers_meant(item)):
            raise wrong(f"value {show(item)}: write {meant}", index)
        if not _is_setting(item):
            raise wrong(f"value {show(item)}: a number, or a name without / , and =", index)
        if item in value[:index]:
            raise wrong(f"value {show(item)} stands twice", index)
    return tuple(value)


def _numbers_meant(text: str) -> str:
    """What to write for a value that is surely no word of a menu: a number with a %, or several without commas."""
    if alone := _PERCENT.match(text):
        return f"{alone[1]}, without the %"
    return f"a comma after each: [{', '.join(text.split())}]" if _SEVERAL.match(text) else ""


def _range(value: Mapping[str, Any]) -> tuple[Setting, ...]:
    unknown = sorted(set(value) - {"from", "to", "step"})
    numbers = [value.get(key) for key in ("from", "to", "step")]
    found = numbers_of(numbers, 3)
    if unknown or found is None:
        raise wrong("a range of values is {from: 0, to: 100, step: 10}, three numbers")
    low, high, step = found
    if step == 0 or (high - low) / step < 0 or (high - low) / step >= MAX_VALUES:
        raise wrong(f"from {low:g} to {high:g} in steps of {step:g}: that is no list of 1 to {MAX_VALUES} values")
    count = int((high - low) / step + 1e-9) + 1
    steps = [low + index * step for index in range(count)]
    whole = all(isinstance(number, int) for number in numbers)
    return tuple(round(number) if whole else round(number, 9) for number in steps)


Values = Annotated[
    tuple[Setting, ...],
    BeforeValidator(_values),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "array", "items": {"type": ["number", "string"]}, "minItems": 1},
                {
                    "type": "object",
                    "properties": {key: {"type": "number"} for key in ("from", "to", "step")},
                    "required": ["from", "to", "step"],
                    "additionalProperties": False,
                },
            ]
        }
    ),
]


def _condition(value: Any) -> dict[str, tuple[Setting, ...]]:
    if not isinstance(value, dict) or not value:
        raise wrong(f"condition {show(value)}: write {{control: value}} or {{control: [values]}}")
    found: dict[str, tuple[Setting, ...]] = {}
    for name, wanted in value.items():
        listed = wanted if isinstance(wanted, list) else [wanted]
        if not isinstance(name, str) or not listed or not all(_is_setting(item) for item in listed):
            raise wrong(f"condition {show(wanted)}: write a value or a list of values", str(name))
        found[name] = tuple(listed)
    return found


_SETTING_SCHEMA = {"type": ["number", "string"]}
Condition = Annotated[
    dict[str, tuple[Setting, ...]],
    BeforeValidator(_condition),
    WithJsonSchema(
        {
            "type": "object",
            "minProperties": 1,
            "additionalProperties": {
                "anyOf": [_SETTING_SCHEMA, {"type": "array", "items": _SETTING_SCHEMA, "minItems": 1}]
            },
        }
    ),
]
"""Holds at a point when each named control has one of its values."""

Conditions = tuple[Condition, ...]
"""Holds when one of them holds."""


class Swept(ProfileModel):
    """One control of a sweep."""

    control: ControlName = Field(description="name of a control of the bench, such as brightness")
    values: Values = Field(description="a list of values, or {from: 0, to: 100, step: 10}")
    settle_s: float = Field(
        default=2.0, ge=0, le=600, description="seconds to wait after it was changed, unless the bench states longer"
    )

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterator[Wrong]:
        """The control as a key of its own, which many write at first."""
        for key, value in data.items():
            if "control" not in data and isinstance(value, (list, dict)) and key not in cls.model_fields:
                yield Wrong((key,), f"write it as the value of a key: {{control: {key}, values: …}}", at_key=True)


def swept_values(plan: Mapping[str, Any]) -> dict[str, tuple[Setting, ...]]:
    """The values of each control that a plan's plain data sweeps."""
    return {item["control"]: _written(item.get("values")) for item in items_of(plan.get("sweep")) if _is_swept(item)}


def points_wrong(plan: Mapping[str, Any]) -> Iterator[Wrong]:
    """Controls that a plan's plain data sweeps again, and more points than can be measured."""
    names = [item["control"] if _is_swept(item) else None for item in items_of(plan.get("sweep"))]
    for index, name in enumerate(names):
        if name is not None and name in names[:index]:
            yield Wrong(("sweep", index, "control"), f"control {show(name)} is swept twice")
    count = math.prod(len(values) for values in swept_values(plan).values())
    if count > MAX_POINTS:
        yield Wrong(("sweep",), f"{count} points; a sweep has at most {MAX_POINTS}: give fewer values", at_key=True)


def _written(values: Any) -> tuple[Setting, ...]:
    """The values of a control; none where they are wrong, which is reported at their own place."""
    try:
        return _values(values)
    except PydanticCustomError:
        return ()


def conditions_wrong(
    swept: Mapping[str, Sequence[Setting]], part: Mapping[str, Any], path: tuple[str | int, ...]
) -> Iterator[Wrong]:
    """Conditions of a plan or a block on controls or values that are not swept. ``swept``: as `swept_values`."""
    for key in ("skip", "only"):
        for index, condition in enumerate(items_of(part.get(key))):
            for name, wanted in condition.items() if isinstance(condition, dict) else ():
                at = (*path, key, index, name)
                if name not in swept:
                    known = f"swept are: {', '.join(swept)}" if swept else "this plan has no sweep"
                    yield Wrong(at, f"control {show(name)} is not swept; {known}", True)
                    continue
                known = ", ".join(map(str, swept[name][:MAX_SHOWN])) + (", …" if len(swept[name]) > MAX_SHOWN else "")
                for value in wanted if isinstance(wanted, list) else [wanted]:
                    if swept[name] and _is_setting(value) and value not in swept[name]:
                        yield Wrong(at, f"{name} is never {show(value)} in this plan; its values are: {known}")


def _is_swept(item: Any) -> bool:
    return isinstance(item, dict) and isinstance(item.get("control"), str)


def points(sweep: Sequence[Swept], skip: Conditions, only: Conditions) -> tuple[Point, ...]:
    """Every point to be measured, in the order of the shortest settling; one empty point without a sweep."""
    slowest_first = sorted(sweep, key=lambda swept: -swept.settle_s)
    names = [swept.control for swept in sweep]
    every = (tuple((name, settings[name]) for name in names) for settings in _there_and_back(slowest_first))
    return tuple(point for point in every if included(point, skip, only))


def _there_and_back(sweep: Sequence[Swept]) -> Iterator[dict[str, Setting]]:
    if not sweep:
        yield {}
        return
    inner = list(_there_and_back(sweep[1:]))
    for number, value in enumerate(sweep[0].values):
        for settings in inner if number % 2 == 0 else reversed(inner):
            yield {sweep[0].control: value, **settings}


def included(point: Point, skip: Conditions, only: Conditions) -> bool:
    """True when ``point`` is not skipped, and meets ``only`` where there is one."""
    return not _holds(point, skip) and (not only or _holds(point, only))


def _holds(point: Point, conditions: Iterable[Mapping[str, tuple[Setting, ...]]]) -> bool:
    settings = dict(point)
    return any(all(settings.get(name) in values for name, values in one.items()) for one in conditions)


def label(point: Point) -> str:
    """``preset=warm,brightness=50``: the first part of the names of what is measured there."""
    return ",".join(f"{name}={plain_value(value)}" for name, value in point)


def settle_after(sweep: Sequence[Swept]) -> dict[str, float]:
    """Seconds to wait after each control was changed."""
    return {swept.control: swept.settle_s for swept in sweep}


def changes(order: Sequence[Point], sweep: Sequence[Swept]) -> float:
    """Seconds of settling that going through ``order`` costs, the first point included."""
    settle_s = settle_after(sweep)
    total, before = 0.0, dict[str, Setting]()
    for point in order:
        total += sum(settle_s[name] for name, value in point if before.get(name) != value)
        before = dict(point)
    return total


def sweep_faults(sweep: Iterable[Swept], controls: Mapping[str, ControlPart]) -> tuple[Wrong, ...]:
    """What a bench can't do of a plan's sweep, each with its place in the plan; empty when it can do all."""
    found: list[Wrong] = []
    for number, swept in enumerate(sweep):
        part = controls.get(swept.control)
        if part is None:
            known = did_you_mean(swept.control, controls, f"it has: {', '.join(controls) or 'none'}", cutoff=0.6)
            said = f"the plan sweeps {swept.control!r}, and the bench has no such control; {known}"
            found.append(Wrong(("sweep", number, "control"), said))
            continue
        for index, value in enumerate(swept.values):
            if (fault := part.fault_of(value)) is not None:
                said = f"the plan sets {swept.control} to {show(value)}, and on this bench {fault}"
                found.append(Wrong(("sweep", number, "values", index), said))
    return tuple(found)
