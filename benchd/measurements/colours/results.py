"""A list of colours against what they should be: the shape of the results and their figures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar, Literal

from benchd.analysis.catalogue_figure import Figure, figure_of
from benchd.analysis.colour.target import Target
from benchd.analysis.figure_conditions import WHITES, Conditions
from benchd.analysis.measurement import ResultPart, absences_of
from benchd.analysis.results import WhiteName
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.measurements.declared_figure import DeclaredFigure
from benchd.measurements.former_names import list_now

Aim = Literal["target_clamped", "target_unclamped"]


@dataclass(frozen=True, slots=True)
class ColourError:
    """CIEDE2000 of one colour, and its signed parts, sample minus target.

    ``total``     the colour difference
    ``lightness`` the term dL' / SL, ``chroma`` dC' / SC, ``hue`` dH' / SH: their squares and the formula's rotation
                  term make the square of ``total``. ``hue`` is absent where the target or the colour can't be
                  distinguished from grey
    """

    total: Quantity
    lightness: Quantity
    chroma: Quantity
    hue: Quantity


@dataclass(frozen=True, slots=True)
class ColourPatch:
    """One colour of a list.

    ``code``            the codes that were shown; its target is made from them, so that rounding is no error
    ``outside``         the space does not hold the colour: the codes are clamped
    ``x``, ``y``, ``luminance``  as measured; ``target_x``, ``target_y`` and ``target_luminance``, with the measured
                        white's luminance, under the aim that the plan chose
    ``error``           under the plan's aim and its convention of white, split into parts
    ``white_luminance``, ``white_measured``, ``absolute``  CIEDE2000 under each convention, with the plan's aim; the
                        absolute one None where the plan does not ask for it
    ``other_aim``       CIEDE2000 under the plan's convention with the aim that the plan did not choose
    ``cie76``, ``cie94``  under the plan's convention; None where the plan does not choose them
    """

    name: str
    code: tuple[int, int, int]
    outside: bool
    luminance: Quantity
    x: Quantity
    y: Quantity
    target_luminance: Quantity
    target_x: float | None
    target_y: float | None
    error: ColourError
    white_luminance: Quantity
    white_measured: Quantity
    absolute: Quantity | None
    other_aim: Quantity
    cie76: Quantity | None
    cie94: Quantity | None


@dataclass(frozen=True, slots=True)
class Accuracy:
    """Colour differences of all colours of a list under one aim, one convention of white and one formula.

    ``worst`` names the colours with the largest differences, largest first; percentiles are linear between ranks.
    """

    name: str
    aim: Aim
    convention: WhiteName
    formula: str
    white: str
    adaptation: str
    mean: Quantity
    median: Quantity
    percentile_95: Quantity
    maximum: Quantity
    worst: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Colours:
    """A list of colours against a space.

    ``list``, ``source``  which colours, and where their figures are from; ``space`` the space that made the codes.
                          Figures are named after the list by `former_names.list_now`
    ``primary``           name of the accuracy that the plan chose; `accuracy` holds all
    ``outside``           how many colours the space does not hold
    """

    kind: ClassVar[str] = "colours"
    block: str
    method: str
    list: str
    source: str
    patch: str
    space: str
    curve: str
    aim: Aim
    black: str
    primary: WhiteName
    outside: int
    white_luminance: Quantity
    white_x: Quantity
    white_y: Quantity
    accuracy: tuple[Accuracy, ...]
    patches: tuple[ColourPatch, ...]
    missing: str = ""


MEAN = DeclaredFigure(
    *("colour delta E mean of {}", "colours", "dE00", "less"),
    head="{}\ndE00\nmean",
    members={"cie-test-colours": "test-colours-de-mean"},
    optional=" of {}",
)
LARGEST = DeclaredFigure(
    *("colour delta E maximum of {}", "colours", "dE00", "less"),
    head="{}\ndE00\nmaximum",
    rank=2,
    members={"cie-test-colours": "test-colours-de-max"},
    optional=" of {}",
)


def _figures(one: Colours, target: Target | None) -> Iterator[Figure]:
    for accuracy in one.accuracy:
        if accuracy.convention == one.primary and accuracy.aim == one.aim and accuracy.formula.startswith("CIEDE2000"):
            how = f"{one.list} against {one.space}, {accuracy.formula}; white: {accuracy.white}"
            colours, under = list_now(one.list), _conditions(one, accuracy)
            for declared, quantity in ((MEAN, accuracy.mean), (LARGEST, accuracy.maximum)):
                named = declared.of(colours, head=one.block.rpartition("/")[2])
                yield figure_of(named, quantity, how, one.block, under)


def _conditions(one: Colours, accuracy: Accuracy) -> Conditions:
    return (
        ("space", f"{one.space}, {one.curve}"),
        ("aim", accuracy.aim),
        ("white", WHITES.get(accuracy.convention, accuracy.convention)),
        ("formula", accuracy.formula),
        ("adaptation", accuracy.adaptation),
        ("patch", one.patch),
    )


def _parts(one: Colours) -> Iterator[tuple[str, Quantity]]:
    return ((f"accuracy/{accuracy.name}", accuracy.mean) for accuracy in one.accuracy)


PART = ResultPart(
    shape=Colours,
    figures=_figures,
    absences=absences_of(parts=_parts, missing_alone=True),
    keys={(Colours, "accuracy"): "name", (Colours, "patches"): "name"},
    declared=(MEAN, LARGEST),
)
