"""Sources of uncertainty that a log's head holds of its meter, and how they move the X, Y, Z of a step.

What was stated (type B, JCGM 100:2008, 4.3): the run put the ``uncertainty`` section of the bench profile in the head.
Each figure is divided by the coverage factor ``k`` that it was stated with. Errors of the meter are the same for all
readings of one meter and calibration, so their sources are shared by all logs of it:

- scale: one factor on X, Y, Z; so is the drift since the calibration
- linearity: a factor that changes with level; independent at each power of ten of luminance and passing over
  from one to the next, so that steps of one level share it and white and black do not (common practice)
- colour x, colour y: gains of the X and the Z channel that move x and y of a white (x 0.3127, y 0.3290) by so
  much while Y stays; other colours move as such gains move them
- zero: an offset of each channel

Scale, drift and colour of a filter meter depend on the spectrum of the light: their names hold for which lights they
are the same (`meter_model.spectral`). A placing of the meter is a factor of its own each time that the meter was
moved.

What ``benchd repeat`` found (type A): how X, Y, Z change from run to run, and when the meter is put on anew. Each is a
factor on every channel, common to all steps of a run (of a placing), so that it cancels in a contrast and stays in a
luminance. It takes the place of the placement that a bench profile states.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from benchd.analysis.uncertainty.sources import WHITE_XYZ, Source, Triple, Vectors, lower_triangle

PERCENT = 0.01
DAYS_PER_YEAR = 365.25
IMPORTED, NOT_NAMED = "imported", "not named"
"""Driver and model in the log of readings that were imported, and whose meter was not named."""
YEARS_WHERE_NOT_KNOWN = 1.0
"""Age of a calibration whose date is not stated (common practice: calibrated once a year)."""

DIMMEST_DECADE, BRIGHTEST_DECADE = -4, 5


class MeterBudget(NamedTuple):
    """Standard uncertainties of one meter; 0 where nothing was stated.

    ``scale``, ``linearity``, ``drift``, ``placement``  fractions of the reading
    ``colour_x``, ``colour_y``  of the chromaticity of a white; ``zero_cd_m2`` of each channel
    ``dof``     degrees of freedom of what was stated, infinite as a rule
    ``years``   age of the calibration; ``assumed`` true where its date is not known
    """

    meter: str
    scale: float = 0.0
    linearity: float = 0.0
    drift: float = 0.0
    colour_x: float = 0.0
    colour_y: float = 0.0
    zero_cd_m2: float = 0.0
    placement: float = 0.0
    dof: float = math.inf
    years: float = 0.0
    assumed: bool = False
    known: bool = True  # which meter it is; if not, no other log is known to be of the same one
    light: str | None = ""  # which lights its spectral errors are the same for; None: those of this display only

    def vectors(self, xyz: Triple, placing: str) -> Vectors:
        """For each source the change of X, Y, Z in cd/m2 when it is off by one standard uncertainty."""
        x, y, z = xyz
        found: Vectors = []

        def factor(source: Source, u: float) -> None:
            if u:
                found.append((source, (u * x, u * y, u * z)))

        factor(self._spectral("scale"), self.scale)
        factor(self._spectral("drift since calibration"), self.drift)
        for decade, weight in decades(y):
            name = f"{self.meter}: linearity about {10.0**decade:g} cd/m2"
            factor(Source(name, self.dof, 0, self.known), weight * self.linearity)
        for axis, u in (("x", self.colour_x), ("y", self.colour_y)):
            if u:
                gain_x, gain_z = channel_gains(axis, u)
                found.append((self._spectral(f"colour {axis}"), (gain_x * x, 0.0, gain_z * z)))
        zero = self.zero_cd_m2
        for part, change in enumerate(((zero, 0.0, 0.0), (0.0, zero, 0.0), (0.0, 0.0, zero)) if zero else ()):
            found.append((Source(f"{self.meter}: zero", self.dof, part, self.known), change))
        factor(Source(f"placing {placing}", self.dof), self.placement)
        return found

    def _spectral(self, what: str) -> Source:
        """A source that depends on the spectrum, under the name of the lights that it is the same for."""
        name = f"{self.meter}: {what}"
        if self.light is None:
            return Source(name, self.dof, display=self.known)
        return Source(f"{name} on {self.light}" if self.light else name, self.dof, 0, self.known)


def decades(luminance_cd_m2: float) -> list[tuple[int, float]]:
    """The two powers of ten about a luminance with their weights, whose squares add up to 1."""
    level = math.log10(luminance_cd_m2) if luminance_cd_m2 > 0.0 else -math.inf
    if level <= DIMMEST_DECADE:
        return [(DIMMEST_DECADE, 1.0)]
    if level >= BRIGHTEST_DECADE:
        return [(BRIGHTEST_DECADE, 1.0)]
    below = math.floor(level)
    share = level - below
    size = math.hypot(share, 1.0 - share)
    return [(below, (1.0 - share) / size), (below + 1, share / size)]


def channel_gains(axis: str, change: float) -> tuple[float, float]:
    """Relative gains of X and Z that move the ``axis`` ("x" or "y") of a white by ``change`` and leave the other.

    With Y kept, dx = x (1 - x) g_X - x z g_Z and dy = -x y g_X - y z g_Z.
    """
    whole = sum(WHITE_XYZ)
    x, y, z = (one / whole for one in WHITE_XYZ)
    a, b, c, d = x * (1.0 - x), -x * z, -x * y, -y * z
    determinant = a * d - b * c
    dx, dy = (change, 0.0) if axis == "x" else (0.0, change)
    return (d * dx - b * dy) / determinant, (a * dy - c * dx) / determinant


def budget_from(head: Mapping[str, Any], started_wall: str, light: str | None = "") -> MeterBudget | None:
    """The budget in a log's head; None where the bench profile stated none.

    The age of the calibration counts to the day that the log began. ``light`` as of `MeterBudget`.
    """
    stated = head.get("uncertainty")
    if not isinstance(stated, Mapping):
        return None
    meter = head.get("meter") or {}

    def number(key: str) -> float:
        return float(stated.get(key) or 0.0)

    k = float(stated.get("k") or 2.0)
    calibrated = str(stated.get("calibrated") or meter.get("calibrated") or "")
    years, assumed = _years(calibrated, started_wall)
    name = f"meter {meter.get('model', 'not named')} {meter.get('serial_number', '')}".strip()
    xy = number("chromaticity_xy") / k
    return MeterBudget(
        meter=f"{name}, calibrated {calibrated}" if calibrated else name,
        scale=PERCENT * number("calibration_percent") / k,
        linearity=PERCENT * number("linearity_percent") / k,
        drift=PERCENT * number("drift_percent_per_year") * years / k,
        colour_x=xy,
        colour_y=xy,
        zero_cd_m2=number("zero_cd_m2") / k,
        placement=PERCENT * number("placement_percent") / k,
        years=years,
        assumed=assumed,
        known=is_known(*(meter.get(key) for key in ("model", "serial_number", "driver"))),
        light=light,
    )


def is_known(model: object, serial_number: object, driver: object) -> bool:
    """True when it is known which meter it was: by its serial number, or, imported, as the operator named it."""
    return bool(serial_number) or (driver == IMPORTED and model not in (None, "", NOT_NAMED))


def stated_in(head: Mapping[str, Any], started_wall: str) -> dict[str, str | float | bool] | None:
    """What the log's head states of the meter, with the age of its calibration in years and whether that is a guess."""
    if (budget := budget_from(head, started_wall)) is None:
        return None
    kept = {key: value for key, value in head["uncertainty"].items() if isinstance(value, (str, int, float))}
    return {**kept, "calibration_age_years": round(budget.years, 3), "age_assumed": budget.assumed}


