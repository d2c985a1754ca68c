"""Luminance and chromaticity of a step from its readings: a value, a bound, or absent.

Where the 95 % coverage interval of a dark patch reaches zero, or its mean lies below the meter's specified range, its
luminance is a bound. The labels of dim patches are after Currie (1968), ISO 11843 and ISO 11929 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from benchd.analysis.colour import colorimetry as colour
from benchd.analysis.log.log_data import BLACK
from benchd.analysis.log.luminance_only import WHY as LUMINANCE_ALONE
from benchd.analysis.log.luminance_only import is_luminance_alone
from benchd.analysis.log.places import NOT_MEASURED
from benchd.analysis.log.step_data import StepData
from benchd.analysis.results import Chromaticity
from benchd.analysis.uncertainty.quantity import Quantity, Status, absent, with_note
from benchd.analysis.uncertainty.sources import NORMAL, Node, OfLight, Stated, stated

DEVIATION_NOT_KNOWN = "a single reading: its standard deviation is not known and not counted"
LUMINANCE_UNIT = "cd/m2"

DETECTION = 3.29
"""Detection limit in standard uncertainties of the mean: 2 t(0.95) (factors after Currie 1968). It only labels."""
QUANTIFICATION = 10.0
"""Quantification limit in the same unit (Currie 1968). It only labels."""
DIM_CD_M2 = 0.1
"""Below this light is dim enough for noise to be the meter's own (common practice)."""


class MeterRange(NamedTuple):
    """The meter's specified luminance range in cd/m2; None where it is not known."""

    floor: float | None = None
    ceiling: float | None = None

    @classmethod
    def of(cls, meter: Mapping[str, Any]) -> MeterRange:
        """From the meter's identity in the log."""
        floor, ceiling = meter.get("floor_cd_m2"), meter.get("ceiling_cd_m2")
        return cls(None if floor is None else float(floor), None if ceiling is None else float(ceiling))


def luminance_of(measured: StepData | None, meter: MeterRange) -> Quantity:
    """Luminance in cd/m2 of one step. With mean m and its expanded uncertainty U (95 %, every source counted):

    - some readings over range: an ``above`` bound at the end of the range (else at the mean that was read)
    - m - U not above zero, m below the meter's specified range, or readings that the meter marked under range: a
      ``below`` bound at the larger of max(m, 0) + U and the lower limit of the range
    - else the value. Below ten standard uncertainties a note says how well it is detected (after Currie 1968)

    Bright light of a patch that is not black (from 0.1 cd/m2 and ten times the floor) is a value whatever its
    standard deviation, with a note: that is the light's or the operator's, not the meter's floor. The two-sided U in
    place of a one-sided one: the rule looks at the value first, and a one-sided bound chosen so holds too seldom
    (compare Feldman and Cousins, Phys. Rev. D 57 (1998) 3873, from memory).
    """
    if measured is None:
        return absent(LUMINANCE_UNIT, NOT_MEASURED)
    if measured.n == 0:
        return absent(LUMINANCE_UNIT, "it has no readings")
    if measured.over:
        return _over_range(measured, meter)
    mean, s = _mean_and_standard_deviation(measured)
    if mean is None and not measured.under:
        return absent(LUMINANCE_UNIT, "its readings have no values", measured.records)
    if measured.under or mean is None:
        return _under_range(measured, meter, mean)
    floor = meter.floor or 0.0
    if measured.code != BLACK and mean >= max(DIM_CD_M2, 10.0 * floor):
        wide = s is not None and mean < QUANTIFICATION * s / math.sqrt(measured.figures)
        note = f"the standard deviation of the readings is {100.0 * (s or 0.0) / mean:.0f} %" if wide else ""
        return _value(measured, mean, s, note)
    reach = _reach(measured, mean)
    stated_only = None if reach is not None else _reach(_at(measured, mean), mean)
    if stated_only is not None and (mean < floor or mean - stated_only.expanded <= 0.0):
        return with_note(_below(measured, meter, mean, stated_only, known=False), DEVIATION_NOT_KNOWN)
    if reach is None or reach.expanded <= 0.0:
        # No standard deviation is known, or it is zero: only the meter's range is left to judge by.
        if mean == 0.0 and meter.floor is None:
            return _value(measured, mean, s, "reads zero, and the lower limit of the meter's range is not known")
        if mean > 0.0 and mean >= floor:
            return _value(measured, mean, s, DEVIATION_NOT_KNOWN if reach is None else "")
        return _below(measured, meter, mean, reach)
    if mean < floor or mean - reach.expanded <= 0.0:
        return _below(measured, meter, mean, reach)
    return _value(measured, mean, s, _near_floor(mean, reach))


