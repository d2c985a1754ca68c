"""Packages beside benchd that add a measurement or a driver: found by their entry points, imported when they are used.

An entry point is two texts, a name and a package; it is read, never loaded. The package says in its ``__init__.py`` for
which `API` it is written, and that is read before anything else of it. A fault of a package costs what it adds and
nothing else. Each has its own error: see `PackageError`.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterator, Mapping
from importlib import import_module
from pathlib import Path
from types import ModuleType
from typing import Any, NamedTuple

from benchd import __version__
from benchd.errors import ClaimedTwice, PackageBroken, PackageError, PackageMissing, PackageNewer

API = 1
"""Number of the names that `benchd.api` offers. It grows when one of them goes or means something else."""

MEASUREMENTS = "benchd.measurements"
"""Group of entry points: kinds of measurement that are not built in."""

_NAME = re.compile(r"[a-z][a-z0-9_-]*\Z")


class Claim(NamedTuple):
    """Which package says that it holds a name."""

    name: str  # the kind of measurement, or the driver
    package: str  # as it is imported, such as ``gloss_ratio``
    distribution: str  # as it is installed, such as ``gloss-ratio``
    version: str

    def __str__(self) -> str:
        return f"{self.distribution} {self.version}"


class State(NamedTuple):
    """What is claimed, and what becomes of it when it is used."""

    name: str
    package: str
    version: str
    state: str  # "built in", "imported", or that of a `PackageError`
    why: str = ""  # of what can't be used


Claims = Mapping[str, tuple[Claim, ...]]

_read: dict[str, Claims] = {}


def claims(group: str) -> Claims:
    """Every claim in a group of entry points, by its name. The metadata of what is installed is read once."""
    if group not in _read:
        from importlib import metadata  # takes longer than all else of a small plan

        found: dict[str, list[Claim]] = {}
        for entry in metadata.entry_points(group=group):
            who = ("?", "?") if entry.dist is None else (entry.dist.name, entry.dist.version)
            found.setdefault(entry.name, []).append(Claim(entry.name, entry.value, *who))
        _read[group] = {name: tuple(sorted(found[name])) for name in sorted(found)}
    return _read[group]


def claimants(group: str) -> tuple[str, ...]:
    """Name and version of every package that claims something in a group, as the folders of their metadata are called.

    For a key that changes with what is installed: a tenth of the time of `claims`.
    """
    files = (file for folder in sys.path for file in Path(folder).glob("*-info/entry_points.txt"))
    return tuple(sorted(file.parent.name for file in files if f"[{group}]" in file.read_text("utf-8", "replace")))


def claims_so_far(group: str) -> Claims:
    """As `claims`, without reading anything: empty until something is needed that is not built in."""
    return _read.get(group, {})


def states(group: str, use: Callable[[str], object]) -> Iterator[State]:
    """Every claim in a group of entry points; ``use`` imports what a name stands for."""
    for name, several in claims(group).items():
        try:
            use(name)
            state, why = "imported", ""
        except PackageError as error:
            state, why = error.state, str(error)
        for claim in several:
            yield State(name, claim.distribution, claim.version, state, why)


def forget() -> None:
    """Read the metadata again when it is next needed."""
    _read.clear()


def the_one(what: str, several: tuple[Claim, ...]) -> Claim:
    """The only claim of a name; ``what`` is for the sentence, such as "measurement 'flicker'"."""
    if len(several) > 1:
        named = " and ".join(f"{claim} ({claim.package})" for claim in several)
        raise ClaimedTwice(f"{what} is claimed by {named}; uninstall all but one")
    [claim] = several
    if not _NAME.match(claim.name):
        raise PackageBroken(f"{what} of {claim} can't be used: a name is a word of small letters, such as gloss_ratio")
    return claim


def package_of(what: str, claim: Claim) -> ModuleType:
    """The package itself: its docstring and its numbers, which cost next to nothing."""
    package = _imported(what, claim, claim.package)
    number = getattr(package, "API", None)
    if not isinstance(number, int):
        raise PackageBroken(f"{what} of {claim} can't be used: {claim.package} does not say its API; write API = {API}")
    if number != API:
        raise PackageNewer(
            f"{what} of {claim} is written for number {number} of benchd.api, and benchd {__version__} has number "
            f"{API}; install a version of {'benchd' if number > API else claim.distribution} that fits"
        )
    return package


def part_of(what: str, claim: Claim, module: str, shape: str) -> Any:
    """The ``PART`` of one module of a package; ``shape``: name of the class that it is one of, "": any function."""
    package_of(what, claim)
    found = _imported(what, claim, f"{claim.package}.{module}")
    part = getattr(found, "PART", None)
    if not (type(part).__name__ == shape if shape else callable(part)):
        raise PackageBroken(f"{what} of {claim} can't be used: {found.__name__}.PART is no {shape or 'function'}")
    return part


def broken(what: str, claim: Claim, error: BaseException) -> PackageBroken:
    """The error of a package whose own code raised one."""
    return PackageBroken(f"{what} of {claim} can't be used: {type(error).__name__}: {error}")


def _imported(what: str, claim: Claim, module: str) -> ModuleType:
    try:
        return import_module(module)
    except ModuleNotFoundError as error:
        if error.name and f"{claim.package}.".startswith(f"{error.name}."):
            raise PackageMissing(
                f"{what} is in package {claim.package} of {claim}, and that is not there; install {claim.distribution} "
                "again"
            ) from error
        raise broken(what, claim, error) from error
    except (Exception, SystemExit) as error:  # whatever the package's module does when it is imported
        raise broken(what, claim, error) from error
