"""Conditions that nothing states are asked for once, at the start of an attended run; never without a terminal."""

from __future__ import annotations

import os
import select
import sys
import termios
from collections.abc import Callable, Mapping, Sequence

from benchd.clock import Deadline
from benchd.command.measure.live import LOOK_EVERY_S, no_operator
from benchd.command.messages import prompt, say
from benchd.errors import InputError
from benchd.measuring_conditions import CONDITIONS, KINDS_OF_CONDITION, Value
from benchd.plan.plan import Plan
from benchd.profile.bench import Bench
from benchd.profile.conditions_model import entered, stated_words
from benchd.run.bench.entered_conditions import EnteredConditions
from benchd.run.bench.recorded_conditions import Entered, refuse_swept, stated_before

WAIT_S = 300.0
"""A run that nobody attends after all begins without them."""
FIELDS = {"meter_field_deg": "meter_field_mm", "meter_field_mm": "meter_field_deg"}
"""Two forms of one condition: who knows one need not know the other."""


def conditions_for(
    plan: Plan, bench: Bench, sample: str, given: Mapping[str, Value], *, ask: bool
) -> dict[str, Entered]:
    """What the operator states of this run: ``given`` on the command line, entered before, or asked for now.

    Only answers to what was asked for are kept for later runs: what is given holds for the run that it is given for.
    """
    refuse_swept(plan, given)
    kept = EnteredConditions(bench.bench, sample)
    before = {key: one for key, one in kept.known().items() if not {key, FIELDS.get(key)} & given.keys()}
    stated = stated_before(plan, bench)
    missing = _missing({*stated, *given, *kept.asked()}) if ask and not no_operator() else []
    used = {key: one for key, one in before.items() if not {key, FIELDS.get(key)} & stated}
    if used and ask:
        days = sorted({one.when for one in used.values()})
        words = stated_words({key: one.value for key, one in used.items()})
        say(f"Conditions as entered {' and '.join(days)}: {words}. Otherwise today? --condition NAME=VALUE.")
    answered = _asked(plan, missing, _typed) if missing else {}
    if answered is None:
        answered, missing = {}, []
    if missing:
        asked_for = {key: value for key, value in answered.items() if key in missing}
        kept.keep(asked_for, [key for key in missing if key not in answered])
    return {**before, **{key: Entered(value) for key, value in {**given, **answered}.items()}}


def _missing(known: set[str]) -> list[str]:
    return [one.key for one in CONDITIONS if one.key not in known and FIELDS.get(one.key, one.key) not in known]


def _asked(plan: Plan, missing: Sequence[str], typed: Callable[[], str | None]) -> dict[str, Value] | None:
    """The answer; what is wrong is said and asked again. None: no answer came."""
    listed = ", ".join(_name(key) for key in missing if key != "meter_field_mm")
    say(
        f"Conditions that nothing states yet: {listed}.\n"
        "They stand with the results, and are not asked for again. Enter alone: not recorded."
    )
    while True:
        line = typed()
        if line is None:
            say(f"\nNo answer within {WAIT_S:.0f} s; they are not recorded.")
            return None
        try:
            answer = entered([part for part in line.split(",") if part.strip()], "condition")
            refuse_swept(plan, answer, "condition")
            return answer
        except InputError as error:
            say(f"{error}. Nothing was recorded.")


def _name(key: str) -> str:
    kind = KINDS_OF_CONDITION[key]
    unit = f" ({kind.unit})" if kind.unit else " (year-month-day)" if kind.form == "date" else ""
    other = " or meter_field_mm (mm)" if key == "meter_field_deg" else ""
    return f"{key}{unit}{other}"


def _typed() -> str | None:
    """A line from the terminal; "" at the end of the input, None when nothing came in time."""
    termios.tcflush(sys.stdin, termios.TCIFLUSH)  # an Enter too many must not answer this question
    prompt("Write what you know as NAME=VALUE, with commas between, then press Enter.")
    limit = Deadline.after(WAIT_S)
    while not limit.passed:
        if select.select([sys.stdin], [], [], LOOK_EVERY_S)[0]:
            return os.read(sys.stdin.fileno(), 1 << 16).decode(errors="replace").strip()
    return None