def _years(calibrated: str, started_wall: str) -> tuple[float, bool]:
    try:
        if not calibrated:
            raise ValueError("no date")
        days = int((np.datetime64(started_wall[:10], "D") - np.datetime64(calibrated[:10], "D")).astype(int))
    except ValueError:
        return YEARS_WHERE_NOT_KNOWN, True
    return max(0, days) / DAYS_PER_YEAR, False


Matrix = Sequence[Sequence[float]]


class BenchSource(NamedTuple):
    """Triangular factors of both covariances of relative changes (columns are independent); () where not known."""

    between_runs: tuple[Triple, ...]
    between_runs_dof: float
    placement: tuple[Triple, ...]
    placement_dof: float

    def vectors(self, xyz: Triple, placing: str) -> Vectors:
        """For each part the change of X, Y, Z in cd/m2; ``placing`` identifies one placing of the meter."""
        found: Vectors = []
        for name, columns, dof in (
            ("between runs", self.between_runs, self.between_runs_dof),
            (f"placing {placing}", self.placement, self.placement_dof),
        ):
            for part, column in enumerate(columns):
                change = column[0] * xyz[0], column[1] * xyz[1], column[2] * xyz[2]
                if any(change):
                    found.append((Source(name, dof, part), change))
        return found


def bench_source(head: Mapping[str, Any]) -> BenchSource | None:
    """From a log's first record; None where its bench was never repeated with this meter."""
    found = head.get("repeatability")
    if not isinstance(found, Mapping):
        return None
    return BenchSource(
        _columns(found.get("between_runs")),
        float(found.get("between_runs_dof") or 1),
        _columns(found.get("placement")),
        float(found.get("placement_dof") or 1),
    )


def _columns(covariance: Matrix | None) -> tuple[Triple, ...]:
    """Columns of the factor in the order Y, X, Z, so that the first is all of the luminance's."""
    if not covariance:
        return ()
    order = (1, 0, 2)
    factor = lower_triangle([[covariance[i][j] for j in order] for i in order])
    return tuple((factor[1][part], factor[0][part], factor[2][part]) for part in range(3))
