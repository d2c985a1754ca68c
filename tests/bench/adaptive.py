"""Bench time of plans that are read to a precision, beside scripts of fixed waits and counts and the physical limit.

All on the same simulated scenes, in virtual time, with the same repeatability asked for:

adaptive   the plan with ``repeatability``, patches there and back, after a warm-up of 20 minutes that is in no time
plain      the usual script: one wait for every patch (3 s, what the darkest needs) and one count for every patch, that
           of the worst patch that can reach the precision within the cap; the meter chooses its integration time. The
           goal's yardstick
careful    waits and counts apart for dark and bright: those of the shipped plan sdr-standard (0.6 s, dark 3 s; 3
           readings, dark 5), or as many as the worst bright and the worst dark patch need. No goal, for comparison
limit      for each patch, in the adaptive order: the time from the change to where the light stays within half the
           asked repeatability of its end, and the least integration that reaches the precision, which is never less
           than one reading of the meter's shortest; moves and the pause between light and dark as in the run; from
           the end of the warm-up, as the run. Only the simulator knows it: no search, no doubt, nothing rounded
means      the same, but that the light's mean over the integration, not the light at its beginning, is within half
           the asked: what could be had by one who knew every tail beforehand. Where patches are read for long beside
           how they settle, this is less than the limit, and a run may be, too

Each script reaches more than was asked, as fixed counts must, so beside it stands the adaptive run that was asked for
as much as the plain script really reached.

Achieved is the root mean square error of the patches' means against the truth, over repeats with other noise, as a
share of the asked: of all patches that can reach it within the cap.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from statistics import fmean

from benchd.patch.model import field, grey
from benchd.plan.plan import WarmUpLimits
from benchd.plan.safety import MIN_BETWEEN_S, is_alternation
from benchd.plan.step import CENTRE, Step
from benchd.run.adaptive.adaptive import TOLERATED
from benchd.run.adaptive.learned import SHORTEST_S
from benchd.run.log.records import Record
from sim.displays import MODELS, Display, DisplayModel
from sim.scene import MOVE_S, Scene
from sim.sensor import SensorModel
from sim.truth import painted
from tests.bench.figures import Figure, Settings, tell
from tests.plan.helpers import steps_from
from tests.run.scene_rig import read_precisely

CAP_S = 60.0
WARM_UP = WarmUpLimits(20.0, 20.0, until_stable=False)
CELLS = (*((0.75 * 2.0 ** (1 - index), 2.0**-index) for index in range(1, 13)), (2.0**-13, 2.0**-12))
"""Middle and width of parts of a stretch of time, finer towards its beginning, where light settles."""
MAX_OVER_LIMIT = 1.05
MAX_OF_PLAIN = 1.0 / 3.0
PLAIN_WAIT_S = 3.0

BLOCKS = """
blocks:
  - luminance: {}
  - grayscale: {steps: 52}
  - patches: {name: colours, list: [LATTICE]}
