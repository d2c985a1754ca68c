"""The shape of results: what analysis hands to a report. Every figure is a `Quantity`; absent ones say why.

Tuples keep the order of the plan; each result carries its ``block``'s name and the ``method`` it follows.
``missing`` names patches that were not measured ("" when all were); figures that need them are absent.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar, Literal

from benchd.analysis.colour.target import Target
from benchd.analysis.log.precision_reached import PrecisionSummary
from benchd.analysis.log.warm_up_result import WarmUp
from benchd.analysis.meter_model.spectral import Spectral, spectral_in
from benchd.analysis.uncertainty.quantity import Quantity

if TYPE_CHECKING:  # a log that has none of these does not wait for them
    from benchd.analysis.drift.results_compensation import Compensation
    from benchd.analysis.log.results_offset import Offset
    from benchd.analysis.results_swept import Drift, Sweep

SCHEMA = "benchd.results/1"

WhiteName = Literal["white_luminance", "white_measured", "absolute"]


@dataclass(frozen=True, slots=True)
class Absent:
    """A result that could not be had: its path, such as "uniformity/grey50", and the reason."""

    result: str
    why: str


@dataclass(frozen=True, slots=True)
class Doubt:
    """What makes figures doubtful: a setting or a move that the light does not show and nobody confirmed, or readings
    of a kind for which intervals are known to fall short (`benchd.analysis.coverage_doubts`).

    ``about``: "setting", "move" or "coverage"; ``text``: a sentence without its full stop; ``steps``: those in doubt.
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
class Luminance:
    """Full-screen white and black (cd/m2) and the chromaticity of white."""

    kind: ClassVar[str] = "luminance"
    block: str
    method: str
    white: Quantity
    black: Quantity
    white_chromaticity: Chromaticity
    missing: str = ""


@dataclass(frozen=True, slots=True)
class SequentialContrast:
    """White over black, one after the other on the full screen."""

    method: str
    white: Quantity
    black: Quantity
    ratio: Quantity
    missing: str = ""


@dataclass(frozen=True, slots=True)
class Polarity:
    """One checkerboard pattern: mean of its white cells, mean of its black cells (cd/m2), their ratio."""

    name: Literal["normal", "inverse"]
    white: Quantity
    black: Quantity
    ratio: Quantity
    missing: str = ""


@dataclass(frozen=True, slots=True)
class CheckerboardContrast:
    """Both polarities; ``ratio`` is the mean of their two ratios."""

    method: str
    columns: int
    rows: int
    normal: Polarity
    inverse: Polarity
    ratio: Quantity


@dataclass(frozen=True, slots=True)
class Contrast:
    """The kinds of contrast that the block asked for; None for a kind it did not ask for."""

    kind: ClassVar[str] = "contrast"
    block: str
    sequential: SequentialContrast | None
    checkerboard: CheckerboardContrast | None


@dataclass(frozen=True, slots=True)
class StepColour:
    """Colour difference (CIEDE2000) of one step under the three conventions of `DeltaE`."""

    white_luminance: Quantity
    white_measured: Quantity
    absolute: Quantity


@dataclass(frozen=True, slots=True)
class GrayStep:
    """One grey step.

    ``code``             the code that was really shown; ``signal`` is V = code / largest code
    ``point_gamma``      the gamma of the step: ln(L / Lwhite) / ln V, black not subtracted; absent at V = 0 and V = 1
    ``local_gamma``      slope of ln(L - Lblack) on ln V from this step to the next; absent for the last and at V = 0
    ``target_luminance`` what the target's curve gives for V with the measured white (and black) luminance
    ``luminance_error``  100 (L / target - 1), %
    ``rgb_balance``      R, G, B in the target's linear primaries over the step's own luminance: its colour alone, the
                         luminance error apart; 1, 1, 1: the colour of the target's white
    ``delta_uv``         distance in u', v' from the target's white
    """

    step: str
    code: int
    signal: float
    luminance: Quantity
    chromaticity: Chromaticity
    local_gamma: Quantity
    point_gamma: Quantity
    target_luminance: Quantity
    luminance_error: Quantity
    rgb_balance: tuple[Quantity, Quantity, Quantity]
    delta_uv: Quantity
    delta_e: StepColour


