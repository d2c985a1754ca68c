"""The conditions of a run that are recorded with its results: their names, units and whose they are.

A log keeps of each condition every statement of it, the one that counts first; see `benchd/run/log/LOG.md`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, Literal, NamedTuple

CONDITIONS_VERSION = 1
"""Of how a log keeps them. A log without any has none recorded."""

Value = int | float | str
Form = Literal["text", "number", "date"]
Source = Literal["swept", "display", "screen", "meter", "operator", "plan", "bench"]

SOURCES: dict[str, str] = {
    "swept": "set by the plan's sweep, each value in turn",
    "display": "the display's own answer over its control channel, or that of the command that reads a control",
    "screen": "what the window reports of the screen's mode and signal",
    "meter": "what the meter reports of itself",
    "operator": "entered by the operator for this run, or answered at an earlier run of this sample on this bench",
    "plan": "stated in the plan",
    "bench": "stated in the bench profile",
}
"""Where a condition may be from, and what each means."""


class ConditionKind(NamedTuple):
    """One condition. ``of``: the display that is measured, or the bench it is measured on.

    ``low`` and ``high`` are the ends of what a number may be, in ``unit``.
    """

    key: str
    words: str
    about: str
    of: Literal["display", "bench"]
    form: Form = "text"
    unit: str = ""
    low: float = 0.0
    high: float = 0.0


CONDITIONS = (
    ConditionKind("preset", "preset", "picture preset as the display's menu calls it", "display"),
    ConditionKind("brightness", "brightness", "brightness as the display's menu shows it", "display"),
    ConditionKind("firmware", "firmware", "firmware of the display", "display"),
    ConditionKind("refresh_hz", "refresh rate", "pictures a second, 1 to 2000", "display", "number", "Hz", 1.0, 2000.0),
    ConditionKind("hdr", "HDR", "HDR mode of the display, such as off", "display"),
    ConditionKind("local_dimming", "local dimming", "local dimming of the display, such as off or low", "display"),
    ConditionKind("input", "input", "input of the display, such as DisplayPort 1", "display"),
    ConditionKind("cable", "cable", "cable between source and display", "bench"),
    ConditionKind(
        "room_illuminance_lx",
        "room light",
        "illuminance on the screen from the room, display off, 0 to 100000 lx",
        "bench",
        "number",
        "lx",
        0.0,
        100_000.0,
    ),
    ConditionKind(
        "room_temperature_c",
        "room temperature",
        "temperature of the room, -20 to 60 degC",
        "bench",
        "number",
        "degC",
        -20.0,
        60.0,
    ),
    ConditionKind(
        "meter_distance_mm",
        "meter distance",
        "from the screen to the front of the meter, 0 (in contact) to 10000 mm",
        "bench",
        "number",
        "mm",
        0.0,
        10_000.0,
    ),
    ConditionKind(
        "meter_field_deg",
        "meter field",
        "measurement field angle of the meter, 0.01 to 180 degrees; or meter_field_mm",
        "bench",
        "number",
        "deg",
        0.01,
        180.0,
    ),
    ConditionKind(
        "meter_field_mm",
        "meter field",
        "diameter of the measurement field on the screen, 0.1 to 1000 mm",
        "bench",
        "number",
        "mm",
        0.1,
        1000.0,
    ),
    ConditionKind("meter_calibrated", "meter calibrated", "day of the meter's last calibration", "bench", "date"),
)
KINDS_OF_CONDITION = {kind.key: kind for kind in CONDITIONS}
CONTROLS = {"refresh": "refresh_hz", "dimming": "local_dimming"}
"""Controls of a bench that set a condition of another name; all others by their own, with _ for -."""


def condition_of_control(control: str) -> str:
    """The condition that a control of the display sets; "" where it is none."""
    key = CONTROLS.get(control, control.replace("-", "_"))
    return key if key in KINDS_OF_CONDITION else ""


def plain_value(value: Value) -> str:
    """``50``, ``0.5``, ``standard``: as it is typed."""
    return f"{value:g}" if isinstance(value, float) else str(value)


def value_words(kind: ConditionKind, value: Value) -> str:
    """``23 degC``, ``standard``."""
    return f"{plain_value(value)} {kind.unit}" if kind.unit else plain_value(value)


def is_same(first: Value, second: Value) -> bool:
    """Do both state the same? Numbers as numbers, words in any case."""
    try:
        return float(first) == float(second)
    except ValueError:
        return str(first).strip().casefold() == str(second).strip().casefold()


GIVEN = {"operator": "entered", "plan": "stated in the plan"}
"""Sources that speak of this run; what was entered for an earlier run may be out of date."""
ANSWERS = {"display": "the display answers", "meter": "the meter reports", "screen": "the screen reports"}
STATED = {"operator": {**ANSWERS, "bench": "the bench states"}, "plan": ANSWERS}
"""What may contradict a source that speaks of this run, the strongest first. A plan may override a bench."""
WITHIN = 1e-3
"""So much, as a part of it, may a number be another in rounding: a mode of 59.951 Hz is entered as 59.94."""
NO_HDR = ("off", "no", "none", "sdr", "disabled")


def does_agree(key: str, first: Value, second: Value) -> bool:
    """Do both state the same? Numbers to the digits of the coarser; of HDR, a mode and the signal of it."""
    one, other = (str(value).strip().casefold().removesuffix("%").strip() for value in (first, second))
    if key == "hdr" and (one.endswith(" signal") != other.endswith(" signal")):
        signal, mode = (one, other) if one.endswith(" signal") else (other, one)
        return mode == "auto" or (mode in NO_HDR) == (signal == "sdr signal")
    if KINDS_OF_CONDITION[key].form != "number":
        return is_same(one, other)
    numbers = float(first), float(second)
    digits = min(len(plain_value(number).partition(".")[2]) for number in numbers)
    return math.isclose(*numbers, rel_tol=WITHIN, abs_tol=0.5001 * 10.0**-digits)


class Contradiction(NamedTuple):
    """A condition that was given otherwise than a part of the bench has it."""

    key: str
    text: str  # a sentence without its full stop


def contradictions(values: Mapping[str, Sequence[Mapping[str, Any]]]) -> list[Contradiction]:
    """Each condition that was given for this run otherwise than display, meter, screen or bench have it.

    ``values``: the statements of each as a log keeps them, the one that counts first. What the bench states of its own
    room, cable and meter is how it mostly is: whoever enters 26 degC today is not contradicted by 23 degC there.
    """
    found = []
    for key, several in values.items():
        if (kind := KINDS_OF_CONDITION.get(key)) is None or several[0]["source"] == "swept":
            continue
        for one in several:
            if one["source"] not in GIVEN or one.get("when"):
                continue
            stated = STATED[one["source"]]
            others = [other for other in several if other["source"] in stated]
            others = [other for other in others if not other["source"] == kind.of == "bench"]
            others = [other for other in others if not does_agree(key, one["value"], other["value"])]
            if others:
                other = min(others, key=lambda other: list(stated).index(other["source"]))
                given = f"{kind.words} was {GIVEN[one['source']]} as {value_words(kind, one['value'])}"
                text = f"{given}, but {stated[other['source']]} {value_words(kind, other['value'])}"
                found.append(Contradiction(key, text))
    return found
