"""What a bench states of its display: its controls, the light that is expected of it, and its flicker.

A control is what a plan's sweep may set; opening it is another room's job. It is set over the display's own control
channel (`ddc`), by a command of the operator's, or manually (`prompt`). Each needs the values that it may take, and how
long the display needs to settle afterwards.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Annotated, Any, ClassVar

from pydantic import AfterValidator, BeforeValidator, Field, WithJsonSchema

from benchd.profile.reading.base import ProfileModel, Rule, Wrong, wrong
from benchd.profile.reading.explain import show
from benchd.profile.reading.values import CONTROL_PATTERN, Setting

PLACE = "{value}"
LARGEST = 65535
"""Of a VCP value: two bytes (VESA DDC/CI standard, the Set VCP Feature message)."""

Word = Annotated[str, Field(min_length=1)]
Token = int | str


def _tokens(value: Any) -> dict[str, Token]:
    if not isinstance(value, dict) or not value:
        raise wrong(f"values {show(value)}: write what each name is for the display, such as {{standard: 5, warm: 4}}")
    seen: list[Token] = []
    for name, token in value.items():
        if not name or len(name) > 32 or set(name) & set("/,=\n\r\t"):
            raise wrong(f"name {show(name)}: at most 32 letters, without / , and =", name)
        if isinstance(token, bool) or not isinstance(token, (int, str)) or token == "":
            raise wrong(f"{show(token)} stands for {name}; write a whole number or a word", name)
        if token in seen:
            raise wrong(f"{show(token)} already stands for another name", name)
        seen.append(token)
    return dict(value)


Tokens = Annotated[
    dict[str, Token],
    BeforeValidator(_tokens),
    WithJsonSchema({"type": "object", "minProperties": 1, "additionalProperties": {"type": ["integer", "string"]}}),
]


class ControlPart(ProfileModel):
    """One control: how it is set, what it may be set to, and what setting it takes."""

    misnamed: ClassVar[Mapping[str, str]] = {
        **dict.fromkeys(("from", "min", "minimum", "least"), "low"),
        **dict.fromkeys(("to", "max", "maximum", "most"), "high"),
    }
    key_rules = (
        Rule(("ddc", "command"), (), "give ddc or a command, not both", "command"),
        Rule((), ("ddc", "command", "prompt"), "state how it is set: ddc: CODE, command: [words] or prompt: TEXT"),
        Rule(("read",), ("command",), "'read' belongs to a command", "read"),
        *(
            Rule((key, "values"), (), f"give values, or low and high, not both: '{key}'", key)
            for key in ("low", "high")
        ),
    )

    ddc: int | None = Field(
        default=None, ge=0, le=255, description="VCP code of the VESA Monitor Control Command Set, in decimal"
    )
    command: tuple[Word, ...] | None = Field(
        default=None, min_length=1, description="a command that sets it; {value} stands for the value"
    )
    read: tuple[Word, ...] | None = Field(
        default=None, min_length=1, description="a command that prints the present value, for the read-back"
    )
    prompt: str | None = Field(
        default=None,
        min_length=1,
        description="what the operator is to do; {value} stands for the value. Beside ddc or command: only when "
        "that fails and an operator is present",
    )
    values: Tokens | None = Field(
        default=None, description="the names that it may be set to, and what the display calls each"
    )
    low: int | None = Field(default=None, ge=0, le=LARGEST, description="the lowest number that it may be set to")
    high: int | None = Field(default=None, ge=0, le=LARGEST, description="the largest number that it may be set to")
    settle_s: float = Field(default=2.0, ge=0, le=600, description="seconds that the display needs afterwards")
    within_s: float = Field(
        default=5.0, gt=0, le=120, description="seconds within which the value must read back as it was set"
    )

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """Values that no display can have, or a place for the value forgotten."""
        low, high = data.get("low", 0), data.get("high", LARGEST)
        if isinstance(low, int) and isinstance(high, int) and low > high:
            yield Wrong(("high",), f"high {high} is less than low {low}")
        yield from _place_wrong(data)
        values = data.get("values")
        if "ddc" in data and isinstance(values, dict):
            for name, token in values.items():
                if not isinstance(token, int) or isinstance(token, bool) or not 0 <= token <= LARGEST:
                    yield Wrong(("values", name), f"{show(token)}: a display takes a whole number, 0 to {LARGEST}")

    @property
    def needs_operator(self) -> bool:
        """True when only a person can set it."""
        return self.ddc is None and self.command is None

    def fault_of(self, value: Setting) -> str | None:
        """What is wrong with a value of a plan, as the end of a sentence; None when nothing is."""
        if self.values is not None:
            return None if value in self.values else f"it takes one of {', '.join(self.values)}"
        if self.ddc is None and self.low is None and self.high is None:
            return None
        low, high = self.low or 0, LARGEST if self.high is None else self.high
        if isinstance(value, int) and low <= value <= high:
            return None
        advice = "; remove the quotation marks" if isinstance(value, str) and value.isdecimal() else ""
        return f"it takes a whole number, {low} to {high}{advice}"


def _place_wrong(data: Mapping[str, Any]) -> Iterable[Wrong]:
    command, prompt = data.get("command"), data.get("prompt")
    if isinstance(command, list) and not any(isinstance(word, str) and PLACE in word for word in command):
        yield Wrong(("command",), f"no word has {PLACE}, where the value belongs")
    if isinstance(prompt, str) and PLACE not in prompt:
        yield Wrong(("prompt",), f"give the value too: {PLACE} stands for it")


def _name(value: str) -> str:
    if not re.match(CONTROL_PATTERN, value):
        raise wrong(f"name {show(value)}: small letters, digits and -, the first a letter, at most 32")
    return value


ControlKey = Annotated[
    str, AfterValidator(_name), WithJsonSchema({"type": "string", "pattern": CONTROL_PATTERN}, mode="validation")
]
Controls = dict[ControlKey, ControlPart]


class DdcPart(ProfileModel):
    """Where the display's control channel is."""

    bus: str = Field(
        min_length=1,
        description="an I2C bus such as /dev/i2c-4, auto (look for the display), or the path of a Unix socket that "
        "carries the same bytes",
    )
    name: str | None = Field(
        default=None, min_length=1, description="with bus: auto, only the display with this product name in its EDID"
    )

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """A name where nothing is looked for."""
        if "name" in data and data.get("bus") != "auto":
            yield Wrong(("name",), "'name' is for bus: auto", at_key=True)