@dataclass(frozen=True, slots=True)
class DeltaE:
    """Colour differences of all steps under one named convention.

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
class GammaFit:
    """A straight line through log signal and log luminance. A gamma without its ``rule`` means nothing."""

    rule: str
    white_fixed: bool
    gamma: Quantity
    max_residual: Quantity  # largest |residual| of ln L
    codes: tuple[int, ...]  # points used


@dataclass(frozen=True, slots=True)
class ContrastInterval:
    """GSDF contrast response of one interval between neighbouring steps; ``deviation`` in %."""

    code_from: int
    code_to: int
    response: Quantity
    target: Quantity
    deviation: Quantity


@dataclass(frozen=True, slots=True)
class GsdfResponse:
    """Contrast response against the GSDF; ``worst`` is the deviation of largest size, % with its sign."""

    method: str
    intervals: tuple[ContrastInterval, ...]
    worst: Quantity
    worst_interval: tuple[int, int] | None


@dataclass(frozen=True, slots=True)
class Alternative:
    """The same steps computed with another black, where black is only a bound (BT.1886)."""

    black: str
    steps: tuple[GrayStep, ...]
    delta_e: tuple[DeltaE, ...]


@dataclass(frozen=True, slots=True)
class Grayscale:
    """Grey steps against a target.

    ``patch``       how the greys were shown: "full screen" or "10 % window, surround 0 %"
    ``primary``     the convention that the plan chose; `delta_e` holds all three
    ``black``       which black the curve was computed with, as a sentence
    ``alternative`` the same with the other end of the bound on black; None when black is a value
    ``gsdf``        only for a GSDF target
    ``remarks``     what stands out: two gamma fits that disagree, a white darker than a grey; a sentence each
    """

    kind: ClassVar[str] = "grayscale"
    block: str
    method: str
    curve: str
    primary: WhiteName
    black: str
    steps: tuple[GrayStep, ...]
    delta_e: tuple[DeltaE, ...]
    gamma_fits: tuple[GammaFit, ...]
    alternative: Alternative | None
    gsdf: GsdfResponse | None
    patch: str = "full screen"
    remarks: tuple[str, ...] = ()
    missing: str = ""


@dataclass(frozen=True, slots=True)
class UniformityCell:
    """One place of a uniformity grid; row 1, column 1 is top left. Differences are from the centre cell.

    ``deviation`` in % of the centre's luminance, ``delta_uv`` in u', v', ``delta_e`` CIEDE2000 with the
    centre as white.
    """

    row: int
    column: int
    at: tuple[float, float] | None  # fractions of width and height; None when it was not measured
    luminance: Quantity
    chromaticity: Chromaticity
    deviation: Quantity
    delta_uv: Quantity
    delta_e: Quantity


@dataclass(frozen=True, slots=True)
class UniformityLevel:
    """One level of a grid. ``grid`` holds rows from the top, each from the left.

    ``non_uniformity``  (Lmax - Lmin) / Lmax, %         ``min_over_max``  Lmin / Lmax
    ``worst_deviation`` deviation from the centre of largest size, % with its sign, at ``worst_place``
    ``max_delta_uv``    largest distance from the centre; ``max_pair_delta_uv`` over all pairs of cells
    """

    level: str
    percent: float
    code: int
    columns: int
    rows: int
    centre: str | None  # "r3c3"; None for a grid without a centre cell
    grid: tuple[tuple[UniformityCell, ...], ...]
    mean: Quantity
    non_uniformity: Quantity
    min_over_max: Quantity
    worst_deviation: Quantity
    worst_place: str | None
    max_delta_uv: Quantity
    max_delta_uv_place: str | None
    max_pair_delta_uv: Quantity
    max_pair_places: tuple[str, str] | None
    max_delta_e: Quantity
    max_delta_e_place: str | None
    delta_e_convention: str
    missing: str = ""


@dataclass(frozen=True, slots=True)
class Uniformity:
    """All levels of one grid."""

    kind: ClassVar[str] = "uniformity"
    block: str
    method: str
    levels: tuple[UniformityLevel, ...]


@dataclass(frozen=True, slots=True)
class PatchResult:
    """One patch of a free list: code values that were shown, luminance, x, y and u', v'."""

    name: str
    code: tuple[int, int, int]
    bits: int
    luminance: Quantity
    x: Quantity
    y: Quantity
    u_prime: Quantity
    v_prime: Quantity


@dataclass(frozen=True, slots=True)
class Patches:
    """A free list of patches; those that were not measured are left out and named in ``missing``."""

    kind: ClassVar[str] = "patches"
    block: str
    method: str
    patches: tuple[PatchResult, ...]
    missing: str = ""


@dataclass(frozen=True, slots=True)
class Results:
    """Everything that one log says.

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
    precision: PrecisionSummary | None = None  # None: no precision was asked of any patch
    doubts: tuple[Doubt, ...] = ()
    uncertainty: Mapping[str, str | float | bool] | None = None  # what was stated of the meter; None: nothing was
    technology: str = ""  # of the display, as the bench states it

    def of(self, kind: str) -> tuple[Any, ...]:
        """The results of all blocks of one kind, in the order of the log."""
        return tuple(one for one in self.blocks.values() if one.kind == kind)

    @property
    def meter_is_stated(self) -> bool:
        """False when nothing is stated of the meter, nor of the one that it was corrected against: scatter is all."""
        correction = self.meter.get("correction")
        return self.uncertainty is not None or (
            isinstance(correction, Mapping) and correction.get("reference_uncertainty") is not None
        )

    @property
    def spectral(self) -> Spectral:
        """What the spectral errors of its readings depend on."""
        return spectral_in(self.technology, self.meter, self.uncertainty)
