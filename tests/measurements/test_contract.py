"""Every kind of measurement passes every check of the suite that ships."""

from __future__ import annotations

import pytest

from benchd.measurements import registry
from benchd.testing import Report, check_measurements
from tests.measurements.in_process import session

CHECKS_OF_A_KIND = 17


@pytest.fixture(scope="module")
def reports() -> tuple[Report, ...]:
    return check_measurements(registry.kinds(), session)


def test_every_kind_passes_every_check(reports: tuple[Report, ...]) -> None:
    assert [one.kind for one in reports] == list(registry.PACKAGES)
    assert {len({check.name for check in one.checks}) for one in reports} == {CHECKS_OF_A_KIND}
    assert not [fault for one in reports for fault in one.faults]
