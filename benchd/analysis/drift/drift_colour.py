"""Drift of the colour of a reference patch: how far its u', v' went, and whether that is significant.

Compensation acts on luminance only. To scale X, Y and Z each by the reference's would be right for greys alone: what a
white loses in blue, a red patch does not lose. So colour drift is reported with its size, not corrected.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import groupby

from benchd.analysis.drift.reference_curve import ReferenceCurve
from benchd.analysis.log.step_data import StepData
from benchd.analysis.log.step_light import chromaticities
from benchd.analysis.meter_model.metrology import is_noise
from benchd.analysis.results import Chromaticity
from benchd.analysis.results_log import ColourDrift
from benchd.analysis.uncertainty.cloud import Cloud
from benchd.analysis.uncertainty.quantity import Quantity, absent, composed, difference
from benchd.analysis.uncertainty.sources import effective_dof
from benchd.distributions import t_quantile

ENOUGH = 3
"""Readings in one session that a significant course needs: two always lie on a line."""
CHANCE, NORMAL = 0.01, 2.5758
"""How often a course is significant by chance, and the normal quantile of it, two-sided: those of `ReferenceCurve`."""
NS_PER_MIN = 60e9


def colour_drift(steps: Sequence[StepData], luminances: Sequence[Quantity], numbers: Mapping[str, int]) -> ColourDrift:
    """Of one reference patch, its readings in the order they were made; ``numbers`` of the sessions."""
    if len(steps) < 2:
        return ColourDrift(absent("1", "one reading shows no drift"), None, False, "")
    colours = chromaticities(steps, luminances, cct=False)
    unusable = next((one for one in colours if not one.u_prime.plain), None)
    if unusable is not None:
        return ColourDrift(absent("1", f"not every reading has a colour: {unusable.u_prime.why}"), None, False, "")
    changes = [_apart(one, colours[0]) for one in colours]
    worst = max(range(1, len(changes)), key=lambda index: changes[index].value or 0.0)
    courses = _significant_courses(steps, colours, numbers)
    words = (
        f"the colour of the reference patch drifts ({', '.join(courses)}): compensation acts on luminance only, so "
        "the colours of this run contain it"
    )
    return ColourDrift(changes[worst], steps[worst].step, bool(courses), words if courses else "")


def _apart(one: Chromaticity, first: Chromaticity) -> Quantity:
    """Distance in u', v' from the first reading; what the meter does wrong in both cancels."""
    parts = [difference(one.u_prime, first.u_prime), difference(one.v_prime, first.v_prime)]
    vector = [part.value or 0.0 for part in parts]
    nodes = [part.sources for part in parts if part.sources is not None]
    sources = Cloud([vector], [nodes]).row(0) if len(nodes) == len(parts) else None
    return composed(math.hypot(*vector), "1", parts, sources=sources)


def _significant_courses(
    steps: Sequence[StepData], colours: Sequence[Chromaticity], numbers: Mapping[str, int]
) -> list[str]:
    """Which coordinate goes how in which session, beyond its noise (1 %): "u' a line in session 1"."""
    found = []
    for session, group in groupby(range(len(steps)), key=lambda index: steps[index].session):
        own: list[int] = []
        for index in group:
            if not own or steps[index].read_ns > steps[own[-1]].read_ns:
                own.append(index)
        if len(own) < ENOUGH:
            continue
        minutes = [steps[index].read_ns / NS_PER_MIN for index in own]
        for name, values in (
            ("u'", [colours[index].u_prime for index in own]),
            ("v'", [colours[index].v_prime for index in own]),
        ):
            noise = _noise([steps[index] for index in own], values)
            if not noise:
                continue  # its noise is not known, so nothing can be beyond it
            curve = ReferenceCurve(minutes, [one.value or 0.0 for one in values], [noise] * len(own))
            if curve.model != "constant":
                found.append(f"{name} a {curve.model} in session {numbers.get(session, 0)}")
    return found


def _noise(steps: Sequence[StepData], values: Sequence[Quantity]) -> float:
    """Root mean square of what moves one reading and no other; 0 where it is not known.

    As much larger as Student's t is than the normal distribution: a standard deviation of few readings may be small by
    chance.
    """
    squares, dof = [], 0.0
    for step, value in zip(steps, values, strict=True):
        found = value.sources.contributions() if value.sources else None
        own = {source: part for source, part in (found or {}).items() if is_noise(source, step.step)}
        squares.append(math.fsum(part * part for part in own.values()))
        dof += effective_dof(own) if any(own.values()) else 0.0
    if dof < 1.0:
        return 0.0
    care = t_quantile(1.0 - CHANCE / 2.0, math.floor(dof)) / NORMAL if math.isfinite(dof) else 1.0
    return care * math.sqrt(math.fsum(squares) / len(squares))
