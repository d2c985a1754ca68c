"""A free list of patches: the shape of the results."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from benchd.analysis.catalogue_figure import Figure
from benchd.analysis.colour.target import Target
from benchd.analysis.measurement import ResultPart, absences_of
from benchd.analysis.uncertainty.quantity import Quantity


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


def _figures(one: Patches, target: Target | None) -> Iterator[Figure]:
    """None: the purpose of a free patch is known to its author only."""
    return iter(())


PART = ResultPart(shape=Patches, figures=_figures, absences=absences_of(), keys={(Patches, "patches"): "name"})
