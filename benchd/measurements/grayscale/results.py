"""Grey steps against a target: the shape of the results and their figures."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import ClassVar

from benchd.analysis.catalogue_figure import Figure, figure_of
from benchd.analysis.colour.target import Target
from benchd.analysis.figure_conditions import WHITES, Conditions, steps_text, target_text
from benchd.analysis.log.places import NOT_MEASURED
from benchd.analysis.log.room_note import noted
from benchd.analysis.measurement import ResultPart, absences_of
from benchd.analysis.results import Chromaticity, DeltaE, StepColour, WhiteName
from benchd.analysis.uncertainty.quantity import Quantity, absent, ratio
from benchd.analysis.white_figures import full_screen, white_figures
from benchd.measurements.declared_figure import DeclaredFigure

POINT_RULE = "point gamma: ln(L / Lwhite) / ln V, black not subtracted"
"""What every view shows as the gamma of a step."""
LOCAL_RULE = "local gamma: slope of ln(L - Lblack) on ln V from this step to the next, black subtracted"


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
    ``primary``     the convention that the plan chose; `delta_e` holds the others too, the absolute one only then
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


GAMMA = DeclaredFigure("gamma", "grayscale", "gamma", "nearer", "gamma", rank=1)
MEAN = DeclaredFigure(
    *("grayscale delta E mean", "grayscale", "dE00", "less", "gray-de-mean"), head="grayscale\ndE00\nmean"
)
LARGEST = DeclaredFigure(
    *("grayscale delta E maximum", "grayscale", "dE00", "less", "gray-de-max"), head="grayscale\ndE00\nmaximum", rank=2
)
DARK = DeclaredFigure("black {}", "grayscale", "xy", "nearer", headline=False)


def _figures(one: Grayscale, target: Target | None) -> Iterator[Figure]:
    for fit in one.gamma_fits:
        if fit.white_fixed:
            held = (("fit", fit.rule), ("patch", one.patch))
            yield figure_of(GAMMA, fit.gamma, fit.rule, one.block, held)
    for summary in one.delta_e:
        if summary.convention == one.primary:
            against = f"against {target.name}, " if target else ""
            how = f"{len(one.steps)} steps {against}{summary.formula}; white: {summary.white}"
            under = _of_difference(one, summary.formula, target)
            yield figure_of(MEAN, summary.mean, how, one.block, under)
            yield figure_of(LARGEST, summary.maximum, how, one.block, under)
    yield from _full_screen(one)
    dark = _of_code(one, 0)
    if dark is not None and dark.chromaticity.u_prime.plain:
        for name, quantity in (("u'", dark.chromaticity.u_prime), ("v'", dark.chromaticity.v_prime)):
            yield figure_of(DARK.of(name), quantity, "CIE 1976", one.block)


def _of_code(one: Grayscale, code: int) -> GrayStep | None:
    return next((step for step in one.steps if step.code == code), None)


def _of_difference(one: Grayscale, formula: str, target: Target | None) -> Conditions:
    """Of colour differences of grey steps under the plan's own convention."""
    return (
        ("target", target_text(target)),
        ("white", WHITES[one.primary]),
        ("formula", formula),
        ("steps", steps_text([step.code for step in one.steps], [step.signal for step in one.steps])),
        ("patch", one.patch),
    )


def _full_screen(one: Grayscale) -> Iterator[Figure]:
    """White, black and contrast of its first and last step, where they fill the screen."""
    if one.patch != "full screen":
        return
    white = next((step for step in one.steps if step.signal == 1.0), None)
    both = (white, _of_code(one, 0))
    light, dark = (step.luminance if step else absent("cd/m2", NOT_MEASURED) for step in both)
    yield from full_screen(light, dark, ratio(light, dark), one.block)
    if white:
        yield from white_figures(white.chromaticity, one.block, stand_in=True)


def _parts(one: Grayscale) -> Iterator[tuple[str, Quantity]]:
    yield from ((f"delta_e/{summary.convention}", summary.mean) for summary in one.delta_e)
    yield from ((f"gamma_fit/{_of_fit(fit)}", fit.gamma) for fit in one.gamma_fits)
    if one.gsdf:
        yield "gsdf", one.gsdf.worst


def _with_room(one: Grayscale, note: Callable[[Quantity], str]) -> Grayscale:
    if (dark := _of_code(one, 0)) is None:
        return one
    words = note(dark.luminance)
    first = replace(dark, luminance=noted(dark.luminance, words))
    steps = tuple(first if step is dark else step for step in one.steps)
    return replace(one, steps=steps, remarks=(*one.remarks, *([words] if words else [])))


def _of_fit(fit: GammaFit) -> str:
    return "white_fixed" if fit.white_fixed else "free"


PART = ResultPart(
    shape=Grayscale,
    figures=_figures,
    absences=absences_of(parts=_parts, missing_alone=True),
    with_room=_with_room,
    keys={
        (Grayscale, "delta_e"): "convention",
        (Alternative, "delta_e"): "convention",
        (Grayscale, "gamma_fits"): _of_fit,
    },
    aimed=frozenset({"target_luminance", "luminance_error", "rgb_balance", "delta_uv", "delta_e", "gsdf"}),
    names={(GrayStep, "rgb_balance"): ("red", "green", "blue")},
    declared=(GAMMA, MEAN, LARGEST, DARK),
)
