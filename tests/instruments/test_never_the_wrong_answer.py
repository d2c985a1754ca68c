"""The law: a reading is the answer to its own question, whatever comes late, doubled, cut or not at all.

A meter that numbers its measurements (the luminance of the n-th is n cd/m2) behaves at random. Whatever the
driver returns must carry the number of the last question. The seeds are fixed; a failure names its seed.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field

import pytest

from benchd.clock import Deadline, real_now_s
from benchd.errors import MeterError
from benchd.instruments.meter import ReadRequest
from benchd.instruments.serial_meter import SerialMeter
from benchd.profile.dialect import Dialect
from benchd.profile.exchanges import AnswersWithin
from tests.instruments.line_time import LINE_TIME, Answers
from tests.instruments.scripted import Instrument, Light, connected, hasty, load

ANSWER_S = 0.05
LATE_S = 0.06
QUESTIONS = 16
CALM_QUESTIONS = 3
SEEDS = range(30)
NAMES = ("terse-line", "plain-488")


def quick(name: str, confirm: str) -> Dialect:
    dialect = hasty(load(name), confirm=confirm)
    within = AnswersWithin(fixed=ANSWER_S, per_integration=0.0)
    return dialect.model_copy(
        update={
            "measure": dialect.measure.model_copy(update={"answers_within_s": within}),
            "identify": dialect.identify.model_copy(update={"within_s": 0.1}),
            "start": tuple(each.model_copy(update={"within_s": 0.1}) for each in dialect.start),
            "late_within_s": LATE_S,
        }
    )


@dataclass
class Unruly(Instrument):
    """Measurement n answers n cd/m2, at random late, cut, lost, in pieces, after noise, or (``doubles``) twice.

    ``in_order``: everything waits for the answer before it, as in a meter that does one thing after another.
    Else the identification overtakes a measurement that is still going on.

    Answers without a number leave two cases that nobody could tell, and which do not occur here: a doubled
    answer while the answer to the present question is lost; and, from a meter that identifies itself while it
    measures, an answer later than the dialect allows while the next one is not answered either.
    """

    rng: random.Random = field(default_factory=lambda: random.Random(0))
    in_order: bool = True
    doubles: bool = True
    calm: bool = False
    ready_at_s: float = 0.0  # in order: when the answer before this one is out
    stale_until_s: float = 0.0  # when the last doubled or too late answer is out
    log: list[str] = field(default_factory=list)

    def __call__(self, line: bytes) -> Answers:
        now_s = real_now_s()
        wait_s = max(0.0, self.ready_at_s - now_s) if self.in_order else 0.0
        if not self.is_measure(line.decode()):
            for after_s, data in super().__call__(line):
                yield after_s + wait_s, data
            return
        self.measured += 1
        act = self.choose(now_s)
        self.log.append(f"{self.measured}:{act}")
        after_s = wait_s + self.delay_s(act)
        self.ready_at_s = now_s + after_s + 0.01
        end = self.dialect.line.end_answered.encode()
        answer = self.reading(Light((float(self.measured),) * 3)).encode() + end
        cut = self.rng.randrange(1, len(answer))
        if act == "cut":
            yield after_s, answer[:cut]
        elif act == "in pieces":
            yield after_s, answer[:cut]
            yield after_s + 0.01, answer[cut:]
        elif act == "noise":
            noise = bytes(self.rng.randrange(256) for _ in range(5))
            yield after_s, noise + self.rng.choice([b"", end]) + answer
        elif act != "lost":
            yield after_s, answer
        if act == "doubled":
            later_s = after_s + self.rng.choice([0.0, self.rng.uniform(0.0, 0.3)])
            self.stale_until_s = now_s + later_s + 0.1
            yield later_s, answer
        if act == "very late":
            self.stale_until_s = self.ready_at_s + 0.1

    def choose(self, now_s: float) -> str:
        if self.calm:
            return "good"
        acts = ["good"] * 5 + ["late", "very late", "lost", "cut", "in pieces", "noise"]
        if self.doubles:
            acts += ["doubled"] * 3
        if now_s < self.stale_until_s:
            acts = [act for act in acts if act != "lost"] if self.in_order else ["good"]
        return self.rng.choice(acts)

    def delay_s(self, act: str) -> float:
        promised_s = ANSWER_S + LATE_S
        if act == "late":
            return self.rng.uniform(0.9 * ANSWER_S, promised_s)
        if act == "very late":
            return self.rng.uniform(promised_s, 3 * promised_s if self.in_order else promised_s + ANSWER_S)
        return self.rng.uniform(0.0, 0.3 * ANSWER_S)


def questioned(seed: int, confirm: str, in_order: bool, doubles: bool) -> int:
    """One meter's story; how many readings were got."""
    dialect = quick(NAMES[seed % 2], confirm)
    unruly = Unruly(dialect, serial=f"SN-{seed}", rng=random.Random(seed), in_order=in_order, doubles=doubles)
    right = 0
    got_last = False
    with connected(unruly) as peer:
        meter = SerialMeter(dialect, peer.port)
        for number in range(1, QUESTIONS + CALM_QUESTIONS + 1):
            if number == QUESTIONS + 1:
                unruly.calm = True
                LINE_TIME.let_pass(0.35)  # the last doubled answer has come by then
            try:
                got = meter.read(ReadRequest("step", number, 0.5), Deadline.after(3.0))
            except MeterError:
                got_last = False
                continue
            assert got.xyz is not None
            told = f"seed {seed}, question {unruly.measured}, answered {got.raw!r}, story {unruly.log}"
            assert round(got.xyz[1], 3) == unruly.measured, told
            right += 1
            got_last = True
        meter.close()
    assert got_last, f"seed {seed}: not in step again, story {unruly.log}"
    return right


@pytest.mark.parametrize(
    ("confirm", "in_order", "doubles"),
    [
        ("each_reading", True, False),
        ("after_trouble", True, False),
        ("each_reading", True, True),
        ("each_reading", False, False),
    ],
    ids=["in order", "in order, confirmed after trouble only", "doubles", "identification overtakes"],
)
def test_a_reading_answers_its_own_question(confirm: str, in_order: bool, doubles: bool) -> None:
    right = [questioned(seed, confirm, in_order, doubles) for seed in SEEDS]
    assert sum(right) > len(SEEDS) * (CALM_QUESTIONS + 1) // 2, f"hardly a reading at all: {right}"
