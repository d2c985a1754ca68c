"""What a meter's correction does to the uncertainty of figures that were read through it.

A corrected meter reads as the reference meter did, so its scale and its colour are as sure as the reference's: they
come from what was stated of that one, under its name, so that they cancel between logs that go back to it. The
corrected meter's own linearity, zero and placement stay, and its drift counts from the day of the correction.

How both meters stood when the correction was made is part of the correction, which stands in the log's head with the
covariance of its matrix. Its independent influences are the same in every log that was read through the same file, so
that they cancel in a comparison as far as the colours agree.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, NamedTuple

from benchd.analysis.meter_model.spectral import DIGITS, spectral_of, takes_luminance, technology_of
from benchd.analysis.meter_model.stated_sources import MeterBudget, budget_from
from benchd.analysis.uncertainty.sources import Source, Triple, Vectors

Matrix = tuple[Triple, Triple, Triple]


class CorrectionSource(NamedTuple):
    """``factors``: F of each influence, which moves a corrected X, Y, Z by F times X, Y, Z.

    ``placement``  standard uncertainty, fraction of luminance, of how both meters stood at the sitting, where that is
                   not among the influences
    """

    name: str
    dof: float
    factors: tuple[Matrix, ...]
    placement: float = 0.0

    def vectors(self, xyz: Triple) -> Vectors:
        """For each influence the change of a corrected X, Y, Z in cd/m2."""
        x, y, z = xyz
        found: Vectors = []
        for part, (first, second, third) in enumerate(self.factors):
            change = (
                first[0] * x + first[1] * y + first[2] * z,
                second[0] * x + second[1] * y + second[2] * z,
                third[0] * x + third[1] * y + third[2] * z,
            )
            found.append((Source(self.name, self.dof, part, True), change))
        if self.placement:
            u = self.placement
            found.append((Source(f"placing at the sitting of {self.name}", shared=True), (u * x, u * y, u * z)))
        return found


def meter_of(head: Mapping[str, Any]) -> dict[str, Any]:
    """The meter of a log for its results: its identity, what it was corrected by (without the covariance), and how
    well the bench repeated itself with it."""
    meter = dict(head.get("meter") or {})
    correction = head.get("correction")
    if isinstance(correction, Mapping):
        meter["correction"] = {key: value for key, value in correction.items() if key != "covariance"}
    if isinstance(head.get("repeatability"), Mapping):
        meter["repeatability"] = dict(head["repeatability"])
    return meter


def correction_source(head: Mapping[str, Any]) -> CorrectionSource | None:
    """From a log's first record; None where nothing was corrected, or nothing is known of how sure the matrix is."""
    correction = head.get("correction")
    if not isinstance(correction, Mapping):
        return None
    factors: tuple[Matrix, ...] = ()
    if correction.get("covariance"):
        from benchd.analysis.meter_model.correction import influences  # numpy's linear algebra, for such logs only

        (a, b, c), (d, e, f), (g, h, i) = correction["matrix"]
        factors = influences(correction["covariance"], ((a, b, c), (d, e, f), (g, h, i)))
    placement = 0.0
    if takes_luminance(correction) and correction.get("placement_percent") is None:
        several = (head.get("uncertainty"), correction.get("reference_uncertainty"))
        placement = math.hypot(*(_placement(stated) for stated in several))
    if not factors and not placement:
        return None
    dof = float(correction.get("dof") or math.inf)
    name = f"correction {correction['name']} {correction.get('digest', '')[:DIGITS]}"
    return CorrectionSource(name, dof, factors, placement)


def _placement(stated: object) -> float:
    """Standard uncertainty of luminance, as a fraction, of how a meter stands."""
    if not isinstance(stated, Mapping):
        return 0.0
    return float(stated.get("placement_percent") or 0.0) / 100.0 / float(stated.get("k") or 2.0)


OWN_ONLY = {"linearity_percent": 0.0, "zero_cd_m2": 0.0, "placement_percent": 0.0}
"""What a reference meter does not hand on."""


def budgets_from(head: Mapping[str, Any], started_wall: str) -> tuple[MeterBudget | None, MeterBudget | None]:
    """Budget of the meter that was read, and of the reference meter of its correction.

    The second is None without a correction, and where nothing was stated of the reference meter: then all is as the
    bench states it of the meter itself.
    """
    correction = head.get("correction")
    technology = technology_of(head)
    light = spectral_of(technology, correction, head.get("uncertainty")).light
    own = budget_from(head, started_wall, light)
    handed_on = correction.get("reference_uncertainty") if isinstance(correction, Mapping) else None
    if not isinstance(correction, Mapping) or not isinstance(handed_on, Mapping):
        return own, None
    lent: dict[str, Any] = {**handed_on, **OWN_ONLY}
    if own is not None:
        stated: dict[str, Any] = {**head["uncertainty"], "chromaticity_xy": 0.0}
        if not takes_luminance(correction):
            # Luminance is left as the meter reads it, so its scale is its own.
            lent |= {"calibration_percent": 0.0, "drift_percent_per_year": 0.0}
        else:
            stated |= {"calibration_percent": 0.0, "calibrated": correction["made"]}
        renamed = budget_from({**head, "uncertainty": stated}, started_wall, light)
        own = renamed._replace(meter=own.meter) if renamed is not None else None
    light = spectral_of(technology, correction, handed_on, corrected=False).light
    lent_head = {"uncertainty": lent, "meter": correction["reference_meter"]}
    return own, budget_from(lent_head, str(correction["made"]), light)
