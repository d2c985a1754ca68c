"""Averages over colour differences, the same for grey steps and lists of colours."""

from __future__ import annotations

import pytest

from benchd.analysis.uncertainty.averages import averages
from benchd.analysis.uncertainty.quantity import Quantity, absent


def test_values_and_the_worst_by_name() -> None:
    named = [(name, Quantity(value, "1")) for name, value in (("a", 1.0), ("b", 4.0), ("c", 2.0), ("d", 3.0))]
    found = averages(named, "", worst=2)
    # the 95th percentile of 1, 2, 3, 4, linear between ranks: 3 + 0.85 (rank 0.95 * 3 = 2.85)
    assert [one.value for one in found[:4]] == pytest.approx([2.5, 2.5, 3.85, 4.0])
    assert found.worst == ("b", "d")
    assert found.mean.why == ""


def test_what_is_left_out_is_named_in_each() -> None:
    named = [("0", absent("1", "black is only a bound")), ("128", Quantity(1.0, "1")), ("255", Quantity(2.0, "1"))]
    found = averages(named, "", worst=1, called="code ")
    assert {one.why for one in found[:4]} == {"without code 0: black is only a bound"}  # type: ignore[union-attr]
    assert found.worst == ("255",)


def test_nothing_to_average() -> None:
    assert averages([], "", worst=1).mean.why == "nothing was measured"
    assert averages([("0", absent("1", "no target"))], "", worst=1).maximum.why == "no target"
    missing = averages([("0", Quantity(1.0, "1"))], "2 patches are missing", worst=1)
    assert (missing.mean.value, missing.mean.why, missing.worst) == (None, "2 patches are missing", ())
