"""Readings from a text file of the open format for colour data (after ISO 28178): a set is one reading of a step."""

from __future__ import annotations

from collections.abc import Sequence

from benchd.errors import Fault, ProfileError
from benchd.instruments.meter import Status
from benchd.plan.step import Step
from benchd.profile.reading import colour_data_text as colour_text
from benchd.run.log.given_readings import GivenReading

NOTICE, SIMULATED = "BENCHD_NOTICE", "SIMULATED"
NEEDED = ("SAMPLE_NAME", "XYZ_X", "XYZ_Y", "XYZ_Z")
XYZ_UNIT = "BENCHD_XYZ_UNIT"


def is_colour_text(text: str) -> bool:
    """True when the first word is that of the format."""
    return text.removeprefix("\ufeff").lstrip().startswith(colour_text.IDENTIFIER)


def read_colour_text(text: str, file: str, steps: Sequence[Step]) -> tuple[list[GivenReading], bool]:
    """The readings in ``text``: SAMPLE_NAME is the step, X, Y, Z are in cd/m2 and the file must state it.

    The warm-up is left out, and so are readings over time, whose times this format does not hold. Also returns whether
    the file states that a simulator took part. Raises `ProfileError`.
    """
    table = colour_text.read_colour_text(text, file)

    def wrong(told: str) -> ProfileError:
        return ProfileError((Fault(file, 1, 1, told),))

    if missing := [name for name in NEEDED if name not in table.fields]:
        raise wrong(f"the field {missing[0]} is missing; needed are {', '.join(NEEDED)}")
    if table.keyword(XYZ_UNIT) != "cd/m2":
        raise wrong(f'the file must state {XYZ_UNIT} "cd/m2": X, Y, Z of this format may be relative as well')
    place = [table.fields.index(name) for name in NEEDED]
    wanted = {step.id: step.kind == "measure" and step.series is None for step in steps}
    given: list[GivenReading] = []
    for row in table.rows:
        name, x, y, z = (row[index] for index in place)
        if name not in wanted:
            raise wrong(f"the plan has no step {str(name)!r}; `benchd plan PLAN --steps` lists them")
        if wanted[str(name)]:
            raw = " ".join(str(cell) for cell in row)
            given.append(GivenReading(str(name), (float(x), float(y), float(z)), Status.OK, None, raw, 0))
    return given, table.keyword(NOTICE) == SIMULATED
