"""The spectra of the simulated bench are the open data that they claim to be."""

from __future__ import annotations

import warnings
from pathlib import Path

import pytest

import sim.spectra
from sim.make_spectra import table
from sim.spectra import column, observer, tristimulus

SHIPPED = Path(sim.spectra.__file__).with_name("spectra.csv")


def test_the_shipped_file_is_what_the_open_data_give() -> None:
    assert SHIPPED.read_text(encoding="utf-8") == table()


def test_the_file_names_its_source_in_its_first_line() -> None:
    assert SHIPPED.read_text(encoding="utf-8").startswith("# source: ")


@pytest.mark.parametrize(("name", "total"), [("xbar", 21.3714), ("ybar", 21.3711), ("zbar", 21.3715)])
def test_sums_of_the_observer(name: str, total: float) -> None:
    # CIE 15:2004, table T.4, last row (380 to 780 nm in steps of 5 nm), from memory.
    assert sum(column(name)) == pytest.approx(total, abs=5e-4)


def test_equal_energy_is_at_one_third() -> None:
    # CIE 15:2018, 7.3: the chromaticity of the equal-energy spectrum is 1/3, 1/3.
    xyz = tristimulus((1.0,) * len(column("xbar")), observer())
    assert xyz[0] / sum(xyz) == pytest.approx(1 / 3, abs=2e-5)
    assert xyz[1] / sum(xyz) == pytest.approx(1 / 3, abs=2e-5)


@pytest.mark.parametrize(("name", "entry"), [("led_b4", "LED-B4"), ("led_rgb1", "LED-RGB1")])
def test_chromaticity_of_the_backlights(name: str, entry: str) -> None:
    # CIE 015:2018, table 12.2, as colour-science carries it.
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    published = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"][entry]
    xyz = tristimulus(column(name), observer())
    assert xyz[0] / sum(xyz) == pytest.approx(float(published[0]), abs=2e-4)
    assert xyz[1] / sum(xyz) == pytest.approx(float(published[1]), abs=2e-4)


@pytest.mark.parametrize("shift_nm", [-3.0, 0.0, 2.0])
def test_filters_of_a_colorimeter_agree_on_equal_energy(shift_nm: float) -> None:
    white = (1.0,) * len(column("xbar"))
    assert tristimulus(white, observer(shift_nm)) == pytest.approx(tristimulus(white, observer()))


def test_a_colorimeter_errs_by_colour() -> None:
    """Filters 2 nm towards red: red reads brighter, blue darker."""
    for phosphor, brighter in (("phosphor_red", True), ("phosphor_blue", False)):
        true = tristimulus(column(phosphor), observer())[1]
        read = tristimulus(column(phosphor), observer(2.0))[1]
        assert (read > true) is brighter
        assert abs(read / true - 1.0) < 0.2
