"""The operator's part of a session in one object: to stop it, and to do what the bench can't do by itself."""

from __future__ import annotations

from dataclasses import dataclass, field

from benchd.clock import StopRequest
from benchd.instruments.control import Ask as AskToSet
from benchd.run.bench.attended import Ask, no_operator_to_ask
from benchd.run.operator_checks import Confirm, no_operator_to_confirm


@dataclass(frozen=True, slots=True)
class Operator:
    """Who attends a session; as it is made without values, nobody."""

    stop: StopRequest = field(default_factory=StopRequest)
    ask: Ask = no_operator_to_ask  # to move the meter
    ask_to_set: AskToSet | None = None  # something on the display; None: nobody can
    confirm: Confirm = no_operator_to_confirm  # that it was done, where the light did not change