def _reach(measured: StepData, mean: float) -> Stated | None:
    """The expanded uncertainty of the mean of Y with every source; None where the noise is not known."""
    found = OfLight(measured, "Y").contributions()
    return None if found is None else stated(mean, found)


def _near_floor(mean: float, reach: Stated) -> str:
    """The label of a dim light; "" above ten standard uncertainties."""
    u = reach.expanded / (reach.k or NORMAL)
    if mean >= QUANTIFICATION * u:
        return ""
    seen = "detected" if mean >= DETECTION * u else "below the detection limit"
    return f"near the meter's noise floor: {seen}, below the quantification limit"


def _mean_and_standard_deviation(measured: StepData) -> tuple[float | None, float | None]:
    s = None if measured.covariance is None else math.sqrt(measured.covariance[1])
    return (None if measured.mean is None else measured.mean[1]), s


def _value(measured: StepData, mean: float, s: float | None, note: str) -> Quantity:
    status: Status = "unstable" if measured.unstable else "ok"
    flagged = f"the meter flagged {measured.unstable} of {measured.n} readings as unstable"
    unstable = flagged if measured.unstable else ""  # a warm-up that was stable may have such readings, too
    sources = OfLight(measured, "Y")
    quantity = Quantity(mean, LUMINANCE_UNIT, measured.n, s, status, None, note, measured.records, sources)
    return with_note(quantity, unstable)


def _under_range(measured: StepData, meter: MeterRange, mean: float | None) -> Quantity:
    """Readings without a figure lie below the lower limit as the meter sees it: off by its zero and its scale.

    So the bound is the limit with what is stated of the meter there, or what the figures among them allow.
    """
    if meter.floor is None:
        return absent(LUMINANCE_UNIT, "under the meter's range, whose lower limit is not known", measured.records)
    at_limit = _at(measured, meter.floor)
    found = _below(at_limit, meter, meter.floor, _reach(at_limit, meter.floor))
    if mean is not None and mean > meter.floor:
        found = _below(measured, meter, mean, _reach(measured, mean))
    else:
        beyond = "" if found.value == meter.floor else ", with what is stated of the meter there"
        found = found._replace(why=f"below the meter's specified range ({meter.floor:g} cd/m2){beyond}")
    return with_note(found, f"{measured.under} of {measured.n} readings were under range")


def _below(measured: StepData, meter: MeterRange, mean: float, reach: Stated | None, *, known: bool = True) -> Quantity:
    """The luminance is only known to be below something; ``known``: ``reach`` includes the noise of the readings."""
    expanded = 0.0 if reach is None else reach.expanded
    known_at_all = reach is not None or meter.floor is not None
    upper = max(meter.floor or 0.0, max(mean, 0.0) + expanded) if known_at_all else 0.0
    if not upper:
        why = "not above zero, and neither its standard deviation nor the lower limit of the meter's range is known"
        return absent(LUMINANCE_UNIT, why, measured.records)
    why = ""
    if meter.floor is not None and mean < meter.floor:
        why = f"below the meter's specified range ({meter.floor:g} cd/m2)"
    if upper != meter.floor:
        zero = ", which reaches zero" if mean <= expanded else ""
        why += f"{'; ' if why else ''}a bound: the upper end of its 95 % coverage interval{zero}"
    bound = Quantity(upper, LUMINANCE_UNIT, measured.n, None, "under", "below", why, measured.records)
    return bound if reach is None or not known else bound._replace(sources=OfLight(measured, "Y"), estimate=mean)


