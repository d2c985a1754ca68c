"""The kinds of value that plans are made of: codes, percents, grids, names. Each reports what is wrong with it.

Validators that need the plan's bit depth find it in the validation context as ``bits`` (None: the
depth itself is at fault, so that codes can't be judged beyond the deepest one known).
"""

from __future__ import annotations

import re
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, StringConstraints, ValidationInfo, WithJsonSchema

from benchd.patch.model import Code, max_code
from benchd.profile.reading.base import wrong
from benchd.profile.reading.explain import show

DEEPEST_BITS = 10
MAX_SIDE = 25
MIN_AREA_PERCENT = 0.1

_GRID = re.compile(r"([0-9]{1,4})\s*[xX]\s*([0-9]{1,4})\Z")
_DIGITS = re.compile(r"0|[1-9][0-9]{0,8}\Z")

NAME_PATTERN = r"^[A-Za-z0-9][A-Za-z0-9._+-]{0,63}$"
_NAME = re.compile(f"{NAME_PATTERN[:-1]}\\Z")
NAME_RULE = "letters, digits and . _ + -, at most 64, the first a letter or digit"


def bits_of(info: ValidationInfo) -> int | None:
    """The bit depth of the plan that is being validated."""
    found = (info.context or {}).get("bits")
    return found if isinstance(found, int) else None


def code_fault(value: Any, bits: int | None) -> str | None:
    """What is wrong with one code value, as a sentence; None when nothing is."""
    if isinstance(value, bool) or not isinstance(value, int):
        return f"code {show(value)}: a code is a whole number, 0 to {max_code(bits or DEEPEST_BITS)}"
    depth = bits or DEEPEST_BITS
    if 0 <= value <= max_code(depth):
        return None
    text = f"code {value} does not fit {depth} bits; use 0 to {max_code(depth)}"
    if depth < DEEPEST_BITS and 0 <= value <= max_code(DEEPEST_BITS):
        text += f", or state bits: {DEEPEST_BITS}"
    return text


def name_fault(value: str) -> str:
    """What is wrong with a name of a profile, as a sentence; "" when nothing is."""
    return "" if _NAME.match(value) else f"name {show(value)}: use {NAME_RULE}"


def _name(value: Any) -> Any:
    if isinstance(value, str) and (fault := name_fault(value)):
        raise wrong(fault)
    return value


def _grey_code(value: Any, info: ValidationInfo) -> int:
    if text := code_fault(value, bits_of(info)):
        raise wrong(text)
    return int(value)


def _code(value: Any, info: ValidationInfo) -> Code:
    if not isinstance(value, list):
        grey = _grey_code(value, info)
        return (grey, grey, grey)
    if len(value) != 3:
        raise wrong(f"a colour has three codes, [red, green, blue]; here are {len(value)}")
    for index, part in enumerate(value):
        if text := code_fault(part, bits_of(info)):
            raise wrong(text, index)
    return (value[0], value[1], value[2])


def _steps(value: Any, info: ValidationInfo) -> int:
    depth = bits_of(info) or DEEPEST_BITS
    most = max_code(depth) + 1
    if isinstance(value, bool) or not isinstance(value, int):
        marks = "; remove the quotation marks" if isinstance(value, str) and value.isdigit() else ""
        raise wrong(f"steps {show(value)}: the number of steps is a whole number, 2 to {most}{marks}")
    if not 2 <= value <= most:
        more = f", or state bits: {DEEPEST_BITS}" if most < value <= max_code(DEEPEST_BITS) + 1 else ""
        raise wrong(f"steps {value}: {depth} bits have {most} codes; use 2 to {most}{more}")
    return value


def _grid(value: Any) -> str:
    match = _GRID.match(value) if isinstance(value, str) else None
    if match is None:
        raise wrong(f"grid: write columns x rows, such as 5x5, both 1 to {MAX_SIDE}, not {show(value)}")
    columns, rows = int(match[1]), int(match[2])
    if not (1 <= columns <= MAX_SIDE and 1 <= rows <= MAX_SIDE):
        raise wrong(f"grid {show(value)}: both sides must be 1 to {MAX_SIDE}")
    if columns * rows == 1:
        raise wrong(f"grid {show(value)}: one place has no uniformity; use at least 2x1 or 1x2")
    return f"{columns}x{rows}"


def _integration(value: Any) -> float | str:
    if value == "auto":
        return "auto"
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise wrong(f"integration time {show(value)}: write seconds, 0.001 to 60, or auto (the meter decides)")
    if not 0.001 <= value <= 60:
        raise wrong(f"integration time {show(value)} s: use 0.001 to 60, or auto (the meter decides)")
    return float(value)


_CODE_SCHEMA = {"type": "integer", "minimum": 0, "maximum": max_code(DEEPEST_BITS)}
_COLOUR_SCHEMA = {
    "anyOf": [_CODE_SCHEMA, {"type": "array", "items": _CODE_SCHEMA, "minItems": 3, "maxItems": 3}],
}

GreyCode = Annotated[int, BeforeValidator(_grey_code), WithJsonSchema(_CODE_SCHEMA)]
Colour = Annotated[Code, BeforeValidator(_code), WithJsonSchema(_COLOUR_SCHEMA)]
"""One code for a grey, or [red, green, blue]; always three codes once loaded."""

StepCount = Annotated[
    int,
    BeforeValidator(_steps),
    WithJsonSchema({"type": "integer", "minimum": 2, "maximum": max_code(DEEPEST_BITS) + 1}),
]
Grid = Annotated[
    str,
    BeforeValidator(_grid),
    WithJsonSchema({"type": "string", "pattern": "^([1-9]|1[0-9]|2[0-5])\\s*[xX]\\s*([1-9]|1[0-9]|2[0-5])$"}),
]
"""Columns x rows, always written as ``5x3`` once loaded."""

Integration = Annotated[
    float | Literal["auto"],
    BeforeValidator(_integration),
    WithJsonSchema({"anyOf": [{"type": "number", "minimum": 0.001, "maximum": 60}, {"const": "auto"}]}),
]
"""Seconds, or ``auto``: the meter decides."""

Name = Annotated[
    str,
    BeforeValidator(_name),
    StringConstraints(pattern=NAME_PATTERN),  # for the schema; the validator before it reports what is wrong
    Field(description=NAME_RULE),
]
Percent = Annotated[float, Field(ge=0, le=100, description="percent of the largest code")]
SurroundPercent = Annotated[float, Field(ge=0, le=100, description="surround, percent of the largest code")]
WhiteOfDifferences = Annotated[
    Literal["target", "measured", "absolute"],
    Field(
        description="white of the colour differences: the target's chromaticity, or the measured white; absolute: the "
        "target's at the luminance that the target names"
    ),
]
AreaPercent = Annotated[
    float, Field(ge=MIN_AREA_PERCENT, le=100, description="percent of the screen's area; 100 is the full screen")
]
Level = Annotated[float, Field(gt=0, le=10_000, description="luminance that the code stands for, cd/m2")]


def grid_sides(grid: str) -> tuple[int, int]:
    """Columns and rows of a `Grid`."""
    columns, rows = grid.split("x")
    return int(columns), int(rows)


Setting = int | float | str
"""A value of one of the display's controls."""

CONTROL_PATTERN = r"^[a-z][a-z0-9-]{0,31}$"
"""How a control of the display may be called."""
