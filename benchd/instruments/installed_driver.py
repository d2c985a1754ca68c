"""Instruments whose driver is in a package beside benchd."""

from __future__ import annotations

from collections.abc import Callable

from benchd.errors import BenchdError
from benchd.instruments.meter import Meter
from benchd.profile.driver import Driver, broken, driver_part


def open_meter(driver: Driver, now_s: Callable[[], float]) -> Meter:
    """The meter behind a driver. Raises a `MeterError`, or a `PackageError` where the driver's own code fails."""
    try:
        opened: Meter = driver_part(driver.name).open(driver.options, now_s)
    except BenchdError:
        raise
    except Exception as error:  # whatever a stranger's driver does
        raise broken(driver.name, error) from error
    return opened
