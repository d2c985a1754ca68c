"""The worlds of the study: what the readings are like, which plan is run in it, and what is asked of the intervals."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from random import Random

from tests.coverage import drawn
from tests.coverage.drawn import Case

BLOCKS = """\
  - luminance: {}
  - grayscale: {steps: 7, white: target}
  - contrast: {kinds: [sequential, checkerboard]}
  - uniformity: {grid: 3x3}
  - gamut: {spaces: [short, edge, near, far]}
"""
FEW = """\
  - luminance: {}
  - grayscale: {steps: 11, white: target}
  - contrast: {kinds: [sequential]}
"""
SEVERAL = """\
  - luminance: {}
  - grayscale: {steps: 7, white: target}
  - contrast: {kinds: [sequential]}
  - uniformity: {grid: 3x3}
"""
SWEEP = """\
sweep:
  - {control: preset, values: [standard, warm]}
  - {control: brightness, values: [20, 100]}
"""
SWEPT = """\
  - luminance: {}
  - grayscale: {codes: [0, 128, 255], white: target, only: [{brightness: 100}]}
"""
COUNTED = "settle_s: 1\nwarm_up: none\n"
TIMED = "settle_s: 1\nwarm_up: {minutes: 12}\nintegration_s: 0.2\ndark_integration_s: 1\n"
REFERENCED = "settle_s: 10\nwarm_up: none\nreference: {every_min: 1}\n"
ADAPTIVE = "warm_up: {minutes: 20}\nrepeatability: 0.5 %\n"


@dataclass(frozen=True, slots=True)
class World:
    """One column of the table.

    ``draw``    the trial's case
    ``how``     the plan's keys beside its blocks; ``counted``: with numbers of readings
    ``blocks``  its blocks; ``swept``: a sweep too, in a log of its own
    ``pair``    two displays of two technologies, compared; else one
    ``least``   share of intervals that must hold the truth; ``widest`` the most that their width may be, see `Tally`
    """

    name: str
    title: str
    about: str
    draw: Callable[[Random], Case]
    how: str = COUNTED
    blocks: str = BLOCKS
    counted: bool = True
    swept: bool = True
    pair: bool = False
    least: float = 0.93
    widest: float = 1.3

    def plan(self, case: Case) -> str:
        """The main plan for a case."""
        return self._plan(case, self.how, self.blocks)

    def sweep(self, case: Case) -> str:
        """The plan of the sweep."""
        return self._plan(case, self.how + SWEEP, SWEPT)

    def _plan(self, case: Case, how: str, blocks: str) -> str:
        head = f"plan: coverage\ntarget: {case.target}\nlook_again: false\n{how}"
        dark = case.readings if case.readings <= 2 else case.readings + 2
        count = f"readings: {case.readings}\ndark_readings: {dark}\n" if self.counted else ""
        return f"{head}{count}blocks:\n{blocks}"


WORLDS = (
    World(
        "gaussian",
        "Gaussian",
        "3 to 5 readings, independent Gaussian noise, errors of the meter drawn from what is stated of it",
        drawn.gaussian,
    ),
    World(
        "heavy-tails",
        "heavy tails",
        "noise after Student's t with 2 degrees of freedom; here and in all worlds to the right but near black and "
        "slow settling, 15 % of what is stated of the first world's meter, so that the noise shows",
        drawn.heavy,
    ),
    World("two-readings", "n = 2", "two readings of each patch, bright or dark", drawn.two_readings),
    World(
        "common-mode",
        "common-mode noise",
        "X, Y and Z scatter together by 0.5 to 3 % at 0.2 s, far more than the colour does",
        drawn.common_mode,
    ),
    World(
        "serial",
        "serial correlation",
        "noise correlated by 0.5 to 0.95 from one reading of 0.2 s to the next, over patches too; after a warm-up",
        drawn.serial,
        how=TIMED,
        least=0.90,
    ),
    World(
        "resolution",
        "resolution",
        "a last digit of a power of ten, a hundredth of black to all of it, above the noise there; half of the benches "
        "state it",
        drawn.coarse,
        widest=1.6,
    ),
    World(
        "near-black",
        "near black",
        "black 1e-4 to 1e-2 cd/m2 with a zero error stated as 0.0005 to 0.004 (k = 2); no floor, or one to 0.005",
        drawn.near_black,
    ),
    World(
        "random-walk",
        "random-walk drift",
        "the light walks by 0.3 to 3 % an hour (standard deviation); a reference every minute, compensated",
        drawn.walking,
        how=REFERENCED,
        swept=False,
        widest=1.6,
    ),
    World(
        "two-technologies",
        "two technologies",
        "the difference of two displays of two stated technologies, read by one meter whose errors of scale and colour "
        "are drawn for each apart",
        drawn.noisy,
        swept=False,
        pair=True,
    ),
    World(
        "slow-settling",
        "slow settling",
        "0.5 to 4 % of each change with 0.2 to 1.5 s, read to 0.5 % after a warm-up of 20 minutes",
        drawn.slow_panel,
        how=ADAPTIVE,
        blocks=SEVERAL,
        counted=False,
        swept=False,
    ),
    World(
        "small-plan",
        "small plan",
        "luminance, 11 greys and contrast to 0.5 % after a warm-up of 20 minutes; meters of half to five times the "
        "usual noise",
        drawn.small_plan,
        how=ADAPTIVE,
        blocks=FEW,
        counted=False,
        swept=False,
    ),
)
BY_NAME = {world.name: world for world in WORLDS}
