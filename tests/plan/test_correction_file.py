"""The file of a correction: what is written is read back, what is wrong is told, and what does not fit is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.errors import ProfileError
from benchd.profile import profile_store as library
from benchd.profile.made_files import ColourLeft, CorrectionFile, MeterName
from tests.plan.helpers import refusal

GOOD = """\
correction: plover-white-led
version: 1
method: four-colour
made: "2026-03-02"
expires: "2027-03-02"
technology: white-led
reference_meter: {model: HERON, serial_number: H-1}
meter: {model: LAPWING, serial_number: L-7}
luminance_factor: 1.01
matrix:
  - [0.97, 0.02, -0.015]
  - [-0.01, 1.03, -0.005]
  - [0.002, -0.009, 1.05]
"""


def load(text: str) -> CorrectionFile:
    return library.load_correction(text, "c.yaml")


def faults(text: str) -> str:
    return str(refusal(load, text))


number = st.floats(-2.0, 2.0).filter(lambda value: value == 0.0 or abs(value) > 1e-12)


@settings(derandomize=True, max_examples=40, deadline=None)
@given(
    st.lists(number, min_size=9, max_size=9).filter(lambda m: abs(np.linalg.det(np.reshape(m, (3, 3)))) > 1e-6),
    st.text(st.characters(categories=("L", "N", "P", "S", "Zs")), max_size=20),
    st.booleans(),
)
def test_what_is_written_reads_back_to_the_last_bit(values: list[float], words: str, simulated: bool) -> None:
    rows = [values[0:3], values[3:6], values[6:9]]
    base = load(GOOD)
    left = ColourLeft(
        colour="R", delta_uv=1e-5, luminance_percent=-0.1, delta_uv_before=0.01, luminance_percent_before=2.0
    )
    made = base.model_copy(
        update={
            "about": words,
            "spectra": words,
            "simulated": simulated,
            "reference_meter": MeterName(model='H "7"', serial_number="#1"),
            "meter": MeterName(model="L: 7", serial_number="007"),
            "matrix": tuple(tuple(row) for row in rows),
            "covariance": tuple(tuple(1e-9 * (row == column) for column in range(9)) for row in range(9)),
            "dof": 28,
            "residuals": (left,),
        }
    )
    assert load(made.as_yaml()) == made


def test_every_fault_is_told_with_its_place() -> None:
    assert "c.yaml:4:7: date 'March': write year-month-day" in faults(GOOD.replace('"2026-03-02"', "March"))
    assert "c.yaml:5:10: it expires on 2025-01-01, before it was made" in faults(
        GOOD.replace("2027-03-02", "2025-01-01")
    )
    assert "a matrix of 3 rows, each of 3 numbers" in faults(GOOD.replace(", 1.05]", "]"))
    assert "makes all colours one" in faults(GOOD.replace("[-0.01, 1.03, -0.005]", "[0.97, 0.02, -0.015]"))
    assert "needs its degrees of freedom" in faults(GOOD + "covariance: " + str([[0.0] * 9] * 9) + "\n")
    assert "matrix of 9 rows" in faults(GOOD + "covariance: [[1.0]]\ndof: 4\n")
    assert "version" in faults(GOOD.replace("version: 1", "version: 2"))


def test_it_fits_one_meter_one_technology_and_until_its_last_day() -> None:
    file = load(GOOD)
    assert not file.unfit(model="LAPWING", serial_number="L-7")
    assert not file.unfit_for(technology="white-led", today="2027-03-02")
    told = file.unfit(model="LAPWING", serial_number="L-8")
    assert told.startswith("correction plover-white-led is for meter LAPWING L-7 and the meter here is LAPWING L-8;")
    assert file.unfit(model="HERON", serial_number="L-7")
    assert "of technology white-led and the bench's is oled" in file.unfit_for(technology="oled", today="2026-04-01")
    assert "expired on 2027-03-02" in file.unfit_for(technology="white-led", today="2027-03-03")


BENCH = """\
bench: b
screen: {monitor: primary}
instruments: {meter: {command: [m], correction: plover-white-led}}
"""


def test_a_bench_with_a_correction_names_its_technology() -> None:
    with pytest.raises(ProfileError, match=r"b\.yaml:3:37: a correction holds for one display technology"):
        library.load_bench(BENCH, "b.yaml")
    bench = library.load_bench(BENCH + "technology: white-led\n", "b.yaml")
    assert (bench.technology, bench.instruments.meter.correction) == ("white-led", "plover-white-led")
