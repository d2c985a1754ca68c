"""The uncertainty of a figure as data, and in words what is known of it at all."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from types import MappingProxyType

from benchd.analysis.quantity import Quantity
from benchd.analysis.spectral import SPECTRORADIOMETER, takes_luminance

FIELDS = ("expanded_uncertainty", "standard_uncertainty", "coverage_factor", "dof", "low", "high")
"""Keys of a figure in JSON, and columns of every table (terms of JCGM 100)."""


def uncertainty_fields(quantity: Quantity) -> dict[str, float | None]:
    """Expanded and standard uncertainty, coverage factor, degrees of freedom and both ends of the 95 % interval.

    All None where the uncertainty is not known; a skew interval has its ends only, since no single U describes it.
    """
    found = quantity.stated
    if found is None or not math.isfinite(found.expanded):
        return dict.fromkeys(FIELDS)
    dof = None if math.isinf(found.dof) else found.dof
    spread = (None, None) if found.k is None else (found.expanded, found.expanded / found.k)
    values = (*spread, found.k, dof, found.low, found.high)
    return {key: None if value is None else float(value) for key, value in zip(FIELDS, values, strict=True)}


_PARTS = (
    ("calibration_percent", "scale {} %"),
    ("drift_percent_per_year", "drift {} % a year"),
    ("linearity_percent", "linearity {} %"),
    ("chromaticity_xy", "x and y of a white {}"),
    ("zero_cd_m2", "zero {} cd/m2"),
    ("placement_percent", "placing {} %"),
)
NOTHING_STATED = (
    "the bench profile states none for the meter: what follows \u00b1 is the scatter of the readings alone, not the "
    "meter's calibration"
)


def stated_words(
    stated: Mapping[str, str | float | bool] | None, meter: Mapping[str, object] = MappingProxyType({})
) -> str:
    """What is stated of the meter: ``scale 1.2 %, zero 0.0004 cd/m2 at k = 2; calibrated 0.7 years before``.

    ``meter`` as results have it: a correction and the bench's own repetition take the place of some of it.
    """
    if stated is None:
        return NOTHING_STATED
    return "; ".join([_own_words(stated), *_other_date(stated, meter), *_replaced(meter)])


def _other_date(stated: Mapping[str, str | float | bool], meter: Mapping[str, object]) -> Iterator[str]:
    own, said = stated.get("calibrated"), meter.get("calibrated")
    if own and said and own != said:
        yield f"that is the bench profile's date, {own}, while the meter itself says {said}"


def _replaced(meter: Mapping[str, object]) -> Iterator[str]:
    correction, repeated = meter.get("correction"), meter.get("repeatability")
    if isinstance(correction, Mapping) and isinstance(lent := correction.get("reference_uncertainty"), Mapping):
        what = "scale and colour" if takes_luminance(correction) else "colour"
        scale = f"scale {lent['calibration_percent']:g} %, " if what != "colour" else ""
        yield (
            f"corrected, so {what} as stated of the reference meter instead: {scale}x and y of a white "
            f"{lent['chromaticity_xy']:g}, at k = {lent['k']:g}"
        )
    if isinstance(repeated, Mapping) and repeated.get("placement"):
        yield "placing as the bench's own repetition found it instead"


def _own_words(stated: Mapping[str, str | float | bool]) -> str:
    parts = [words.format(f"{stated[key]:g}") for key, words in _PARTS if stated.get(key)]
    age = f"{stated['calibration_age_years']:.1f} years before"
    if stated.get("age_assumed"):
        age = f"at a date that is not known, taken as {age}"
    kind = " (spectroradiometer)" if stated.get("instrument") == SPECTRORADIOMETER else ""
    return f"of the meter{kind}: {', '.join(parts) or 'nothing but zeros'}, at k = {stated['k']:g}; calibrated {age}"
