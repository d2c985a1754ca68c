"""Steps that are read to a precision: what is on the screen before them, their readings, and what the log keeps.

A patch settles from what was shown before it, so the step before is part of the measurement: whatever came between
(a reference check, a pause, a fault) is followed by that patch again, the lead-in. So a run that was interrupted
takes the same readings as one that was not.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from benchd.instruments.meter import MeterIdentity, Reading, Status
from benchd.patch.model import Patch, field, grey, max_code
from benchd.plan.plan import WarmUpLimits
from benchd.plan.safety import relative_luminance
from benchd.plan.step import Step
from benchd.profile.bench import Bench
from benchd.profile.dialect import Dialect
from benchd.profile.display import Expected
from benchd.run.adaptive.adaptive import PatchReading
from benchd.run.adaptive.learned import Learned, NoiseModel, limits_of
from benchd.run.adaptive.precision import PrecisionRequest, PreviousPatch
from benchd.run.adaptive.protocol import Read, Sleep, Unkept
from benchd.run.adaptive.warm_up_characterisation import Read as Take
from benchd.run.adaptive.warm_up_characterisation import Show, characterise, is_characterisation
from benchd.run.light_monitor import ReferenceCheck
from benchd.run.log.records import Body, RunState
from benchd.run.procedures.warm_up_stability import WARM_UP_EVERY_S

MIN_LEAD_IN_S = 2.0
GAMMA = 2.2
MAX_ON = 4
"""How many times the time that a patch may take a reference check goes on that disagrees and still settles."""
UNTOLD = "the meter takes no integration time, so the plan's count holds"


class Precise:
    """The `AdaptiveReading` of a session; ``steps`` in the order of the run."""

    def __init__(self, steps: Sequence[Step], state: RunState, learned: Learned) -> None:
        self._steps, self._state, self._learned = steps, state, learned
        self._black = field(grey(0))
        self._characterisation: list[Body] = []
        self.wanted = any(step.precision is not None for step in steps)

    def lead_in(self, index: int) -> tuple[Patch, float]:
        if index < 2:
            return self._black, MIN_LEAD_IN_S
        before = self._steps[index - 2]
        self._learned.take(self._state.adaptive)
        return before.patch, max(MIN_LEAD_IN_S, before.settle_s, self._learned.panel.slowest_s)

    def read(
        self, step: Step, index: int, read: Read, settled: Callable[[Body], None], sleep: Sleep
    ) -> tuple[list[Reading], Body]:
        assert step.precision is not None
        self._learned.take(self._state.adaptive)
        fixed_s = step.integration_s if step.precision.fixed_time else None
        asked = PrecisionRequest(step.precision.repeatability, step.precision.at_most_s, fixed_s, step.dark)
        before = self._steps[index - 2] if index > 1 else None
        patch = PatchReading(asked, _before(self._learned, before, step), self._learned)
        readings = _read_on(patch, step, read, sleep, settled)
        if not patch.not_settable:
            return readings, {"precision": patch.reached()}
        number = len(readings)
        sleep(step.settle_s)
        settled({"after_s": step.settle_s, "readings": number, "how": "as the plan says"})
        readings = [read(step, number + more) for more in range(1, step.readings + 1)]
        return readings, {"precision": {"asked": asked.repeatability, "reached": None, "met": False, "why": UNTOLD}}

    def check(
        self, step: Step, share: float, read: Unkept, disagree: Callable[[list[Reading]], bool], sleep: Sleep
    ) -> ReferenceCheck:
        """Whatever was shown before: it settles as from the largest step there is.

        What disagrees and still settles after the time that a patch may take is read on, for `MAX_ON` such times.
        Nothing is learned: a run that was interrupted has more checks than one that was not.
        """
        assert step.precision is not None
        self._learned.take(self._state.adaptive)
        fixed_s = step.integration_s if step.precision.fixed_time else None
        asked = PrecisionRequest(max(share, step.precision.repeatability), step.precision.at_most_s, fixed_s, step.dark)
        found = ReferenceCheck([])
        for _ in range(MAX_ON):
            patch = PatchReading(asked, PreviousPatch(None, moved=True), self._learned)
            readings = _read_on(patch, step, lambda step, number: read(step.integration_s), sleep)
            if patch.not_settable:
                sleep(step.settle_s)
                return ReferenceCheck([read(step.integration_s) for _ in range(step.readings)])
            found = ReferenceCheck(readings, settled=not patch.unsettled)
            if found.settled or not disagree(readings):
                break
        return found

    def characterised_s(
        self, step: Step, minute: int, light: float, limits: WarmUpLimits, show: Show, read: Take
    ) -> float:
        if minute == 0:
            self._characterisation.clear()
        if not self.wanted or not is_characterisation(minute, limits):
            return 0.0
        bodies = characterise(step.patch, light, show, read, self._learned.limits, self._characterisation)
        self._characterisation += bodies
        spent_s = sum(float(one["time_s"]) for one in bodies)
        if bodies:  # the warm-up's own patch is on for the rest of the minute
            bodies[-1]["time_s"] = round(WARM_UP_EVERY_S - spent_s, 4)
        return spent_s

    def warmed(self, step: str, luminance_cd_m2: float) -> Body:
        if not self.wanted:
            return {}
        body: Body = {"luminance_cd_m2": float(f"{luminance_cd_m2:.6g}")}
        return {"precision": body | ({"lessons": list(self._characterisation)} if self._characterisation else {})}


def _read_on(
    patch: PatchReading,
    step: Step,
    read: Read,
    sleep: Sleep,
    settled: Callable[[Body], None] = lambda body: None,
) -> list[Reading]:
    """The readings that count; of a meter that takes no integration time, all that were taken."""
    readings: list[Reading] = []
    number = 0
    while (length_s := patch.next_s()) is not None:
        number += 1
        if patch.pause_s > 0.0:
            sleep(patch.pause_s)
        reading = read(replace(step, integration_s=length_s), number)
        readings.append(reading)
        if _take(patch, reading):
            settled(patch.settled())
            readings = []
    return readings


def _before(learned: Learned, before: Step | None, step: Step) -> PreviousPatch:
    """What was there before ``step``: the step before it, None for the first."""
    if before is None:
        return PreviousPatch(None)
    alike = before.settings == step.settings
    known = learned.luminance_of(before.id) if alike else None
    still, parts = alike and before.patch == step.patch, _parts(before, step)
    blacks = [max(one.patch.code_at(*one.at)) == 0 for one in (before, step)]
    return PreviousPatch(known, still, before.at != step.at, parts, blacks[0], blacks[1])


def _parts(before: Step, step: Step) -> tuple[float, float]:
    """What gets brighter and darker in front of the meter, as shares of white.

    With a gamma of 2.2 and the weights of sRGB (IEC 61966-2-1): for how long a change settles that is near enough. Of
    HDR codes, whose scale is another, all is taken to change.
    """
    old, new = (one.patch.code_at(*one.at) for one in (before, step))
    if step.patch.transfer != "sdr":
        return (1.0, 1.0)
    tops = (max_code(before.patch.bits), max_code(step.patch.bits))
    changes = [(n / tops[1]) ** GAMMA - (o / tops[0]) ** GAMMA for o, n in zip(old, new, strict=True)]
    up = relative_luminance((max(changes[0], 0.0), max(changes[1], 0.0), max(changes[2], 0.0)))
    down = relative_luminance((max(-changes[0], 0.0), max(-changes[1], 0.0), max(-changes[2], 0.0)))
    return (up, down)


def _take(patch: PatchReading, reading: Reading) -> bool:
    # As the log keeps it, so that a replay decides alike.
    took_s = max(reading.integration_s or 0.0, round(reading.elapsed_s, 6))
    luminance = reading.xyz[1] if reading.xyz else None
    return patch.take(luminance, took_s, reading.integration_s, over_range=reading.status is Status.OVER)


def learned_on(bench: Bench, dialect: Dialect | None, meter: MeterIdentity) -> Learned:
    """What is known before the first reading: the meter's limits, and the noise that the bench's profile states."""
    span = dialect.integration if dialect is not None else None
    low_s, high_s = (None, None) if span is None else (span.low_s, span.high_s)
    limits = limits_of(low_s, high_s, meter.floor_cd_m2)
    expected = bench.expected
    if expected is None or not expected.noise_dof:
        return Learned(limits)
    return Learned(limits, stated_noise(expected), expected.noise_dof)


def stated_noise(expected: Expected) -> NoiseModel:
    """The noise that a bench's profile states."""
    return NoiseModel.stated(expected.dark_noise_cd_m2, expected.shot_noise, expected.scale_noise, expected.noise_at_s)