"""

FINE = SensorModel()
COARSE = SensorModel(dark_cd_m2=2.5e-3, shot=1e-2, scale=5e-3)
"""Five times the scatter of `FINE`, as a small meter has; both invented."""


@dataclass(frozen=True, slots=True)
class Case:
    """One scene and what is asked of it."""

    name: str
    model: DisplayModel
    sensor: SensorModel
    repeatability: float


SLOW = replace(MODELS["office-lcd"], name="slow-lcd", slow_share=0.06, slow_tau_s=0.4)

CASES = (
    Case("office-lcd, small meter, 0.2 %", MODELS["office-lcd"], COARSE, 0.002),
    Case("office-lcd, small meter, 0.5 %", MODELS["office-lcd"], COARSE, 0.005),
    Case("office-lcd, fine meter, 0.1 %", MODELS["office-lcd"], FINE, 0.001),
    Case("office-lcd, fine meter, 0.5 %", MODELS["office-lcd"], FINE, 0.005),
    Case("slow-lcd (6 % with 0.4 s), small meter, 0.2 %", SLOW, COARSE, 0.002),
    Case("emissive, small meter, 0.2 %", MODELS["emissive"], COARSE, 0.002),
    Case("wide-gamut-lcd, fine meter, 0.2 %", MODELS["wide-gamut-lcd"], FINE, 0.002),
)


@dataclass(frozen=True, slots=True)
class Ran:
    """One run: bench time, the mean luminance of each step, and how many readings were taken and counted."""

    seconds: float
    means: Mapping[str, float]
    taken: int
    counted: int
    records: Sequence[Record]


def adaptive(settings: Settings) -> Iterator[Figure]:
    """Each case: over the limit, and over the two scripts."""
    repeats = 1 if settings.quick else 3
    for case in CASES[:2] if settings.quick else CASES:
        steps, plain, careful = steps_of(case), plain_steps(case), careful_steps(case)
        limit_s = limit_of(case, steps)
        runs, plains, carefuls = (
            [run(case, several, settings.folder, seed) for seed in range(1, repeats + 1)]
            for several in (steps, plain, careful)
        )
        took_s, plain_s, careful_s = (fmean(one.seconds for one in several) for several in (runs, plains, carefuls))
        tell(f"adaptive, {case.name}: done")
        finer_share = min(1.0, achieved(case, plain, plains))
        finer_case = replace(case, repeatability=finer_share * case.repeatability)
        finer_steps = steps_of(finer_case)
        finer = [run(case, finer_steps, settings.folder, 1)]
        finer_limit_s = limit_of(finer_case, finer_steps)
        notes = (
            f"SIMULATED, {len(plain)} patches, {repeats} repeats: adaptive {took_s:.1f} s, limit {limit_s:.1f} s (with "
            f"the meter's shortest reading, {SHORTEST_S:g} s, as the least), plain {plain_s:.1f} s ({_counts(plain)}), "
            f"careful {careful_s:.1f} s ({_counts(careful)})",
            f"achieved, as a share of the asked {100 * case.repeatability:g} %: adaptive "
            f"{achieved(case, plain, runs):.2f}, plain {achieved(case, plain, plains):.2f}, careful "
            f"{achieved(case, plain, carefuls):.2f}; adaptive counted {runs[0].counted} of {runs[0].taken} readings",
            f"over the limit by {took_s - limit_s:.1f} s: {remainder(case, plain, runs)}; the limit by means is "
            f"{limit_of(case, steps, by_means=True):.1f} s",
        )
        yield Figure(
            f"adaptive, {case.name}",
            took_s,
            "s",
            limit_s,
            "the physical limit on the same scene",
            f"<= {MAX_OVER_LIMIT:g} x the limit",
            took_s <= MAX_OVER_LIMIT * limit_s,
            notes,
        )
        yield Figure(
            "  the same over the plain script",
            took_s,
            "s",
            plain_s,
            "one wait and one count for all patches",
            "<= 1/3",
            took_s <= MAX_OF_PLAIN * plain_s,
        )
        yield Figure(
            "  asked for what the plain script reached, over that script",
            finer[0].seconds,
            "s",
            plain_s,
            "one wait and one count for all patches",
            "<= 1/3",
            finer[0].seconds <= MAX_OF_PLAIN * plain_s,
            (
                f"achieved {achieved(case, plain, finer):.2f}, plain {finer_share:.2f} of the asked; the physical "
                f"limit of that precision is {finer_limit_s:.0f} s, {finer_limit_s / plain_s:.2f} of the script",
            ),
        )
        yield Figure(
            "  the same over the careful script",
            took_s,
            "s",
            careful_s,
            "waits and counts apart for dark and bright",
        )


def steps_of(case: Case, *, cold: bool = False) -> tuple[Step, ...]:
    """The plan with a precision; ``cold``: without a warm-up, in which settling and noise are learned."""
    how = f"repeatability: {100 * case.repeatability:g} %\nreading_time_at_most_s: {CAP_S:g}\norder: there_and_back"
    return _expanded(how, "none" if cold else f"{{minutes: {WARM_UP.at_least_min:g}}}")


def plain_steps(case: Case) -> tuple[Step, ...]:
    """One wait, one count: what the worst patch that can reach the precision within the cap needs."""
    steps = _expanded(f"settle_s: {PLAIN_WAIT_S:g}\ndark_settle_s: {PLAIN_WAIT_S:g}\nreadings: 3\ndark_readings: 3")
    most = max(3, *_counts_needed(case, steps).values())
    return tuple(replace(step, readings=most) for step in steps)


def careful_steps(case: Case) -> tuple[Step, ...]:
    """Waits and counts apart for dark and bright."""
    steps = _expanded("settle_s: 0.6\ndark_settle_s: 3\nreadings: 3\ndark_readings: 5")
    needed = _counts_needed(case, steps)
    most = {dark: max(least, needed[dark]) for dark, least in ((False, 3), (True, 5))}
    return tuple(replace(step, readings=most[step.dark]) for step in steps)


def _counts_needed(case: Case, steps: Sequence[Step]) -> dict[bool, int]:
    """Readings that the worst bright and the worst dark patch need, of those that can reach it within the cap."""
    scene = _scene(case, 0)
    most = {False: 1, True: 1}
    for step in steps:
        luminance = _end(scene, step)
        need_s = needed_s(case, luminance)
        reading_s = step.integration_s or case.sensor.integration_s(luminance)
        if need_s <= CAP_S:
            most[step.dark] = max(most[step.dark], math.ceil(need_s / reading_s))
    return most


def needed_s(case: Case, luminance: float) -> float:
    """Least integration that reaches the precision, from the true noise."""
    deviation = case.sensor.repeatability_cd_m2(luminance, 1.0)
    return (deviation / (case.repeatability * max(luminance, case.sensor.floor_cd_m2))) ** 2


def limit_of(case: Case, steps: Sequence[Step], *, by_means: bool = False) -> float:
    """Seconds that nothing could beat: see the top of the file."""
    scene = _scene(case, 0)
    began_s, alternated_s = scene.now_s, -math.inf
    shown, place = field(grey(0)), CENTRE
    tolerance, floor = TOLERATED * case.repeatability, case.sensor.floor_cd_m2
    for step in steps:
        if step.kind == "warm_up":
            scene.show(painted(step.patch))
            scene.advance(60.0)
            began_s, shown = scene.now_s, step.patch
            continue
        if step.at != place:
            scene.advance(MOVE_S)
            scene.move(*step.at)
            place = step.at
        if is_alternation(shown, step.patch):
            scene.advance(max(0.0, alternated_s + MIN_BETWEEN_S - scene.now_s))
            alternated_s = scene.now_s
        end, settle_s = _end(_scene(case, 0), step), 0.0
        minimum_s = max(needed_s(case, end), SHORTEST_S)
        if step.patch != shown:
            scene.show(painted(step.patch))
            shown = step.patch
            settle_s = settled_after_s(scene, tolerance, floor, minimum_s if by_means else 0.0)
        scene.advance(settle_s + min(minimum_s, CAP_S - settle_s))
    return scene.now_s - began_s


def settled_after_s(scene: Scene, tolerance: float, floor_cd_m2: float, for_s: float = 0.0) -> float:
    """Seconds from now until the light stays within ``tolerance`` of its end; with ``for_s``, its mean over that."""
    longest_s = scene.settles_within_s
    end = scene.peek(scene.now_s + longest_s + 1.0)[1]
    allowed = tolerance * max(end, floor_cd_m2)

    def away(after_s: float) -> bool:
        return abs(scene.peek(scene.now_s + after_s)[1] - end) > allowed

    def mean_away(after_s: float) -> bool:
        began_s = scene.now_s + after_s
        lights = (scene.peek(began_s + for_s * middle)[1] * width for middle, width in CELLS)
        return abs(math.fsum(lights) - end) > allowed

    times = [0.0, *(longest_s * 1.05 ** (index - 150) for index in range(151))]
    last = max((index for index, after_s in enumerate(times) if away(after_s)), default=-1)
    if last < 0:
        return 0.0
    low, high = times[last], times[last + 1]
    if for_s:  # from the moment on that the light itself is there, its means are
        low, away = 0.0, mean_away
    for _ in range(14):
        middle = (low + high) / 2.0
        low, high = (middle, high) if away(middle) else (low, middle)
    return high


def run(case: Case, steps: Sequence[Step], folder: Path, seed: int) -> Ran:
    """The sequencer over the scene."""
    records, seconds = _records(case, steps, folder, seed)
    values: dict[str, list[float]] = {}
    taken = 0
    for record in records:
        if record.kind == "settled":
            values[record.step] = []
        elif record.kind == "reading":
            taken += 1
            values.setdefault(record.step, []).append(record.body["xyz"][1])
    means = {step: fmean(found) for step, found in values.items()}
    return Ran(seconds, means, taken, sum(len(found) for found in values.values()), records)


def achieved(case: Case, steps: Sequence[Step], runs: Sequence[Ran]) -> float:
    """Root mean square error against the truth, as a share of what was asked."""
    scene = _scene(case, 0)
    squares = []
    for step in steps:
        luminance = _end(scene, step)
        if needed_s(case, luminance) <= CAP_S:
            asked = case.repeatability * max(luminance, case.sensor.floor_cd_m2)
            squares += [((one.means[step.id] - luminance) / asked) ** 2 for one in runs]
    return math.sqrt(fmean(squares))


def remainder(case: Case, steps: Sequence[Step], runs: Sequence[Ran]) -> str:
    """Where the time over the limit goes, from the log of the first run."""
    records = runs[0].records
    spent: dict[str, float] = {}
    settling_s = counting_s = 0.0
    for record in records:
        if record.kind == "settled":
            settling_s = record.body["after_s"]
            spent[record.body["how"]] = spent.get(record.body["how"], 0.0) + settling_s
        elif record.kind == "done":
            counting_s += record.body["precision"]["time_s"] - settling_s
            settling_s = 0.0
    need_s = sum(min(CAP_S, max(SHORTEST_S, needed_s(case, _end(_scene(case, 0), step)))) for step in steps)
    told = ", ".join(f"{how} {seconds:.1f} s" for how, seconds in sorted(spent.items()))
    return f"settling {told}; counted readings {counting_s:.1f} s where {need_s:.1f} s is the least"


def _records(case: Case, steps: Sequence[Step], folder: Path, seed: int) -> tuple[list[Record], float]:
    scene = _scene(case, seed)
    path, began_s = folder / "adaptive.log", scene.now_s
    records = read_precisely(path, scene, steps, WARM_UP)
    took_s = scene.now_s - began_s
    path.unlink()
    if steps[0].kind == "warm_up":
        # With the consecutive readings at its end, which are a step of their own.
        of_warm_up = [record.kind == "done" and record.step.startswith(steps[0].id) for record in records]
        ended = len(records) - 1 - of_warm_up[::-1].index(True)
        took_s -= (records[ended].mono_ns - records[0].mono_ns) / 1e9
        del records[: ended + 1]
    return records, took_s


def _scene(case: Case, seed: int) -> Scene:
    return Scene(Display(case.model), case.sensor, seed=seed, noise="sequence")


def _end(scene: Scene, step: Step) -> float:
    scene.move(*step.at)
    scene.show(painted(step.patch))
    return scene.peek(scene.now_s + scene.settles_within_s + 1.0)[1]


def _expanded(how: str, warm_up: str = "none") -> tuple[Step, ...]:
    codes = (0, 85, 170, 255)
    lattice = ", ".join(
        f"{{name: c{r}-{g}-{b}, code: [{r}, {g}, {b}]}}" for r in codes for g in codes for b in codes if not r == g == b
    )
    text = f"plan: bench\nwarm_up: {warm_up}\nlook_again: false\n{how}{BLOCKS.replace('LATTICE', lattice)}"
    return steps_from(text)


def _counts(steps: Sequence[Step]) -> str:
    bright = next(step.readings for step in steps if not step.dark)
    dark = next(step.readings for step in steps if step.dark)
    return f"{bright} readings, dark {dark}"
