"""Places of a grid computed again with an independent library: distances and CIEDE2000 from the centre."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from benchd.analysis.colour import reference_library as reference
from benchd.analysis.log.log_data import LogData
from benchd.analysis.results import Results
from benchd.analysis.verdicts.cross_check import Again, Found, rows_of
from benchd.measurements.uniformity.results import Uniformity


def cross_check(result: Uniformity, block: Mapping[str, Any], results: Results, log: LogData) -> Found:
    """Each place against the centre, and the largest distance of all pairs."""
    for level in result.levels:
        cells = [cell for row in level.grid for cell in row]
        xyz = rows_of(cell.chromaticity.x for cell in cells)
        uv = reference.uv(xyz)
        pairs = reference.apart(uv[:, None], uv[None])
        yield Again("du'v'", level.max_pair_delta_uv, float(np.max(pairs)))
        centre = len(cells) // 2
        if level.centre is None or not np.isfinite(xyz[centre]).all():
            continue
        lab = reference.lab(xyz, xyz[centre])
        delta_e = reference.delta_e(np.broadcast_to(lab[centre], lab.shape), lab)
        yield Again("du'v'", level.max_delta_uv, float(np.max(pairs[centre])))
        yield Again("CIEDE2000", level.max_delta_e, float(np.max(delta_e)))
        for cell, apart, difference in zip(cells, pairs[centre], delta_e, strict=True):
            yield Again("du'v'", cell.delta_uv, float(apart))
            yield Again("CIEDE2000", cell.delta_e, float(difference))


PART = cross_check
