"""The shape of results: what analysis hands to a report. Every figure is a `Quantity`; absent ones say why.

Tuples keep the order of the plan; each result carries its ``block``'s name and the ``method`` it follows.
``missing`` names patches that were not measured ("" when all were); figures that need them are absent.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from benchd.analysis.colour.target import Target
from benchd.analysis.meter_model.spectral import Spectral, spectral_in
from benchd.analysis.uncertainty.quantity import Quantity

if TYPE_CHECKING:  # a log that has none of these does not wait for them
    from benchd.analysis.log.conditions_log import RecordedCondition
    from benchd.analysis.log.results_run import Offset, PrecisionSummary, WarmUp
    from benchd.analysis.results_log import Compensation, Drift, Sweep

SCHEMA = "benchd.results/2"

WhiteName = Literal["white_luminance", "white_measured", "absolute"]


@dataclass(frozen=True, slots=True)
class Absent:
    """A result that could not be had: its path, such as "uniformity/grey50", and the reason."""

    result: str
    why: str


@dataclass(frozen=True, slots=True)
class Doubt:
    """What makes figures doubtful: a condition that was given otherwise than the display answered, a setting or a
    move that the light does not show and was not confirmed, or readings of a kind for which intervals are known to
    fall short (`benchd.analysis.doubts`).

    ``about``: "condition", "setting", "move" or "coverage"; ``text``: a sentence without its full stop;
    ``steps``: those in doubt.
    """

    about: str
    text: str
    steps: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Chromaticity:
    """Chromaticity of one colour: CIE 1931 x, y; CIE 1976 u', v'; CCT in K and Duv (positive: greenish)."""

    x: Quantity
    y: Quantity
    u_prime: Quantity
    v_prime: Quantity
    cct: Quantity
    duv: Quantity


@dataclass(frozen=True, slots=True)
class StepColour:
    """Colour difference (CIEDE2000) of one step under the conventions of `DeltaE`.

    ``absolute``  None where the plan does not ask for it
    """

    white_luminance: Quantity
    white_measured: Quantity
    absolute: Quantity | None = None


@dataclass(frozen=True, slots=True)
class DeltaE:
    """Colour differences of all steps under one named convention; "absolute" only where the plan asks for it.

    ``white``, ``adaptation`` and ``formula`` are sentences to be printed beside the figures.
    ``worst`` is the code of the step with the largest difference.
    """

    convention: WhiteName
    white: str
    adaptation: str
    formula: str
    mean: Quantity
    median: Quantity
    percentile_95: Quantity
    maximum: Quantity
    worst: int | None


@dataclass(frozen=True, slots=True)
class Results:
    """All results of one log.

    ``meter``, ``screen``, ``settings`` and ``versions`` are the log's own fields, for the head of a report.
    ``blocks`` has the result of each block under the block's name, in the order of the log; each has its ``kind``.
    ``interrupted`` is true for a log without `ended`; what was not measured is in ``absent``.
    Steps and readings are those of the plan: a warm-up again, after a gap, is in ``later_warm_ups`` only.
    """

    schema: str
    simulated: bool
    virtual_time: bool
    sample: str
    note: str
    plan: str
    target: Target | None
    meter: Mapping[str, object]
    screen: Mapping[str, object]
    settings: Mapping[str, object]
    versions: Mapping[str, object]
    started: str  # wall-clock label of the first record
    sessions: int
    interrupted: bool
    steps_planned: int
    steps_done: int
    readings: int  # readings that count
    faults: int
    warm_up: WarmUp | None
    blocks: Mapping[str, Any]
    absent: tuple[Absent, ...]
    later_warm_ups: tuple[WarmUp, ...] = ()
    sweep: Sweep | None = None
    drift: tuple[Drift, ...] = ()
    imported: str = ""  # the file that the readings were imported from; "": taken by benchd
    compensation: tuple[Compensation, ...] = ()
    offsets: tuple[Offset, ...] = ()
    precision: PrecisionSummary | None = None  # None: no repeatability was requested for any patch
    doubts: tuple[Doubt, ...] = ()
    uncertainty: Mapping[str, str | float | bool] | None = None  # what was stated of the meter; None: nothing was
    technology: str = ""  # of the display, as the bench states it
    bench_s: float = 0.0  # bench time of all sessions together
    conditions: tuple[RecordedCondition, ...] = ()  # all that can be recorded, in their order
    skipped: tuple[str, ...] = ()  # points of the sweep that the operator left out

    def of(self, kind: str) -> tuple[Any, ...]:
        """The results of all blocks of one kind, in the order of the log."""
        return tuple(one for one in self.blocks.values() if one.kind == kind)

    @property
    def meter_is_stated(self) -> bool:
        """False when nothing is stated of the meter, nor of the one that it was corrected against: noise is all."""
        correction = self.meter.get("correction")
        return self.uncertainty is not None or (
            isinstance(correction, Mapping) and correction.get("reference_uncertainty") is not None
        )

    @property
    def spectral(self) -> Spectral:
        """What the spectral errors of its readings depend on."""
        return spectral_in(self.technology, self.meter, self.uncertainty)


def units(logs: Iterable[Results]) -> int:
    """How many displays the logs are of: those of one named sample of one, each without a name of one by itself."""
    samples = [log.sample for log in logs]
    return len({sample for sample in samples if sample}) + samples.count("")
