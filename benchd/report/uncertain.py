"""The uncertainty of a figure as data, and in words what is known of it at all."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from types import MappingProxyType

from benchd.analysis.meter_model.printed_digits import GUESSED
from benchd.analysis.meter_model.spectral import SPECTRORADIOMETER, takes_luminance
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.analysis.uncertainty.sources import standard
from benchd.report.words import grouped

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
    "the bench profile states none for the meter: what follows \u00b1 is the standard deviation of the readings "
    "alone, not the meter's calibration"
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


MATTERS = 0.05
"""Share of a variance from which on a source is worth a word."""
FINE = 1.1e-4
"""Step over quantity, of five digits: finer than light meters repeat (common practice)."""


def _rows(meter: Mapping[str, object]) -> list[Mapping[str, object]]:
    rows = meter.get("resolution")
    return [row for row in rows if isinstance(row, Mapping)] if isinstance(rows, list) else []


def is_coarse(meter: Mapping[str, object]) -> bool:
    """May its resolution show at all?"""
    for row in _rows(meter):
        up_to = row["up_to"]
        least = up_to / 10.0 if isinstance(up_to, float) else 1.0
        if isinstance(step := row["step"], float) and step > FINE * least:
            return True
    return False


def resolution_words(meter: Mapping[str, object]) -> str:
    """The meter's resolution and how it is known: ``Y 0.01 cd/m2, x and y 0.0001, stated by dialect terse-line``."""
    several = _rows(meter)
    said = []
    for origin in dict.fromkeys(str(row["from"]) for row in several):
        own = (row for row in several if row["from"] == origin)
        steps = grouped((str(row["quantity"]), float(str(row["step"]))) for row in own)
        alike: dict[str, list[str]] = {}
        for quantity, values in steps.items():
            unit = " cd/m2" if quantity in ("X", "Y", "Z") else ""
            ends = dict.fromkeys(f"{end:.3g}" for end in (min(values), max(values)))
            alike.setdefault(" to ".join(ends) + unit, []).append(quantity)
        said.append(", ".join(f"{' and '.join(names)} {text}" for text, names in alike.items()) + f", {origin}")
    return "; ".join(said)


def serial_words(meter: Mapping[str, object]) -> str:
    """How readings hang together, and how it is known: ``0.90 +- 0.03 after 0.2 s (luminance)``."""
    found = meter.get("serial_correlation")
    if not isinstance(found, Mapping) or not found.get("known"):
        return (
            "serial correlation is not known: no warm-up of this log ended with consecutive readings; readings "
            "are taken as independent"
        )
    said = []
    for name in ("luminance", "colour"):
        lag_s, r, u = found[name][0]
        said.append(f"{r:.2f} \N{PLUS-MINUS SIGN} {2.0 * u:.2f} after {lag_s:.3g} s ({name})")
    ending = "counted" if found["counts"] else "not beyond chance, so they count as independent"
    return f"serial correlation {', '.join(said)}, from {found['source']}: {ending}"


def resolution_matters(quantities: Iterable[Quantity]) -> bool:
    """Has the meter's resolution a share in the uncertainty of any of these that is worth a word?

    One that is a guess always is where it stands in place of a standard deviation: it may be coarser.
    """
    for quantity in quantities:
        found = quantity.sources.contributions() if quantity.present and quantity.sources is not None else None
        rounding = {source: amount for source, amount in (found or {}).items() if source.group and amount}
        if found and rounding:
            share = standard(rounding) ** 2 / standard(found) ** 2
            if share >= MATTERS or any(GUESSED in source.group for source in rounding):
                return True
    return False
