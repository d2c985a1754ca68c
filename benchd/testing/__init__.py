"""The checks that every kind of measurement passes, benchd's own and those of other packages.

A package runs them in its own tests::

    from benchd.testing import check_measurement

    def test_gloss_ratio() -> None:
        check_measurement("gloss_ratio")
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from benchd.plan.measurement import plan_part
from benchd.testing.checks import CHECKS
from benchd.testing.example import Example, Session, on_a_shipped_bench

__all__ = ["Check", "Report", "check_measurement", "check_measurements"]


@dataclass(frozen=True, slots=True)
class Check:
    """One check of one kind. ``why`` it failed, "" where it passed; ``undone``: the reason why it is known to fail."""

    name: str
    why: str
    undone: str = ""

    @property
    def fault(self) -> str:
        """What is wrong; "" where nothing is. A known failure that passes is a fault too: its entry is to go."""
        if self.undone:
            return "" if self.why else f"passes, and is listed as undone: {self.undone}"
        return self.why


@dataclass(frozen=True, slots=True)
class Report:
    """All checks of one kind."""

    kind: str
    checks: tuple[Check, ...]

    @property
    def faults(self) -> tuple[str, ...]:
        """What is wrong, a line each."""
        return tuple(f"{self.kind}, {one.name}: {one.fault}" for one in self.checks if one.fault)


def check_measurement(kind: str, session: Session = on_a_shipped_bench) -> Report:
    """Run every check of a kind. Raises AssertionError with all that is wrong.

    ``session`` (plan job, path of the log) runs a plan to its end; left out: on a simulated bench that benchd ships.
    """
    [report] = check_measurements([kind], session)
    return report


def check_measurements(kinds: Sequence[str], session: Session = on_a_shipped_bench) -> tuple[Report, ...]:
    """As `check_measurement`, several kinds in one plan where they can stand in one, which takes less time."""
    needs_signal = [plan_part(kind).signal == "needed" for kind in kinds]
    found: dict[str, Report] = {}
    with tempfile.TemporaryDirectory(prefix="benchd-check-") as folder:
        for hdr in (False, True):
            alike = tuple(kind for kind, needs in zip(kinds, needs_signal, strict=True) if needs == hdr)
            if alike:
                example = Example(alike, hdr, Path(folder), session)
                found |= {kind: _report(kind, example) for kind in alike}
    reports = tuple(found[kind] for kind in kinds)
    assert all(len(one.checks) == len(CHECKS) for one in reports), "every check is run for every kind"
    faults = [fault for one in reports for fault in one.faults]
    assert not faults, "\n".join(faults)
    return reports


def _report(kind: str, example: Example) -> Report:
    undone = plan_part(kind).undone
    unknown = set(undone) - {check.__name__ for check in CHECKS}
    assert not unknown, f"{kind}: no such checks: {sorted(unknown)}"
    return Report(
        kind, tuple(Check(one.__name__, _failed(one, kind, example), undone.get(one.__name__, "")) for one in CHECKS)
    )


def _failed(check: Callable[[str, Example], None], kind: str, example: Example) -> str:
    try:
        check(kind, example)
    except Exception as error:  # of any kind: the report says which
        return f"{type(error).__name__}: {error}"
    return ""