class Expected(ProfileModel):
    """Light, settling and noise as they were found on this bench before, for plans that are read to a precision."""

    white_cd_m2: float = Field(default=200.0, gt=0, description="luminance of white, full screen")
    black_cd_m2: float = Field(default=0.2, ge=0, description="luminance of black, full screen")
    gamma: float = Field(default=2.2, ge=1, le=4, description="exponent of the tone curve")
    rise_tau_s: float = Field(default=0.02, ge=0, le=60, description="time constant of getting brighter")
    fall_tau_s: float = Field(default=0.03, ge=0, le=60, description="time constant of getting darker")
    slow_share: float = Field(
        default=0.0, ge=0, le=0.5, description="share of every change that follows later, with slow_tau_s"
    )
    slow_tau_s: float = Field(default=1.0, gt=0, le=60, description="time constant of that share")
    limiting: float = Field(
        default=0.0,
        ge=0,
        le=20,
        description="by how much a small white patch is brighter than a white screen, as a share: 1 where it is twice "
        "as bright, 0 where the display does not limit its brightness",
    )
    dark_noise_cd_m2: float = Field(
        default=5e-4, ge=0, description="standard deviation of one reading of noise_at_s in the dark (s0)"
    )
    shot_noise: float = Field(default=2e-3, ge=0, description="its part that grows with the root of luminance (a)")
    scale_noise: float = Field(default=1e-3, ge=0, description="its part that is proportional to luminance (r)")
    noise_at_s: float = Field(default=0.2, gt=0, le=60, description="integration time that the noise is stated for")
    noise_dof: float = Field(
        default=0.0,
        ge=0,
        le=10_000,
        description="degrees of freedom of the noise at each level where it was found on this bench with this meter; "
        "0: an estimate only, and a run learns the noise itself",
    )


class Flicker(ProfileModel):
    """How the light swings by itself while one patch is on the screen.

    A photodiode on the screen shows it; what is left out is not known, and no uncertainty is counted for it.
    """

    key_rules = (
        Rule(("dimming_duty",), ("dimming_hz",), "a duty needs the rate too: dimming_hz: 240", "dimming_duty"),
    )

    refresh_hz: float | None = Field(
        default=None,
        ge=1,
        le=2000,
        description="pictures a second, as measured: 59.94 is not 60; left out: from the timing of the screen's mode",
    )
    refresh_depth: float | None = Field(
        default=None,
        ge=0,
        le=1,
        description="amplitude of the swing at the refresh, share of the mean: (Lmax - Lmin) / (Lmax + Lmin)",
    )
    dimming_hz: float | None = Field(
        default=None, ge=10, le=1_000_000, description="rate of a backlight that is dimmed by switching it on and off"
    )
    dimming_duty: float = Field(
        default=0.1,
        gt=0,
        le=1,
        description="share of the time that it is on, at the lowest brightness that is measured",
    )
