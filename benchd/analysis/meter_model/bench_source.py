"""What a bench's own repeatability does to the figures of one run: sources of uncertainty from the log's head.

``benchd repeat`` found how X, Y, Z change from run to run, and when the meter is put on anew. Each is a factor on
every channel, common to all steps of a run (of a placing), so that it cancels in a contrast and stays in a luminance.
It takes the place of the placement that a bench profile states.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from benchd.analysis.uncertainty.sources import Source, Triple, Vectors, lower_triangle

Matrix = Sequence[Sequence[float]]


class BenchSource(NamedTuple):
    """Triangular factors of both covariances of relative changes (columns are independent); () where not known."""

    between_runs: tuple[Triple, ...]
    between_runs_dof: float
    placement: tuple[Triple, ...]
    placement_dof: float

    def vectors(self, xyz: Triple, placing: str) -> Vectors:
        """For each part the change of X, Y, Z in cd/m2; ``placing`` identifies one placing of the meter."""
        found: Vectors = []
        for name, columns, dof in (
            ("between runs", self.between_runs, self.between_runs_dof),
            (f"placing {placing}", self.placement, self.placement_dof),
        ):
            for part, column in enumerate(columns):
                change = column[0] * xyz[0], column[1] * xyz[1], column[2] * xyz[2]
                if any(change):
                    found.append((Source(name, dof, part), change))
        return found


def bench_source(head: Mapping[str, Any]) -> BenchSource | None:
    """From a log's first record; None where its bench was never repeated with this meter."""
    found = head.get("repeatability")
    if not isinstance(found, Mapping):
        return None
    return BenchSource(
        _columns(found.get("between_runs")),
        float(found.get("between_runs_dof") or 1),
        _columns(found.get("placement")),
        float(found.get("placement_dof") or 1),
    )


def _columns(covariance: Matrix | None) -> tuple[Triple, ...]:
    """Columns of the factor in the order Y, X, Z, so that the first is all of the luminance's."""
    if not covariance:
        return ()
    order = (1, 0, 2)
    factor = lower_triangle([[covariance[i][j] for j in order] for i in order])
    return tuple((factor[1][part], factor[0][part], factor[2][part]) for part in range(3))
