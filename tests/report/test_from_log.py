"""A whole way: a shipped plan, an invented display, the real analysis, every form of the report."""

import json

import jsonschema  # type: ignore[import-untyped]
import pytest

from benchd.analysis.analyse import analyse
from benchd.report.data.csv_rows import csv_text
from benchd.report.data.document import json_text, quantities, to_json
from benchd.report.data.results_schema import results_schema
from benchd.report.summary import summary_of
from benchd.report.terminal.compare_options import difference
from benchd.report.terminal.results_text import render_text
from benchd.report.terminal.summary_text import render_summary
from tests.report import logged, made

VALIDATOR = jsonschema.Draft202012Validator(results_schema())


GONE = ("uniformity/r4c2/white", "grayscale/code-128", "contrast/black")
CASES = [
    *((target, 0.35, ()) for target in ("srgb", "power-2.2", "power-2.4")),
    *((target, black, ()) for target in ("bt1886", "gsdf") for black in (0.35, 0.0008)),
    ("bt1886", 0.35, GONE),
    ("gsdf", 0.0008, GONE),
]


@pytest.mark.parametrize(("target", "black_cd_m2", "without"), CASES)
def test_every_form_for_every_target(target: str, black_cd_m2: float, without: tuple[str, ...]) -> None:
    records = logged.records(target_name=target, black_cd_m2=black_cd_m2, without=without, simulated=black_cd_m2 < 0.1)
    results = analyse(records)
    document = to_json(results, made.LOG)
    VALIDATOR.validate(json.loads(json_text(document)))
    figures = dict(quantities(document))
    table = csv_text(to_json(results, made.LOG)).splitlines()
    alone = [one["result"] for one in document["absent"] if one["result"] not in figures]
    assert len(table) == 1 + len(figures) + len(alone) + len(document["conditions"])
    assert len(figures) > 900 or without
    text = render_text(results, log=made.LOG)
    assert max(map(len, text.splitlines())) <= 100
    for word in ("nan", "inf", "None", "Quantity"):
        assert f" {word}" not in text
    if results.simulated:
        assert text.splitlines()[0] == text.splitlines()[-1]
        assert all("SIMULATED" in row for row in table[1:])
    else:
        assert "SIMULATED" not in text
    for gone in without:
        assert gone.rpartition("/")[0].split("/")[0] in {one["result"].split("/")[0] for one in document["absent"]}


def test_known_figures_of_the_invented_display() -> None:
    results = analyse(logged.records())
    text = render_text(results, log=made.LOG)
    # White is 384 cd/m2 dimmed by 0.05 % in the centre, times the mean of three readings.
    # U is t(0.975, 2) = 4.30 times the scatter over the root of 3: nothing is stated of the meter.
    assert "white              383.85 ± 0.53 cd/m2    k = 4.30, n 3, s 0.06 %" in text
    # Its white is D65: CCT 6504 K, Duv +0.0032 (CIE 15; value from own direct minimisation).
    assert "6504.0 ± 0.1 K" in text
    # The curve is a power of 2.2 above black, so the fit with black subtracted says so.
    # Its U, reckoned apart: every relative Y has u = 0.032 %, d gamma/d ln Y is ln V over the sum of ln V squared, and
    # minus the sum of ln V over it for white: u = 0.000258, 2.42 degrees of freedom (Welch-Satterthwaite), U = 0.00095.
    assert "gamma, white fixed 2.200 ± 0.001          k = 3.72" in text


def test_a_black_under_range_makes_a_bound_in_every_form() -> None:
    results = analyse(logged.records("quick", black_cd_m2=0.0008))
    text = render_summary(summary_of(results), made.LOG, check=True)
    assert "black     < 0.005 cd/m2" in text
    assert "contrast  > 76 000:1" in text
    assert "black is below the meter's range (0.005 cd/m2)" in text
    ratio = dict(quantities(to_json(results, made.LOG)))["contrast/sequential/ratio"]
    assert (ratio["bound"], ratio["status"]) == ("above", "under")
    rows = csv_text(to_json(results, made.LOG)).splitlines()
    row = next(row for row in rows if row.startswith("contrast/sequential/ratio,"))
    assert ",under,above," in row


def test_the_same_log_gives_identical_results_and_another_does_not() -> None:
    first, again, other = (
        to_json(analyse(logged.records("quick", white_cd_m2=white)), made.LOG) for white in (384.0, 384.0, 384.001)
    )
    assert difference(first, again) == []
    assert any("luminance/white/value" in found for found in difference(first, other))
