"""Planned trouble for the simulated meter: a list of (when, what).

reading:12:late:3.0      the 12th reading is answered 3 s too late
reading:12-14:silent     readings 12, 13 and 14 get no answer
command:5:half           the 5th question of any kind gets the first half of its answer
identify:2:wrong_meter   from the 2nd identification on, another serial number
at:600:unplug:1.5        the first question after 600 s of scene time finds the cable pulled for 1.5 s
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

When = Literal["reading", "identify", "command", "at"]
What = Literal[
    "silent", "half", "late", "garbled", "duplicate", "wrong_unit", "error", "unplug", "wrong_meter", "stuck"
]

MEANING: dict[What, str] = {
    "silent": "no answer",
    "half": "the first half of the answer, and no line end",
    "late": "the answer comes the given number of seconds too late (default 3); the meter is busy until then",
    "garbled": "an answer of the right length that nobody can read",
    "duplicate": "the answer twice",
    "wrong_unit": "the answer in the other unit; where answers don't tell it, from now until the start-up exchange",
    "error": "the given error code of the dialect (default: its first)",
    "unplug": "the port vanishes; back after the given number of seconds (default 0) under another name",
    "wrong_meter": "from now on the meter has another serial number",
    "stuck": "from now on no answer at all, until the port is unplugged",
}
"""Every kind of trouble with what it does."""


@dataclass(frozen=True, slots=True)
class Trouble:
    """What goes wrong, and when. ``first`` and ``last`` count from 1; for ``at`` both are scene seconds."""

    when: When
    first: float
    last: float
    what: What
    value: str = ""

    @property
    def seconds(self) -> float:
        """The value of a trouble that takes time."""
        return float(self.value) if self.value else (3.0 if self.what == "late" else 0.0)


def parse_trouble(text: str) -> Trouble:
    """A trouble from its text form. Raises ``ValueError`` with a sentence that says what is allowed."""
    when, _, rest = text.partition(":")
    span, _, rest = rest.partition(":")
    what, _, value = rest.partition(":")
    if when not in get_args(When) or what not in MEANING:
        raise ValueError(
            f"fault {text!r}: write WHEN:NUMBER:WHAT or WHEN:NUMBER:WHAT:VALUE, WHEN being one of "
            f"{', '.join(get_args(When))} and WHAT one of {', '.join(MEANING)}"
        )
    try:
        if when == "at":
            first = last = float(span)
        else:
            low, _, high = span.partition("-")
            first, last = int(low), int(high or low)
        trouble = Trouble(when, first, last, what, value)  # type: ignore[arg-type]
        if what in ("late", "unplug") and not 0.0 <= trouble.seconds <= 3600.0:
            raise ValueError
    except ValueError:
        raise ValueError(f"fault {text!r}: a number is wrong; such as reading:12:late:3.0") from None
    if not 0 <= first <= last:
        raise ValueError(f"fault {text!r}: the numbers count upwards from 1")
    return trouble


class Troubles:
    """Knows which trouble is due. Counts the questions itself; each ``at`` trouble comes once."""

    def __init__(self, planned: tuple[Trouble, ...] = ()) -> None:
        self._planned = list(planned)
        self._counts: dict[str, int] = {"reading": 0, "identify": 0, "command": 0}

    def plan(self, trouble: Trouble) -> None:
        """Add one more."""
        self._planned.append(trouble)

    def due(self, question: str, now_s: float) -> Trouble | None:
        """The trouble of this question (``"reading"``, ``"identify"`` or another word), if any."""
        for name in ("command", question):
            if name in self._counts:
                self._counts[name] += 1
        for index, trouble in enumerate(self._planned):
            if trouble.when == "at":
                if now_s >= trouble.first:
                    return self._planned.pop(index)
                continue
            if trouble.when in ("command", question) and (trouble.first <= self._counts[trouble.when] <= trouble.last):
                return trouble
        return None
