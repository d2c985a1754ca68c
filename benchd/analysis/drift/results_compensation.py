"""The shape of what drift compensation did: for every step the reading as it was, and as it is used.

The same rules as in `benchd.analysis.results`: every figure is a `Quantity`; absent ones say why.
"""

from __future__ import annotations

from dataclasses import dataclass

from benchd.analysis.uncertainty.quantity import Quantity


@dataclass(frozen=True, slots=True)
class CompensatedStep:
    """One step that was compensated.

    ``drift``  change of the reference patch from its first reading to the moment of the step, %
    ``raw``    luminance as it was read; ``luminance``: as all results use it, raw / (1 + drift)
    """

    step: str
    session: int
    drift: Quantity
    raw: Quantity
    luminance: Quantity


@dataclass(frozen=True, slots=True)
class Compensation:
    """What was done with the steps that one reference patch stands for.

    ``applied``   the results use compensated luminances; else ``why`` says why not
    ``curves``    how the reference went, one sentence a session
    ``maximum``  drift of largest size at any of ``steps``, %
    ``left_out``  bright steps that stay as they were read, and why, one sentence each
    """

    block: str
    method: str
    applied: bool
    why: str
    curves: tuple[str, ...]
    maximum: Quantity
    maximum_at: str | None
    steps: tuple[CompensatedStep, ...]
    left_out: tuple[str, ...] = ()