def _over_range(measured: StepData, meter: MeterRange) -> Quantity:
    if measured.under:
        return absent(LUMINANCE_UNIT, "some readings were under and some over range", measured.records)
    why = f"{measured.over} of {measured.n} readings were over the meter's range"
    # A figure that came with the mark may be of a lower range than the meter's widest.
    known = [one for one in (meter.ceiling, None if measured.mean is None else measured.mean[1]) if one is not None]
    lower = min(known, default=None)
    if lower is None:
        return absent(LUMINANCE_UNIT, f"{why}, whose upper limit is not known", measured.records)
    reach = _reach(_at(measured, lower), lower)  # the limit as the meter sees it is off by its scale
    if reach is not None and reach.expanded > 0.0:
        lower, why = lower - reach.expanded, f"{why}; the limit less what is stated of the meter there"
    return Quantity(max(lower, 0.0), LUMINANCE_UNIT, measured.n, None, "over", "above", why, measured.records)


def _at(measured: StepData, luminance_cd_m2: float) -> StepData:
    """The step as if all its readings were just at a limit of the meter's range, without noise of their own."""
    limit = (luminance_cd_m2, luminance_cd_m2, luminance_cd_m2)
    return measured._replace(mean=limit, covariance=(0.0,) * 6, figures=max(1, measured.figures))


def chromaticities(
    several: Sequence[StepData | None], luminances: Sequence[Quantity], *, cct: bool = True
) -> list[Chromaticity]:
    """Chromaticity of each step, in order, computed together; ``luminances`` are those of the same steps.

    Standard deviations are those of single readings, carried to first order from their covariance. A step whose
    luminance is a bound has no chromaticity. ``cct=False`` leaves CCT and Duv out.
    """
    found: list[Chromaticity] = []
    for start in range(0, len(several), CHUNK):
        part = slice(start, start + CHUNK)
        found += _chromaticities(several[part], luminances[part], cct)
    return found


CHUNK = 4096
"""Steps computed at once: bounds the memory of the arrays."""


def _chromaticities(
    several: Sequence[StepData | None], luminances: Sequence[Quantity], cct: bool
) -> list[Chromaticity]:
    found: list[Chromaticity] = []
    usable: list[tuple[int, StepData]] = []
    for index, (measured, luminance) in enumerate(zip(several, luminances, strict=True)):
        if measured is not None and is_luminance_alone(measured.mean):
            found.append(_no_chromaticity(f"no chromaticity: {LUMINANCE_ALONE}", measured))
        elif measured is not None and measured.mean is not None and luminance.plain and luminance.value:
            usable.append((index, measured))
            found.append(NO_COLOUR)
        else:
            why = luminance.why or "no chromaticity without light"
            found.append(_no_chromaticity(f"no chromaticity: {why}" if luminance.bound else why, measured))
    if usable:
        values, deviations, slopes = _figures([measured for _, measured in usable], cct)
        for (index, measured), row, s, slope in zip(usable, values, deviations, slopes, strict=True):
            found[index] = _chromaticity(measured, luminances[index], row, s, slope)
    return found


UNITS = ("1", "1", "1", "1", "K", "1")
FORMULAE = ("x", "y", "u'", "v'")
"""Figures whose derivatives `benchd.analysis.uncertainty.sources.gradient_of` knows."""

Slopes = Sequence[Sequence[float]]


