"""What is read beside the patches: the meter's dark offset with its cap on, and the light of the room.

Both are blocks of their own in the log, under the names ``dark_offset`` and ``ambient``. Nothing is subtracted
from any result unless the plan requests it by that name: ``subtract: dark_offset``.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema

from benchd.patch.model import field, grey
from benchd.plan.blocks import EachOnce
from benchd.plan.step import CAPPED, CAPPED_AT, CENTRE, SCREEN_OFF, SCREEN_OFF_AT, Step
from benchd.profile.reading.base import ProfileModel, Wrong, wrong
from benchd.profile.reading.explain import show
from benchd.profile.reading.values import Integration

DARK_OFFSET, AMBIENT = "dark_offset", "ambient"
HOURLY_S = 3600.0
READING_S = 1.0  # planned time of a reading when the meter decides

BACK = {CAPPED: "uncapped", SCREEN_OFF: "screen-on"}
"""What is requested when the place is left."""
SENTENCES = {
    CAPPED: "Put the cap on the meter, so that no light reaches it",
    SCREEN_OFF: "Switch the display off and leave the meter where it is; only the room's light is to be read",
    "uncapped": "Take the cap off the meter, and put it to the centre of the screen",
    "screen-on": "Switch the display on again, and see that the meter is at the centre of the screen",
}
"""What the operator is requested to do, by the place."""

When = Literal["before", "hourly", "after"]


class _OffsetReadings(ProfileModel):
    """What both have."""

    readings: int = Field(default=5, ge=2, le=1000, description="readings each time")
    integration_s: Integration = Field(default=1.0, description="seconds of one reading, or auto (the meter decides)")
    settle_s: float = Field(default=2.0, ge=0, le=600, description="seconds to wait before the first reading")

    key_rules = (EachOnce("when", "moment"),)


class DarkOffset(_OffsetReadings):
    """Readings with the cap on the meter: what it reads without any light. The operator puts the cap on."""

    when: tuple[When, ...] = Field(
        default=("before", "after"),
        min_length=1,
        description="before the first patch, hourly (planned time, between two patches), after the last",
    )


class Ambient(_OffsetReadings):
    """Readings of the room's light that reaches the meter: on a black screen, or with the display switched off."""

    screen: Literal["black", "off"] = Field(
        default="black",
        description="black: what the dark screen reads in this room, for the record; off: the operator switches "
        "the display off, and what is read is the room alone, which can be subtracted",
    )
    when: tuple[When, ...] = Field(
        default=("after",),
        min_length=1,
        description="before the first patch, hourly, after the last; a display that was off must warm up again",
    )


def _names(value: Any) -> Any:
    names = (value,) if isinstance(value, str) else tuple(value) if isinstance(value, list) else (value,)
    for name in names:
        if name not in (DARK_OFFSET, AMBIENT):
            raise wrong(f"subtract {show(name)}: what can be subtracted is {DARK_OFFSET} or {AMBIENT}, by name")
    return names


Subtract = Annotated[
    tuple[Literal["dark_offset", "ambient"], ...],
    BeforeValidator(_names),
    WithJsonSchema(
        {
            "anyOf": [
                {"enum": [DARK_OFFSET, AMBIENT]},
                {"type": "array", "items": {"enum": [DARK_OFFSET, AMBIENT]}},
            ]
        }
    ),
]


def subtract_wrong(data: Mapping[str, Any]) -> Iterator[Wrong]:
    """Subtracting what is not read, or what can't be separated from the screen's own light."""
    given = data.get("subtract", ())
    names = [given] if isinstance(given, str) else given if isinstance(given, list) else []
    for name in names:
        if name in (DARK_OFFSET, AMBIENT) and data.get(name) is None:
            yield Wrong(("subtract",), f"'{name}' is to be subtracted but not read; write {name}: {{}} too")
    ambient = data.get(AMBIENT)
    if AMBIENT in names and isinstance(ambient, dict) and ambient.get("screen", "black") == "black":
        why = "the black screen's own light is in it; read it with screen: off, or subtract nothing"
        yield Wrong(("subtract",), f"ambient can't be subtracted: {why}")
    if len(names) == 2 and isinstance(ambient, dict):
        yield Wrong(("subtract",), "the ambient reading has the dark offset in it; subtract one of the two")


def offset_entries(
    dark_offset: DarkOffset | None, ambient: Ambient | None, subtract: Sequence[str]
) -> Iterator[dict[str, Any]]:
    """What the log keeps of them, as of any block."""
    for name, body in ((DARK_OFFSET, dark_offset), (AMBIENT, ambient)):
        if body is not None:
            screen = body.screen if isinstance(body, Ambient) else "capped"
            yield {"name": name, "kind": name, "screen": screen, "subtract": name in subtract}


def with_offset_readings(
    steps: Sequence[Step], dark_offset: DarkOffset | None, ambient: Ambient | None, bits: int
) -> Iterator[Step]:
    """The steps with those readings among them, under the settings of the step that they stand beside."""
    several = [(DARK_OFFSET, dark_offset), (AMBIENT, ambient)]
    wanted = [(name, body) for name, body in several if body is not None]
    if not wanted or not steps:
        yield from steps
        return
    since_s = dict.fromkeys((name for name, _ in wanted), 0.0)
    numbers = dict.fromkeys(since_s, 0)

    def read(name: str, body: DarkOffset | Ambient, beside: Step) -> Step:
        numbers[name] += 1
        since_s[name] = 0.0
        return _step(name, body, numbers[name], bits, beside)

    begun = False
    for step in steps:
        if step.kind == "measure":
            for name, body in wanted:
                due = "hourly" in body.when and since_s[name] >= HOURLY_S and step.at == CENTRE
                if due or (not begun and "before" in body.when):
                    yield read(name, body, step)
            begun = True
        yield step
        seconds = step.settle_s + step.readings * (step.integration_s or READING_S)
        since_s = {name: passed + seconds for name, passed in since_s.items()}
    for name, body in wanted:
        if "after" in body.when:
            yield read(name, body, steps[-1])


def _step(name: str, body: DarkOffset | Ambient, number: int, bits: int, beside: Step) -> Step:
    screen = body.screen if isinstance(body, Ambient) else "capped"
    places = {"capped": (CAPPED, CAPPED_AT), "off": (SCREEN_OFF, SCREEN_OFF_AT), "black": ("centre", CENTRE)}
    place, at = places[screen]
    return Step(
        f"{name}/{number}",
        name,
        "readings",
        field(grey(0), bits),
        {"number": number},
        place=place,
        at=at,
        readings=body.readings,
        settle_s=body.settle_s,
        integration_s=None if body.integration_s == "auto" else float(body.integration_s),
        dark=True,
        settings=beside.settings,
    )
