"""HDR colours computed again with an independent library: what codes request, and dE ITP with its axes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from benchd.analysis.colour import reference_library as reference
from benchd.analysis.log.log_data import LogData
from benchd.analysis.results import Results
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.analysis.verdicts.cross_check import Again, Found, Kind, NotHad, averaged, rows_of
from benchd.measurements.colour_levels.results import ColourLevels


def cross_check(result: ColourLevels, block: Mapping[str, Any], results: Results, log: LogData) -> Found:
    """HDR colours against what their codes request, in BT.2020."""
    signal, lights = block["signal"], result.colours
    peak = float(signal.get("peak_cd_m2") or 0.0)
    if result.transfer != "pq" and (why := reference.no_hlg(peak)):
        every: list[Quantity | str] = [f"{result.block}/requested_luminance_cd_m2"] * len(lights)
        every += [figure for one in lights for figure in (one.delta_e_itp, one.d_i, one.d_t, one.d_p)]
        yield NotHad((*every, result.mean_delta_e_itp, result.max_delta_e_itp), why)
        return
    values = reference.signal_of([one.code for one in lights], result.bits, str(signal.get("range", "full")))
    rgb = reference.pq(values) if result.transfer == "pq" else reference.hlg(values, peak)
    aim, seen = reference.ictcp_of_rgb(rgb), reference.ictcp(rows_of(one.x for one in lights))
    axes = (seen - aim) * (720.0, 360.0, 720.0)
    kind: Kind = "PQ" if result.transfer == "pq" else "HLG"
    found: list[Again] = []
    for row, one in enumerate(lights):
        name = f"{result.block}/{one.hue}-{one.level_cd_m2:g}/requested_luminance_cd_m2"
        yield Again(kind, (name, one.requested_luminance_cd_m2), float(reference.bt2020_xyz(rgb[row])[1]))
        found.append(Again("dE ITP", one.delta_e_itp, float(reference.delta_e_itp(seen[row], aim[row]))))
        for figure, value in zip((one.d_i, one.d_t, one.d_p), axes[row], strict=True):
            yield Again("ICtCp", figure, float(value))
    yield from found
    over = (result.mean_delta_e_itp, None, None, result.max_delta_e_itp)
    yield from averaged("dE ITP", [one.delta_e_itp for one in lights], over, found)


PART = cross_check
