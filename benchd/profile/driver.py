"""Drivers that other packages add: which package holds which, and the options that a bench may give it.

A driver is claimed by an entry point of the group ``benchd.instruments`` (name: the driver, value: the package), and
its package has a module ``driver`` with a `DriverPart`. A bench names it under its role, with its options, as in
``meter: {driver: {NAME: {option: value}}}``; its options are checked by its own model.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

from pydantic import ConfigDict

from benchd import installed
from benchd.errors import KindUnknown, PackageError
from benchd.installed import Claim, State
from benchd.profile.reading.base import ProfileModel, Unusable, Wrong, with_keys

GROUP = "benchd.instruments"
"""Entry points of drivers."""


@dataclass(frozen=True, slots=True)
class DriverPart:
    """What a package gives for one driver.

    ``role``     of the instrument: ``meter`` or ``stage``
    ``options``  the options that a bench may give it
    ``open``     (options, the bench's time in seconds) -> the opened instrument, which satisfies the role's Protocol;
                 raises one of the role's errors (`benchd.errors`) where the instrument does not answer
    """

    role: str
    options: type[ProfileModel]
    open: Callable[[Any, Callable[[], float]], Any]


class Driver(ProfileModel):
    """A driver of an installed package: its name, and below it its options."""

    model_config = ConfigDict(json_schema_extra={"minProperties": 1, "maxProperties": 1})

    @cached_property
    def name(self) -> str:
        """Which driver."""
        return next(iter(self.model_fields_set))

    @cached_property
    def options(self) -> Any:
        """The options that the bench gives it, as its own model has them."""
        return getattr(self, self.name)

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """None, or several."""
        if not data:
            yield Wrong((), f"name a driver, one of: {', '.join(cls.model_fields) or 'none is installed'}")
        for name in list(data)[1:]:
            yield Wrong((name,), "a role has one driver; take one of them away", at_key=True)


class StageDriver(Driver):
    """A driver of an installed package for what moves the meter: its name, and below it its options."""


def claim_of(name: str) -> Claim:
    """Which package holds a driver. Raises a `PackageError`."""
    found = installed.claims(GROUP).get(name)
    if not found:
        raise KindUnknown(f"no installed package adds the driver {name!r}")
    return installed.the_one(_called(name), found)


def driver_part(name: str) -> DriverPart:
    """What the package of a driver gives. Raises a `PackageError`."""
    found: DriverPart = installed.part_of(_called(name), claim_of(name), "driver", "DriverPart")
    return found


def broken(name: str, error: BaseException) -> PackageError:
    """What an error that a driver's own code raised is for everybody else."""
    return installed.broken(_called(name), claim_of(name), error)


def states() -> Iterator[State]:
    """Every driver that a package claims; its module is imported."""
    yield from installed.states(GROUP, driver_part)


def _called(name: str) -> str:
    return f"driver {name!r}"


def _options(name: str, role: str) -> type[ProfileModel]:
    try:
        part = driver_part(name)
    except PackageError as error:
        return Unusable.because(str(error))
    return part.options if part.role == role else Unusable.because(f"{_called(name)} is of a {part.role}, no {role}")


def driver_model(role: str) -> type[Driver]:
    """The `Driver` of a role with a key for each that is installed."""
    return _driver_of(role, tuple(installed.claims(GROUP)))


@lru_cache(maxsize=8)
def _driver_of(role: str, names: tuple[str, ...]) -> type[Driver]:
    return with_keys(StageDriver if role == "stage" else Driver, names, lambda name: _options(name, role))
