"""Which package holds which kind of measurement. Looking a kind up imports nothing; using it imports one module.

A row is two texts. The package of a kind has four modules whose names and objects are fixed, so that nothing else is
registered:

- ``plan.PART``      a `benchd.plan.measurement.PlanPart`: its keys in a plan, its steps, what a log keeps of a block
- ``results.PART``   a `benchd.analysis.measurement.ResultPart`: the shape of its results, its figures, what is absent
- ``analysis.PART``  a `benchd.analysis.measurement.Analysis`: step data -> result
- ``show.PART``      a `benchd.report.measurement.ShowPart`: its tables and plots as data

A fifth, ``cross_check.PART``, is there where a kind has colour figures of its own: a
`benchd.analysis.verdicts.cross_check.Check`, which computes them again with an independent library.

Other packages add a kind by an entry point of the group ``benchd.measurements`` (name: the kind, value: the package).
Those are read when a kind is looked up that is not built in, and a built-in kind can't be claimed. ``__init__.py`` of
a package is its docstring and, where it is not 1, ``SCHEMA``: the number of what a log keeps of its blocks.

Nobody but this module imports a measurement, and a measurement imports neither this module nor another measurement.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from importlib import import_module
from typing import Any, Literal

from benchd import __version__, installed
from benchd.errors import ClaimedTwice, KindUnknown, PackageError, PackageMissing, PackageNewer
from benchd.installed import Claim, State

PACKAGES: Mapping[str, str] = {
    kind: f"benchd.measurements.{kind}"
    for kind in (
        *("luminance", "contrast", "uniformity", "grayscale", "patches", "gamut", "colours"),
        *("peak", "sustained", "tone_curve", "halo", "colour_levels"),
    )
}
"""Kind -> package, in the order of a report."""

GROUP = installed.MEASUREMENTS

Module = Literal["plan", "results", "analysis", "show", "cross_check"]
MODULES: Mapping[Module, str] = {"plan": "PlanPart", "results": "ResultPart", "analysis": "", "show": "ShowPart"}
"""The modules that each package has, and the class of each one's ``PART``; "": a function."""


def kinds() -> tuple[str, ...]:
    """Every kind that a plan or a log may have, in the order of a report; installed ones once one was looked up."""
    return (*PACKAGES, *(kind for kind in installed.claims_so_far(GROUP) if kind not in PACKAGES))


def all_kinds() -> tuple[str, ...]:
    """As `kinds`, and what is installed is read."""
    installed.claims(GROUP)
    return kinds()


def usable_kinds() -> tuple[str, ...]:
    """As `kinds`, without those whose package can't be used."""
    return tuple(kind for kind in kinds() if kind in PACKAGES or not _fault(kind))


def is_known(kind: str) -> bool:
    """Does a package hold this kind, or claim to?"""
    return kind in PACKAGES or kind in installed.claims(GROUP)


def is_built_in(kind: str) -> bool:
    """Is the kind part of benchd itself?"""
    return kind in PACKAGES


def claim_of(kind: str) -> Claim:
    """Which package holds a kind. Raises a `PackageError`."""
    if kind in PACKAGES:
        return Claim(kind, PACKAGES[kind], "benchd", __version__)
    found = installed.claims(GROUP).get(kind)
    if not found:
        raise KindUnknown(f"this benchd knows no measurement {kind!r}, and no installed package adds one")
    return installed.the_one(_called(kind), found)


def part(kind: str, module: Module) -> Any:
    """The part that ``module`` of a kind's package holds. Raises a `PackageError` where a kind can't be used."""
    if kind in PACKAGES:
        return import_module(f"{PACKAGES[kind]}.{module}").PART
    return installed.part_of(_called(kind), claim_of(kind), module, MODULES.get(module, ""))


def cross_check_of(kind: str) -> Any:
    """The cross-check of a kind; None where it has none, or can't be used."""
    from importlib.util import find_spec

    try:
        package = claim_of(kind).package
        return None if find_spec(f"{package}.cross_check") is None else part(kind, "cross_check")
    except (PackageError, ModuleNotFoundError):
        return None


def schema(kind: str) -> int:
    """The number of what a log keeps of a kind's blocks. Raises a `PackageError`."""
    if kind in PACKAGES:
        package = import_module(PACKAGES[kind])
    else:
        package = installed.package_of(_called(kind), claim_of(kind))
    return int(getattr(package, "SCHEMA", 1))


def provenance(several: Iterable[str]) -> dict[str, dict[str, str | int]]:
    """What a log's first record states of the kinds that it has: package, version and the number of their blocks."""
    found = {kind: claim_of(kind) for kind in sorted(set(several))}
    return {
        kind: {"package": claim.distribution, "version": claim.version, "schema": schema(kind)}
        for kind, claim in found.items()
    }


def check_readable(kind: str, logged: Mapping[str, Any] | None) -> None:
    """Can a log's blocks of a kind be analysed? ``logged``: what it states of the kind (`provenance`), if anything.

    Raises a `PackageError`, whose sentence is the reason that the blocks' results are absent.
    """
    said = logged or {}
    who = f"{said.get('package', '?')} {said.get('version', '?')}"
    if not is_known(kind):
        if not said:
            raise KindUnknown(
                f"this benchd knows no measurement {kind!r}; a newer benchd took the log, or one with a package that "
                "is not installed here"
            )
        if said.get("package") == "benchd":
            raise PackageNewer(f"{_called(kind)} came with {who}, and this is benchd {__version__}; update benchd")
        raise PackageMissing(f"{_called(kind)} is of {who}, which is not installed here; install it")
    known, number = schema(kind), said.get("schema", 1)
    if number > known:
        claim = claim_of(kind)
        raise PackageNewer(
            f"{who} wrote number {number} of the blocks of {_called(kind)}, and {claim} reads up to number {known}; "
            f"update {claim.distribution}"
        )


def broken(kind: str, error: BaseException) -> PackageError:
    """What an error that the code of an installed kind raised is for everybody else."""
    return installed.broken(_called(kind), claim_of(kind), error)


def states() -> Iterator[State]:
    """Every kind and every claim; the modules of installed ones are imported."""
    for kind in PACKAGES:
        claim = claim_of(kind)
        yield State(kind, claim.distribution, claim.version, "built in")
    yield from installed.states(GROUP, _all_parts)


def _fault(kind: str) -> str:
    try:
        _all_parts(kind)
    except PackageError as error:
        return str(error)
    return ""


def _all_parts(kind: str) -> None:
    if kind in PACKAGES:
        raise ClaimedTwice(f"{_called(kind)} is benchd's own; the package can't replace it")
    for module in MODULES:
        part(kind, module)


def _called(kind: str) -> str:
    return f"measurement {kind!r}"
