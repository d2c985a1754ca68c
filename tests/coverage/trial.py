"""One trial: a display and a meter drawn at random, measured by the whole chain, held against the truth.

The interval of a figure is meant to hold what the same formula gives for the display's true light: settled, warm,
at the time and place of the measurement, for the CIE 1931 observer, whatever the meter does wrong. So the truth of a
trial is the analysis of a second log of the same display, read by a meter without noise and errors.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from random import Random

import numpy as np

from benchd.analysis.analyse import analyse
from benchd.analysis.meter_model.stated_sources import MeterBudget, budget_from
from benchd.analysis.results import Results
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.analysis.verdicts.comparison import Sample, compare
from benchd.patch.model import field
from benchd.report.data.document import Json, quantities, to_json
from benchd.report.data.log_reference import LogReference
from benchd.run.log.records import Record
from sim.displays import OFFICE_LCD, WIDE_GAMUT_LCD, Display
from sim.errors import ErringSensor, MeterErrors, Placing
from sim.inprocess import SimMeter, SimPositioner
from sim.light_drift import LightDrift
from sim.sensor import SensorModel
from sim.spectra import Triple
from sim.truth import truth_of
from tests.coverage.bench import WALL, CarelessPositioner, DrawnMeter, ExactMeter, QuickScene, measured
from tests.coverage.drawn import Case, drawn_errors
from tests.coverage.gamuts import AT_FULL, drawn_spaces, is_share
from tests.coverage.worlds import World

OF_SWEEP = re.compile(r"sweep/|.*/grayscale/code-255/delta_e/white_luminance$")
"""Of a sweep: its table, and how white differs from the target's; the other figures are those of the main plan."""
ROUNDING = 1e-9
OTHERWISE = re.compile(r"(settle_s|warm_up|readings|dark_readings|repeatability|integration_s|dark_integration_s):")
ANEW = "warm_up: none\nsettle_s: 30\ndark_settle_s: 30\nreadings: 1\ndark_readings: 1\n"
"""How the truth is read instead: each patch once, long after it has settled."""
PRIMARIES = {"red": (255, 0, 0), "green": (0, 255, 0), "blue": (0, 0, 255)}
AVERAGES: Mapping[str, Callable[[Sequence[float]], float]] = {
    "mean": np.mean,
    "median": np.median,
    "percentile_95": lambda values: float(np.percentile(values, 95.0)),
    "maximum": max,
}
DRAWN = LogReference("drawn", "0" * 64)


@dataclass(frozen=True, slots=True)
class Checked:
    """One figure of one trial.

    ``kind``   of interval: "value", "bound", or "missing" where a value has none (it holds nothing then)
    ``off``    of an interval: the truth's distance from the middle over half its width, above 1 outside
    """

    path: str
    kind: str
    held: bool
    off: float = 0.0


class Bench:
    """One drawn display before one drawn meter."""

    def __init__(self, case: Case, seed: int, errors: MeterErrors | None = None) -> None:
        dice = Random(f"bench {seed}")
        self.case, self.display = case, Display(case.model)
        self._light_drift = LightDrift(case.walk_percent, seed=seed) if case.walk_percent else None
        sensor = SensorModel(floor_cd_m2=case.noise.floor_cd_m2)
        self._scene = QuickScene(self.display, sensor, self._light_drift)
        budget = budget_of(case)
        placing = Placing(1.0 + dice.gauss(0.0, budget.placement))
        known = {name: getattr(case.noise, name) for name in ("dark_cd_m2", "shot", "scale")}
        erring = ErringSensor(**known, errors=errors or drawn_errors(budget, dice), placing=placing)
        self._meter = DrawnMeter(self._scene, erring, case.scatter(seed), case.step_cd_m2)
        self._mover = CarelessPositioner(self._scene, placing, budget.placement, dice)
        still = QuickScene(self.display, SensorModel())
        own = {name: _chromaticity(truth_of(still, field(code))) for name, code in PRIMARIES.items()}
        self._spaces = drawn_spaces(own, Random(f"gamut of {seed}"))

    def records(self, plan: str) -> Sequence[Record]:
        """What the drawn meter reads."""
        head = {"uncertainty": self.case.stated, **self.case.head}
        return measured(plan, self._scene, self._meter, self._mover, self._spaces, head)

    def run(self, plan: str) -> tuple[Results, Results]:
        """What the drawn meter found, and the truth."""
        records = self.records(plan)
        always = None
        if self._light_drift is not None:  # compensated light is that of the first reference reading
            factor = self._light_drift.factor(_first_reference_s(records))
            always = LightDrift(steps=((-1.0, 100.0 * factor - 100.0),))
        still = QuickScene(self.display, SensorModel(floor_cd_m2=0.0), always)
        once = ANEW + "".join(line for line in plan.splitlines(keepends=True) if not OTHERWISE.match(line))
        true = measured(once, still, ExactMeter(still), SimPositioner(still), self._spaces, {"uncertainty": None})
        return analyse(records), analyse(true)


