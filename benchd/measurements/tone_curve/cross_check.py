"""An HDR tone curve computed again with an independent library: what codes request, errors, dE ITP."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from benchd.analysis.colour import reference_library as reference
from benchd.analysis.log.log_data import LogData
from benchd.analysis.results import Results
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.analysis.verdicts.cross_check import Again, Found, Kind, NotHad, averaged, black_of, rows_of
from benchd.measurements.tone_curve.results import ToneCurve


def cross_check(result: ToneCurve, block: Mapping[str, Any], results: Results, log: LogData) -> Found:
    """What each code requests, and how far the light is from it."""
    is_pq, steps = result.transfer == "pq", result.steps
    kind: Kind = "PQ" if is_pq else "HLG"
    peak = result.peak.value or float(block["signal"].get("peak_cd_m2") or 0.0)
    if not is_pq and (why := reference.no_hlg(peak)):
        every: list[Quantity | str] = [f"{one.step}/requested_cd_m2" for one in steps]
        every += [figure for one in steps for figure in (one.error_codes, one.delta_e_itp, one.delta_i)]
        yield NotHad((*every, result.mean_delta_e_itp, result.max_delta_e_itp), why)
        return
    black = black_of(result.black)
    signal = reference.signal_of([one.code for one in steps], result.bits, result.range)
    requested = reference.pq(signal) if is_pq else reference.hlg(np.repeat(signal[:, None], 3, -1), peak, black)[:, 0]
    for one, value in zip(steps, requested, strict=True):
        yield Again(kind, (f"{one.step}/requested_cd_m2", one.requested_cd_m2), float(value))
    xyz = rows_of(one.luminance for one in steps)
    goal = np.array([one.target.value or 0.0 for one in steps])
    delta_i = 720.0 * np.abs(reference.pq_signal(xyz[:, 1]) - reference.pq_signal(goal))
    reached = reference.pq_signal(xyz[:, 1]) if is_pq else reference.hlg_signal(xyz[:, 1], peak, black)
    aimed = reference.pq_signal(goal) if is_pq else signal
    codes = (reached - aimed) * reference.span(result.bits, result.range)
    differences = reference.delta_e_itp(
        reference.ictcp(xyz), reference.ictcp(reference.xyz_of(reference.D65, np.maximum(goal, 0.0)))
    )
    found: list[Again] = []
    for row, one in enumerate(steps):
        yield Again(kind, one.error_codes, float(codes[row]))
        yield Again("ICtCp", one.delta_i, float(delta_i[row]))
        found.append(Again("dE ITP", one.delta_e_itp, float(differences[row])))
    yield from found
    counted = [one.delta_e_itp for one in steps if one.region == "tracking"]
    yield from averaged("dE ITP", counted, (result.mean_delta_e_itp, None, None, result.max_delta_e_itp), found)


PART = cross_check
