"""What chance decides in a trial: a display, a meter, what is stated of it, and how it errs."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date
from random import Random

from benchd.analysis.meter_model.stated_sources import MeterBudget, channel_gains
from benchd.profile.stated_meter import Resolution
from benchd.run.log.records import Body
from sim.displays import EMISSIVE, OFFICE_LCD, WIDE_GAMUT_LCD, DisplayModel
from sim.errors import MeterErrors
from sim.sensor import Noise, SensorModel
from tests.coverage.bench import HeavyTails

TARGETS = ("srgb", "bt1886", "power-2.2")
DECADES = range(-4, 6)
SENT: Body = {"quantities": ["X", "Y", "Z"], "units_cd_m2": [1.0]}
PERCENTS = ("calibration_percent", "linearity_percent", "drift_percent_per_year", "placement_percent")


@dataclass(frozen=True, slots=True)
class Case:
    """One trial's draws.

    ``stated``      the bench profile's statement, at k = 2; errors are drawn from it
    ``noise``       the size of the meter's noise and its floor; ``scatter`` its law, from a seed
    ``step_cd_m2``  resolution of the meter; 0: five significant digits
    ``head``        what else the log's head says
    ``walk_percent``  random walk of the light, standard deviation in one hour
    """

    model: DisplayModel
    stated: Body
    noise: SensorModel
    target: str
    readings: int
    scatter: Callable[[int], Noise] = lambda seed: Noise("sequence", seed)
    step_cd_m2: float = 0.0
    walk_percent: float = 0.0
    head: Body = field(default_factory=lambda: {"resolution": {"sent": SENT, "stated": None}})


def gaussian(dice: Random) -> Case:
    """An invented display and meter: all that is stated of it, and its noise, drawn."""
    return Case(
        model=drawn_display(dice),
        stated=drawn_statement(dice),
        noise=drawn_noise(dice),
        target=dice.choice(TARGETS),
        readings=dice.randint(3, 5),
    )


def noisy(dice: Random) -> Case:
    """The same with so little stated that the noise is about half of all."""
    case = gaussian(dice)
    return replace(case, stated=_smaller(case.stated, 0.15))


def heavy(dice: Random) -> Case:
    """Noise without a finite variance."""
    return replace(noisy(dice), scatter=HeavyTails)


def two_readings(dice: Random) -> Case:
    """Each patch is read twice."""
    return replace(noisy(dice), readings=2)


def common_mode(dice: Random) -> Case:
    """Noise of the light itself: X, Y and Z go together, and the colour scatters far less."""
    case = noisy(dice)
    return replace(case, noise=replace(case.noise, scale=dice.uniform(0.005, 0.03)))


def serial(dice: Random) -> Case:
    """Noise that lasts for some readings: correlated by 0.5 to 0.95 at the 0.2 s of one."""
    case = noisy(dice)
    lasts_s = -0.2 / math.log(dice.uniform(0.5, 0.95))
    return replace(case, scatter=lambda seed: Noise("sequence", seed, lasts_s))


def coarse(dice: Random) -> Case:
    """A meter whose last digit is about a third to a thirtieth of black, stated or not, and above its noise there."""
    case = noisy(dice)
    step = 10.0 ** round(math.log10(case.model.black_cd_m2 / dice.uniform(3.0, 30.0)))
    head: Body = {"resolution": {"sent": SENT, "stated": _stated_step(step) if dice.random() < 0.5 else None}}
    return replace(case, step_cd_m2=step, head=head)


def _stated_step(step_cd_m2: float) -> Body:
    """The step as a bench profile states it."""
    rule = Resolution.model_validate({"Y": step_cd_m2}).rules(("X", "Y", "Z"))
    return {"rules": rule, "unit_cd_m2": 1.0, "by": "the bench"}


def near_black(dice: Random) -> Case:
    """A black from 1e-4 to 1e-2 cd/m2 and a zero error of up to its size, stated; floors below and above it."""
    case = gaussian(dice)
    model = replace(
        case.model,
        white_xy=case.model.white_xy,
        black_cd_m2=math.exp(dice.uniform(math.log(1e-4), math.log(1e-2))),
        glare=EMISSIVE.glare * dice.uniform(0.01, 1.0),
    )
    floor = dice.choice((0.0, 0.0, 5e-4, 5e-3))
    stated = {**case.stated, "zero_cd_m2": dice.uniform(0.0005, 0.004)}
    return replace(case, model=model, stated=stated, noise=replace(case.noise, floor_cd_m2=floor))


def walking(dice: Random) -> Case:
    """The light wanders; the reference patch tells."""
    return replace(noisy(dice), walk_percent=math.exp(dice.uniform(math.log(0.3), math.log(3.0))))


def slow_panel(dice: Random) -> Case:
    """A share of each change of the light follows late."""
    case = gaussian(dice)
    share, tau_s = dice.uniform(0.005, 0.04), dice.uniform(0.2, 1.5)
    return replace(
        case, stated=_smaller(case.stated, 0.1), model=replace(case.model, slow_share=share, slow_tau_s=tau_s)
    )


def small_plan(dice: Random) -> Case:
    """Nothing but luminance, eleven greys and contrast, with little stated of the meter; fine and coarse ones."""
    case = noisy(dice)
    size = dice.uniform(0.5, 5.0)
    noise = SensorModel(dark_cd_m2=5e-4 * size, shot=2e-3 * size, scale=1e-3 * size)
    return replace(case, noise=noise)


def _smaller(stated: Body, share: float) -> Body:
    less = {name: share * float(stated[name]) for name in (*PERCENTS, "chromaticity_xy", "zero_cd_m2")}
    return {**stated, **less}


def drawn_display(dice: Random) -> DisplayModel:
    """An invented display: white, black, gammas, falloff and tint all drawn."""
    base = dice.choice((OFFICE_LCD, WIDE_GAMUT_LCD))
    white = math.exp(dice.uniform(math.log(80.0), math.log(600.0)))
    gamma = dice.uniform(2.0, 2.4)
    return replace(
        base,
        white_xy=(dice.gauss(0.3127, 0.008), dice.gauss(0.3290, 0.008)),
        white_cd_m2=white,
        black_cd_m2=white / math.exp(dice.uniform(math.log(500.0), math.log(2000.0))),
        black_tint=(dice.uniform(0.8, 1.2), dice.uniform(0.9, 1.1), dice.uniform(0.8, 1.3)),
        gamma=(gamma + dice.gauss(0.0, 0.03), gamma + dice.gauss(0.0, 0.03), gamma + dice.gauss(0.0, 0.03)),
        bow=dice.gauss(0.0, 0.02),
        falloff=dice.uniform(0.02, 0.2),
        tilt=(dice.gauss(0.0, 0.03), dice.gauss(0.0, 0.03)),
        colour_tilt=(dice.gauss(0.0, 0.01), dice.gauss(0.0, 0.002), dice.gauss(0.0, 0.01)),
        corner_glow=dice.uniform(0.0, 0.4),
        glare=dice.uniform(0.0002, 0.001),
    )


def drawn_statement(dice: Random) -> Body:
    """What a bench profile may state of a meter, at k = 2."""
    return {
        "k": 2.0,
        "calibration_percent": dice.uniform(0.5, 4.0),
        "chromaticity_xy": dice.uniform(0.0005, 0.004),
        "linearity_percent": dice.uniform(0.05, 0.6),
        "zero_cd_m2": dice.uniform(0.0, 0.001),
        "drift_percent_per_year": dice.uniform(0.1, 1.0),
        "placement_percent": dice.uniform(0.0, 0.6),
        "calibrated": date(2026, dice.randint(1, 6), 1).isoformat(),
    }


def drawn_noise(dice: Random) -> SensorModel:
    """A meter's noise: quieter and noisier ones than the shipped."""
    return SensorModel(
        dark_cd_m2=5e-4 * dice.uniform(0.3, 1.5),
        shot=2e-3 * dice.uniform(0.5, 2.0),
        scale=1e-3 * dice.uniform(0.3, 3.0),
    )


def drawn_errors(budget: MeterBudget, dice: Random) -> MeterErrors:
    """Errors of one meter, drawn from what is stated of it."""
    dx, dy = dice.gauss(0.0, budget.colour_x), dice.gauss(0.0, budget.colour_y)
    (x_of_dx, z_of_dx), (x_of_dy, z_of_dy) = channel_gains("x", dx), channel_gains("y", dy)
    zero = tuple(dice.gauss(0.0, budget.zero_cd_m2) for _ in range(3))
    return MeterErrors(
        scale=dice.gauss(0.0, budget.scale) + dice.gauss(0.0, budget.drift),
        gain_x=x_of_dx + x_of_dy,
        gain_z=z_of_dx + z_of_dy,
        zero=(zero[0], zero[1], zero[2]),
        linearity={decade: dice.gauss(0.0, budget.linearity) for decade in DECADES},
    )