def budget_of(case: Case) -> MeterBudget:
    """What is stated in a case, as the analysis will read it."""
    identity = asdict(SimMeter(QuickScene(Display(case.model), case.noise)).identify())
    budget = budget_from({"uncertainty": case.stated, "meter": identity}, WALL)
    assert budget is not None
    return budget


def trial(world: World, seed: int) -> Iterator[Checked]:
    """Every figure of one drawn display, measured by one drawn meter."""
    dice = Random(f"{world.name} {seed}")
    case, own = world.draw(dice), dice.getrandbits(32)
    if world.pair:
        yield from _pair(world, case, own)
        return
    bench = Bench(case, own)
    # What the reference patch did is no figure of the display that is compensated.
    yield from (one for one in _held(*bench.run(world.plan(case))) if not one.path.startswith("reference/"))
    if world.swept:
        yield from (one for one in _held(*bench.run(world.sweep(case))) if OF_SWEEP.match(one.path))


def _pair(world: World, case: Case, seed: int) -> Iterator[Checked]:
    """What two displays of two technologies differ by, read by one meter whose spectral errors are others for each."""
    dice = Random(f"pair {seed}")
    budget, other = budget_of(case), world.draw(dice)
    found: list[list[Sample]] = [[], []]
    errors: MeterErrors | None = None
    for number, (base, model) in enumerate(((OFFICE_LCD, case.model), (WIDE_GAMUT_LCD, other.model))):
        model = replace(model, light=base.light, filters=base.filters)
        own = drawn_errors(budget, dice)
        # Spectral are scale and colour; linearity and zero are the meter's, whatever it looks at.
        errors = own if errors is None else replace(own, zero=errors.zero, linearity=errors.linearity)
        of_one = replace(case, model=model, head={**case.head, "technology": f"invented-{number}"})
        both = Bench(of_one, 2 * seed + number, errors).run(world.plan(case))
        for samples, results in zip(found, both, strict=True):
            samples.append(Sample(f"display {number}", (results,), (f"{number:064x}",)))
    read, true = ({row.headline.name: row.differences[1] for row in compare(samples).rows} for samples in found)
    for name, one in read.items():
        aside = true.get(name)
        if one is not None and aside is not None and one.difference is not None and aside.difference is not None:
            yield from _checked(f"difference/{name}", one.difference, one.difference.interval, aside.difference.value)


def _held(read: Results, true: Results) -> Iterator[Checked]:
    truth = {path: figure["value"] for path, figure in quantities(to_json(true, DRAWN))}
    found = dict(quantities(to_json(read, DRAWN)))
    for path, figure in found.items():
        at = truth.get(path)
        if (
            "/alternative/" not in path and "without code" in figure["why"]
        ):  # an average that says itself which steps it leaves out
            at = _averaged(path, found, truth)
        ends = None if figure["low"] is None else (figure["low"], figure["high"])
        yield from _checked(path, figure.quantity, ends, at)


def _averaged(path: str, found: Mapping[str, Json], truth: Mapping[str, float | None]) -> float | None:
    """The truth of an average over the steps that the reading has; None where a sweep's table does not name them."""
    match = re.fullmatch(r"(.*)/delta_e/(\w+)/(\w+)", path)
    if match is None:
        return None
    step = re.compile(rf"{re.escape(match[1])}/code-\d+/delta_e/{match[2]}")
    known = [truth[name] for name, one in found.items() if step.fullmatch(name) and one["value"] is not None]
    return float(AVERAGES[match[3]]([one for one in known if one is not None]))


def _checked(path: str, figure: Quantity, ends: tuple[float, float] | None, at: float | None) -> Iterator[Checked]:
    value = figure.value
    if value is None or at is None:
        return
    if figure.bound is not None:
        yield Checked(path, "bound", at >= value if figure.bound == "above" else at <= value)
        return
    full = is_share(path) and at >= 100.0 - ROUNDING
    if ends is None:
        yield Checked(path, "missing", False)
        return
    low, high = ends
    if high - low <= ROUNDING * max(abs(value), ROUNDING) >= abs(at - value) and not full:
        return  # exact: white against itself, the centre against itself
    if full:
        path, at = path + AT_FULL, 100.0
    half = (high - low) / 2.0
    off = abs(at - (low + high) / 2.0) / half if half else 0.0 if at == low else math.inf
    yield Checked(path, "value", low <= at <= high, off)


def _first_reference_s(records: Sequence[Record]) -> float:
    """Scene time of the middle of the first reference readings."""
    first = next(record.step for record in records if record.kind == "shown" and record.body["block"] == "reference")
    at = [record.mono_ns * 1e-9 for record in records if record.kind == "reading" and record.step == first]
    return sum(at) / len(at)


def _chromaticity(xyz: Triple) -> tuple[float, float]:
    return xyz[0] / sum(xyz), xyz[1] / sum(xyz)
