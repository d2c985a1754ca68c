"""Planned trouble for the simulated meter, display and stage: a list of (when, what).

reading:12:late:3.0      the 12th reading is answered 3 s too late
reading:12-14:silent     readings 12, 13 and 14 get no answer
command:5:half           the 5th question of any kind gets the first half of its answer
identify:2:wrong_meter   from the 2nd identification on, another serial number
at:600:unplug:1.5        the first question after 600 s of scene time finds the cable pulled for 1.5 s
at:600:reset:brightness=30   at 600 s the display changes its brightness by itself (no value: all its settings)
ddc:3-5:silent           messages 3 to 5 to the display's control channel get no answer
set:2:lie                the second message that sets a control sets another value
stage:4:stuck            from the 4th command on the stage does not move
reading:12:under         readings with a status, or repeated ones: see SENSE_MEANING
at:600:lamp:5            a lamp, a meter knocked aside, a display asleep: see sim.room
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, get_args

from sim.room import ROOM_MEANING, Room
from sim.settings import Settings

When = Literal["reading", "identify", "command", "at", "ddc", "set", "stage"]
What = Literal[
    "silent", "half", "late", "garbled", "duplicate", "wrong_unit", "error", "unplug", "wrong_meter", "stuck"
]

MEANING: dict[What, str] = {
    "silent": "no answer",
    "half": "the first half of the answer, and no line end",
    "late": "the answer comes the given number of seconds too late (default 3); the meter is busy until then",
    "garbled": "an unreadable answer of the right length",
    "duplicate": "the answer twice",
    "wrong_unit": "the answer in the other unit; where answers don't have it, from now until the start-up exchange",
    "error": "the given error code of the dialect (default: its first)",
    "unplug": "the port vanishes; back after the given number of seconds (default 0) under another name",
    "wrong_meter": "from now on the meter has another serial number",
    "stuck": "from now on no answer at all, until the port is unplugged",
}
"""Every kind of trouble of the meter with what it does."""

SENSE_MEANING = {
    "under": "a reading without light, under range",
    "over": "a reading of too much light, over range",
    "frozen": "from now on every reading repeats the one before; `thawed` ends it",
    "thawed": "the meter measures again",
}
"""Every kind of trouble of the meter's sensor (the line is well) with what it does; for the meter behind a port."""

DDC_MEANING = {
    "refuse": "the display answers that it has no such control, and sets nothing",
    "lie": "it sets, or answers, another value",
    "silent": "no answer, and nothing is set",
    "garbled": "the answer has a flipped bit",
    "slow": "what is set takes effect the given number of seconds later (default 1.5)",
}
"""Every kind of trouble of the display's control channel with what it does."""

STAGE_MEANING = {
    "silent": "no answer, and it does not move",
    "garbled": "an unreadable answer",
    "error": "the given error of the dialect (default: its first)",
    "short": "it stops 5 mm before its goal",
    "stuck": "from now on it does not move, and reports where it stands",
}
"""Every kind of trouble of the stage with what it does."""


@dataclass(frozen=True, slots=True)
class InjectedFault:
    """What goes wrong, and when. ``first`` and ``last`` count from 1; for ``at`` both are scene seconds."""

    when: When
    first: float
    last: float
    what: str
    value: str = ""

    @property
    def seconds(self) -> float:
        """The value of a trouble that takes time."""
        return float(self.value) if self.value else {"late": 3.0, "slow": 1.5}.get(self.what, 0.0)


def _known(when: str) -> Iterable[str]:
    """What can go wrong at ``when``."""
    if when in ("ddc", "set"):
        return DDC_MEANING
    if when == "stage":
        return STAGE_MEANING
    meter = (*MEANING, *SENSE_MEANING)
    return (*meter, *ROOM_MEANING, "reset") if when == "at" else meter


def parse_trouble(text: str) -> InjectedFault:
    """A trouble from its text form. Raises ``ValueError`` with a sentence of what is allowed."""
    when, _, rest = text.partition(":")
    span, _, rest = rest.partition(":")
    what, _, value = rest.partition(":")
    if when not in get_args(When) or what not in _known(when):
        raise ValueError(
            f"fault {text!r}: write WHEN:NUMBER:WHAT or WHEN:NUMBER:WHAT:VALUE, WHEN being one of "
            f"{', '.join(get_args(When))} and WHAT one of {', '.join(_known(when))}"
        )
    try:
        if when == "at":
            first = last = float(span)
        else:
            low, _, high = span.partition("-")
            first, last = int(low), int(high or low)
        trouble = InjectedFault(when, first, last, what, value)  # type: ignore[arg-type]
        if what in ROOM_MEANING:
            Room().after(what, value)
        if what == "reset" and value:
            Settings().but(value)
        if what in ("late", "unplug", "slow") and not 0.0 <= trouble.seconds <= 3600.0:
            raise ValueError
    except ValueError:
        raise ValueError(f"fault {text!r}: a number is wrong; such as reading:12:late:3.0") from None
    if not 0 <= first <= last:
        raise ValueError(f"fault {text!r}: the numbers count upwards from 1")
    return trouble


class FaultSchedule:
    """Finds which trouble is due. Counts the questions itself; each ``at`` trouble comes once."""

    def __init__(self, planned: tuple[InjectedFault, ...] = ()) -> None:
        self._planned = list(planned)
        self._counts: dict[str, int] = {"reading": 0, "identify": 0, "command": 0, "ddc": 0, "set": 0, "stage": 0}

    def plan(self, trouble: InjectedFault) -> None:
        """Add one more."""
        self._planned.append(trouble)

    def forget(self) -> None:
        """Nothing more is planned."""
        self._planned.clear()

    def due(self, question: str, now_s: float) -> InjectedFault | None:
        """The trouble of this question (``"reading"``, ``"identify"`` or another word), if any."""
        names = tuple(name for name in ("command", question) if name in self._counts)
        self._count(names)
        for index, trouble in enumerate(self._planned):
            if trouble.when == "at":
                if now_s >= trouble.first and trouble.what != "reset" and trouble.what not in ROOM_MEANING:
                    return self._planned.pop(index)
                continue
            if self._is_due(trouble, names):
                return trouble
        return None

    def due_elsewhere(self, *names: When) -> InjectedFault | None:
        """The trouble of one message to the display (``"ddc"``, also ``"set"``) or to the stage, if any."""
        self._count(names)
        return next((trouble for trouble in self._planned if self._is_due(trouble, names)), None)

    @property
    def of_the_room(self) -> tuple[InjectedFault, ...]:
        """What happens around the display."""
        return tuple(trouble for trouble in self._planned if trouble.what in ROOM_MEANING)

    @property
    def resets(self) -> tuple[InjectedFault, ...]:
        """When the display changes its settings by itself."""
        return tuple(trouble for trouble in self._planned if trouble.what == "reset")

    def _count(self, names: Iterable[str]) -> None:
        for name in names:
            self._counts[name] += 1

    def _is_due(self, trouble: InjectedFault, names: Iterable[str]) -> bool:
        return trouble.when in names and trouble.first <= self._counts[trouble.when] <= trouble.last