def _figures(
    several: Sequence[StepData], cct: bool
) -> tuple[list[list[float]], list[list[float] | None], Sequence[Slopes | None]]:
    """x, y, u', v', CCT, Duv of each step, their standard deviations (None without covariance), and the derivatives
    of all six by X, Y, Z (axis first; None where CCT and Duv are not wanted).
    """
    means = np.array([measured.mean for measured in several])
    # Central differences over a ten-thousandth of the luminance: far above rounding, far below curvature.
    h = 1e-4 * means[:, 1]
    nudges = np.zeros((7, 3))
    nudges[1:4], nudges[4:7] = np.eye(3), -np.eye(3)
    xyz = means[:, None, :] + h[:, None, None] * nudges
    cct_duv = np.stack(colour.cct_duv(xyz), axis=-1) if cct else np.full((*xyz.shape[:-1], 2), np.nan)
    values = np.concatenate([colour.xy_from_xyz(xyz), colour.uv_from_xyz(xyz), cct_duv], axis=-1)
    slopes = (values[:, 1:4, :] - values[:, 4:7, :]) / (2.0 * h)[:, None, None]
    deviations: list[list[float] | None] = [None] * len(several)
    with_covariance = [i for i, measured in enumerate(several) if measured.covariance is not None]
    if with_covariance:
        flat = np.array([several[i].covariance for i in with_covariance])
        covariance = flat[:, [[0, 3, 4], [3, 1, 5], [4, 5, 2]]]
        part = slopes[with_covariance]
        variance = np.einsum("nik,nij,njk->nk", part, covariance, part)
        for i, row in zip(with_covariance, np.sqrt(np.maximum(variance, 0.0)).tolist(), strict=True):
            deviations[i] = row
    return values[:, 0, :].tolist(), deviations, slopes.tolist() if cct else [None] * len(several)


def _chromaticity(
    measured: StepData, luminance: Quantity, row: list[float], deviations: list[float] | None, slopes: Slopes | None
) -> Chromaticity:
    """Six figures of one step; without ``slopes`` four."""
    n, status, why, records = measured.n, luminance.status, luminance.why, measured.records

    def quantity(k: int) -> Quantity:
        value = row[k]
        if not math.isfinite(value):
            return absent(UNITS[k], _why_no_figure(k, row), records)
        s = deviations[k] if deviations and math.isfinite(deviations[k]) else None
        if k < 4 or slopes is None:
            sources: Node | None = OfLight(measured, FORMULAE[k % 4])
        else:
            gradient = slopes[0][k], slopes[1][k], slopes[2][k]
            sources = OfLight(measured, gradient) if math.isfinite(sum(gradient)) else None
        return Quantity(value, UNITS[k], n, s, status, None, why, records, sources)

    if slopes is not None:
        return Chromaticity(*(quantity(k) for k in range(6)))
    if deviations is None or not math.isfinite(sum(row[:4]) + sum(deviations[:4])):
        return Chromaticity(quantity(0), quantity(1), quantity(2), quantity(3), NO_COLOUR.cct, NO_COLOUR.duv)
    # Nothing special about this one, as about most of a long list: made without checks figure by figure.
    (x, y, u, v), (s_x, s_y, s_u, s_v) = row[:4], deviations[:4]
    return Chromaticity(
        Quantity(x, "1", n, s_x, status, None, why, records, OfLight(measured, "x")),
        Quantity(y, "1", n, s_y, status, None, why, records, OfLight(measured, "y")),
        Quantity(u, "1", n, s_u, status, None, why, records, OfLight(measured, "u'")),
        Quantity(v, "1", n, s_v, status, None, why, records, OfLight(measured, "v'")),
        NO_COLOUR.cct,
        NO_COLOUR.duv,
    )


def _why_no_figure(k: int, row: list[float]) -> str:
    if k < 4:
        return "no chromaticity without light"
    if math.isfinite(row[5]):
        return f"Duv {row[5]:+.3f} is farther than {colour.DUV_LIMIT} from the Planckian locus"
    low, high = colour.CCT_RANGE_K
    return f"no nearest point on the Planckian locus between {low:g} and {high:g} K"


def _no_chromaticity(why: str, measured: StepData | None) -> Chromaticity:
    records = () if measured is None else measured.records
    return Chromaticity(*(absent(unit, why, records) for unit in UNITS))


NO_COLOUR = _no_chromaticity("not computed", None)
