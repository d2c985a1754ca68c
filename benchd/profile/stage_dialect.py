"""A motion stage's dialect: how a stage with a protocol of ASCII lines is moved, and its position queried.

The same patterns, templates and examples as a meter's dialect: such a file adds a stage
without code. Places are in millimetres of the stage's own axes; the bench states where the screen lies in them.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, field_validator

from benchd.profile.dialect import LineSettings, PortSettings
from benchd.profile.exchanges import Exchange, Identify
from benchd.profile.reading.base import ProfileModel, wrong
from benchd.profile.reading.template import (
    ErrorSentences,
    answer_of,
    checked_template,
    compiled,
    listed,
    names_in,
    pattern_of,
    template_of,
)

PLACE_SAMPLE: dict[str, float] = {"x_mm": 12.5, "y_mm": 340.0}


_BOTH = "write (?P<x_mm>[-.0-9]+) and (?P<y_mm>[-.0-9]+)"


class MoveExchange(ProfileModel):
    """The command to go to a place."""

    send: str = Field(min_length=1, description="The command; {x_mm} and {y_mm} are the place, such as {x_mm:.2f}")
    expect: Annotated[str, pattern_of()] | None = Field(
        default=None, description="Pattern of the whole answer, at once or on arrival (without it none is awaited)"
    )
    example: Annotated[str | None, answer_of(PLACE_SAMPLE)] = Field(
        default=None, description="An answer that 'expect' matches", validate_default=True
    )

    @field_validator("send")
    @classmethod
    def _send(cls, value: str) -> str:
        checked_template(value, set(PLACE_SAMPLE))
        if missing := set(PLACE_SAMPLE) - names_in(value):
            raise ValueError(f"{{{listed(missing)}}} is missing; a move needs {{x_mm}} and {{y_mm}}")
        return value


class PositionExchange(ProfileModel):
    """The query of the position."""

    send: Annotated[str, template_of()] = Field(min_length=1, description="The question, without the line end")
    expect: Annotated[str, pattern_of(*PLACE_SAMPLE, needs=[*PLACE_SAMPLE], advice=_BOTH)] = Field(
        description="Pattern with the groups x_mm and y_mm"
    )
    example: Annotated[str, answer_of(PLACE_SAMPLE)] = Field(
        description='An answer, such as "AT {x_mm:.2f} {y_mm:.2f}"'
    )
    within_s: float = Field(default=2.0, gt=0, le=120, description="The answer comes within (seconds)")


class MovesWithin(ProfileModel):
    """How long a move may take: ``fixed + per_mm * the longer way of the two axes``."""

    fixed: float = Field(gt=0, le=600, description="Seconds, whatever the way")
    per_mm: float = Field(default=0.0, ge=0, le=60, description="Seconds more per millimetre")


class StageDialect(ProfileModel):
    """One stage's way of speaking."""

    stage: str = Field(pattern=r"^[a-z0-9][a-z0-9-]{0,40}$", description="Name of the dialect, as the file's")
    about: str = Field("", description="One line of description")
    port: PortSettings = Field(default_factory=PortSettings, description="Serial port")
    line: LineSettings = Field(default_factory=LineSettings, description="Line ends and limits")
    start: tuple[Exchange, ...] = Field(
        default=(), max_length=20, description="Sent in this order when the port is opened"
    )
    identify: Identify = Field(description="How the stage identifies itself")
    home: Exchange | None = Field(
        default=None, description="Sent once before the first move: the stage looks for its reference"
    )
    move: MoveExchange = Field(description="The command to move")
    position: PositionExchange = Field(
        description="The query of its position; a move counts once the answer confirms it"
    )
    tolerance_mm: float = Field(
        default=0.1, gt=0, le=10, description="The stage stands at a place within (millimetres)"
    )
    moves_within_s: MovesWithin = Field(description="A move takes at most")
    errors: ErrorSentences = Field(
        default_factory=dict, description="Error codes: pattern of the whole answer -> a sentence"
    )
    late_within_s: float = Field(
        default=2.0, gt=0, le=600, description="How long a late answer is listened for after a time-out (seconds)"
    )

    @field_validator("start", "home")
    @classmethod
    def _fixed(cls, value: tuple[Exchange, ...] | Exchange | None) -> tuple[Exchange, ...] | Exchange | None:
        for exchange in value if isinstance(value, tuple) else (value,):
            if exchange is None:
                continue
            if names_in(exchange.send):
                raise wrong(f"{exchange.send!r}: nothing stands in braces here")
            if exchange.expect is not None and compiled(exchange.expect).groupindex:
                raise wrong(f"{exchange.expect!r}: a stage reports no unit; remove the group")
        return value

    @property
    def name(self) -> str:
        """Name of the dialect."""
        return self.stage

    @property
    def device(self) -> Literal["stage"]:
        """The device of this dialect, in sentences for the operator."""
        return "stage"

    def move_within_s(self, way_mm: float) -> float:
        """How long a move may take whose longer way is ``way_mm`` (seconds of real time)."""
        return self.moves_within_s.fixed + self.moves_within_s.per_mm * way_mm

    def error_of(self, answer: str) -> tuple[str, str] | None:
        """(code, sentence) where ``answer`` is an error, else None."""
        for pattern, sentence in self.errors.items():
            if compiled(pattern).fullmatch(answer):
                return answer, sentence
        return None
