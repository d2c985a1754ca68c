"""Which package holds which kind of measurement. Looking a kind up imports nothing; using it imports one module.

A row is two texts. The package of a kind has four modules whose names and objects are fixed, so that nothing else is
registered:

- ``plan.PART``      a `benchd.plan.measurement.PlanPart`: its keys in a plan, its steps, what a log keeps of a block
- ``results.PART``   a `benchd.analysis.measurement.ResultPart`: the shape of its results, its figures, what is absent
- ``analysis.PART``  a `benchd.analysis.measurement.Analysis`: step data -> result
- ``show.PART``      a `benchd.report.measurement.ShowPart`: its tables and plots as data

A fifth, ``cross_check.PART``, is there where a kind has colour figures of its own: a
`benchd.analysis.verdicts.cross_check.Check`, which computes them again with an independent library.

Nobody but this module imports a measurement, and a measurement imports neither this module nor another measurement.
"""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module
from typing import Any, Literal

PACKAGES: Mapping[str, str] = {
    kind: f"benchd.measurements.{kind}"
    for kind in (
        *("luminance", "contrast", "uniformity", "grayscale", "patches", "gamut", "colours"),
        *("peak", "sustained", "tone_curve", "halo", "colour_levels"),
    )
}
"""Kind -> package, in the order of a report."""

Module = Literal["plan", "results", "analysis", "show", "cross_check"]


def kinds() -> tuple[str, ...]:
    """Every kind that a plan or a log may have, in the order of a report."""
    return tuple(PACKAGES)


def is_known(kind: str) -> bool:
    """Does a package hold this kind?"""
    return kind in PACKAGES


def part(kind: str, module: Module) -> Any:
    """The part that ``module`` of a kind's package holds. Raises KeyError for a kind that `is_known` denies."""
    return import_module(f"{PACKAGES[kind]}.{module}").PART


def cross_check_of(kind: str) -> Any:
    """The cross-check of a kind; None where it has none."""
    from importlib.util import find_spec

    package = PACKAGES.get(kind)
    return None if package is None or find_spec(f"{package}.cross_check") is None else part(kind, "cross_check")
