"""What the code of a window requests, computed again with an independent library."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from benchd.analysis.colour import reference_library as reference
from benchd.analysis.light.window_results import Windows
from benchd.analysis.log.log_data import LogData
from benchd.analysis.results import Results
from benchd.analysis.verdicts.cross_check import Again, Found, NotHad


def cross_check(result: Windows, block: Mapping[str, Any], results: Results, log: LogData) -> Found:
    """What the code of a window requests."""
    signal = block.get("signal")
    if result.requested_cd_m2 is None or not signal:
        return
    is_pq, peak = signal["transfer"] == "pq", float(signal.get("peak_cd_m2") or 0.0)
    name = f"{result.block}/requested_cd_m2"
    if not is_pq and (why := reference.no_hlg(peak)):
        yield NotHad((name,), why)
        return
    value = reference.signal_of([result.code] * 3, int(signal["bits"]), str(signal.get("range", "full")))
    again = reference.pq(value) if is_pq else reference.hlg(value, peak)
    yield Again("PQ" if is_pq else "HLG", (name, result.requested_cd_m2), float(again[0]))
