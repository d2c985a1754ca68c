"""A motion stage's dialect: how a stage with a protocol of ASCII lines is moved, and its position queried.

The same patterns, templates and examples as a meter's dialect: such a file adds a stage
without code. Places are in millimetres of the stage's own axes; the bench states where the screen lies in them.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from benchd.profile.dialect import LineDialect
from benchd.profile.exchanges import (
    Exchange,
    answer_of,
    pattern_of,
    template_of,
)
from benchd.profile.reading.base import ProfileModel

PLACE_SAMPLE: dict[str, float] = {"x_mm": 12.5, "y_mm": 340.0}


_PLACE = "a move needs {x_mm} and {y_mm}"
_BOTH = "write (?P<x_mm>[-.0-9]+) and (?P<y_mm>[-.0-9]+)"


class FixedExchange(Exchange):
    """One question of a stage with a fixed answer, or with none."""

    send: Annotated[str, template_of()] = Field(min_length=1, description="What is sent, without the line end")
    expect: Annotated[str, pattern_of()] | None = Field(
        default=None, description="Pattern of the whole answer (no answer is awaited without it)"
    )


class MoveExchange(ProfileModel):
    """The command to go to a place."""

    send: Annotated[str, template_of(*PLACE_SAMPLE, needs=[*PLACE_SAMPLE], advice=_PLACE)] = Field(
        min_length=1, description="The command; {x_mm} and {y_mm} are the place, such as {x_mm:.2f}"
    )
    expect: Annotated[str, pattern_of()] | None = Field(
        default=None, description="Pattern of the whole answer, at once or on arrival (without it none is awaited)"
    )
    example: Annotated[str | None, answer_of(PLACE_SAMPLE)] = Field(
        default=None, description="An answer that 'expect' matches", validate_default=True
    )


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


class StageDialect(LineDialect):
    """One stage's way of speaking."""

    device = "stage"

    stage: str = Field(pattern=r"^[a-z0-9][a-z0-9-]{0,40}$", description="Name of the dialect, as the file's")
    start: tuple[FixedExchange, ...] = Field(
        default=(), max_length=20, description="Sent in this order when the port is opened"
    )
    home: FixedExchange | None = Field(
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

    def move_within_s(self, way_mm: float) -> float:
        """How long a move may take whose longer way is ``way_mm`` (seconds of real time)."""
        return self.moves_within_s.fixed + self.moves_within_s.per_mm * way_mm
