"""What a log's head says of the meter's resolution, so that analysis needs no profile."""

from __future__ import annotations

from benchd.instruments.answers import UNITS_CD_M2
from benchd.plan.resolution import FORMS
from benchd.run.job import BenchJob
from benchd.run.records import Body


def resolution_head(bench_job: BenchJob | None) -> Body:
    """``sent``: quantities of the meter's answers, and what their light may be in, in cd/m2.

    ``stated``: the rule of each quantity (None: none is stated), the unit of its light in cd/m2, and who states it;
    None where nobody does.
    """
    quantities: tuple[str, ...] = FORMS[0]
    units_cd_m2 = [1.0]
    stated, by = None, ""
    if bench_job is not None:
        dialect = bench_job.dialect
        if dialect is not None:
            quantities = dialect.measure.quantities
            names = [dialect.unit] if dialect.unit is not None else sorted(set(dialect.units.values()))
            units_cd_m2 = [dialect.scale * UNITS_CD_M2[name] for name in names]
            stated, by = dialect.resolution, f"dialect {dialect.name}"
        if bench_job.bench.meter.resolution is not None:
            stated, by = bench_job.bench.meter.resolution, f"bench {bench_job.bench.bench}"
    return {
        "sent": {"quantities": list(quantities), "units_cd_m2": units_cd_m2},
        # Where answers name their unit, the coarsest that they may be in.
        "stated": stated and {"rules": stated.rules(quantities), "unit_cd_m2": max(units_cd_m2), "by": by},
    }
