"""Uncertainty as it is shown: digits, data, words, and the budget."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.results import Results
from benchd.analysis.uncertainty.quantity import Quantity, absent
from benchd.analysis.uncertainty.sources import EXACT, Fixed, Source, Stated
from benchd.cli import main
from benchd.errors import InputError
from benchd.report.data.document import quantities, to_json
from benchd.report.data.log_reference import LogReference
from benchd.report.digits import with_uncertainty
from benchd.report.figure_text import evidence, figure, reach
from benchd.report.terminal.budget_text import budget_json, budget_text, figures_of
from benchd.report.terminal.results_text import render_text
from benchd.report.uncertain import (
    NOTHING_STATED,
    is_coarse,
    resolution_matters,
    resolution_words,
    stated_words,
    uncertainty_fields,
)
from benchd.run.log.journal import encode
from tests.analysis.logs import Log, xyz

LOG = LogReference("plover-27.log", "ab" * 32)
STATED: dict[str, Any] = {
    "k": 2.0,
    "calibration_percent": 2.0,
    "chromaticity_xy": 0.002,
    "linearity_percent": 0.2,
    "zero_cd_m2": 0.001,
    "drift_percent_per_year": 0.0,
    "placement_percent": 0.2,
    "calibrated": None,
}


@pytest.mark.parametrize(
    ("value", "u", "shown"),
    [
        (10.05762, 0.027, ("10.058", "0.027")),  # JCGM 100:2008, 7.2.6 (from memory)
        (384.61, 2.149, ("384.6", "2.1")),
        (384.61, 0.0996, ("384.61", "0.10")),
        (12345.6, 432.0, ("12 350", "430")),
        (0.31271, 0.00203, ("0.3127", "0.0020")),
        (1.0, 0.0, ("1.000", "0")),
    ],
)
def test_two_digits_of_the_uncertainty_decide(value: float, u: float, shown: tuple[str, str]) -> None:
    assert with_uncertainty(value, u, "1") == shown


def test_an_uncertainty_is_never_shown_as_nothing() -> None:
    assert with_uncertainty(6504.2, 0.01, "K") == ("6504.2", "0.1")
    assert with_uncertainty(0.5, 0.2, "%", sign=True) == ("+0.50", "0.20")
    with pytest.raises(ValueError, match="is not a figure"):
        with_uncertainty(1.0, float("inf"), "1")


def quantity(value: float, unit: str, u: float, dof: float = float("inf")) -> Quantity:
    return Quantity(value, unit, 3, 0.1, sources=Fixed(((Source("a", dof), u),)))


def test_a_figure_carries_its_uncertainty_and_its_k() -> None:
    white = quantity(384.61, "cd/m2", 1.07)
    assert figure(white, "cd/m2", " cd/m2") == "384.6 ± 2.1 cd/m2"
    assert evidence(white, "cd/m2").startswith("k = 1.96, n 3")
    assert evidence(quantity(384.61, "cd/m2", 1.07, 4), "cd/m2").startswith("k = 2.78")
    assert figure(quantity(1097.4, "1", 3.6), "1", ":1") == "1097.4:1 ± 7.1"
    assert figure(Quantity(400.0, "cd/m2", 3, 0.1), "cd/m2", " cd/m2") == "400.0 cd/m2", "unknown: as without it"
    assert figure(Quantity(0.0, "%", sources=EXACT), "%", " %") == "0.00 %", "exact"
    assert reach(white, "cd/m2") == "2.1"
    assert reach(absent("1", "why"), "1") == ""


def test_data_have_the_interval_and_null_for_infinity() -> None:
    assert uncertainty_fields(quantity(100.0, "cd/m2", 1.0)) == {
        "expanded_uncertainty": pytest.approx(1.96, abs=1e-3),
        "standard_uncertainty": pytest.approx(1.0),
        "coverage_factor": pytest.approx(1.96, abs=1e-3),
        "dof": None,
        "low": pytest.approx(98.04, abs=1e-3),
        "high": pytest.approx(101.96, abs=1e-3),
    }
    assert set(uncertainty_fields(absent("1", "why")).values()) == {None}


class Skew:
    """A node with an interval of its own that is not symmetrical."""

    def contributions(self) -> dict[Source, float]:
        return {Source("a"): 0.3}

    def stated(self, _: float) -> Stated:
        return Stated(0.66, None, math.inf, 1.08, 2.40)


def test_a_skew_interval_has_its_ends_and_no_single_uncertainty() -> None:
    """Half of its width would be read as value ± U."""
    found = uncertainty_fields(Quantity(1.57, "1", 3, sources=Skew()))
    assert (found.pop("low"), found.pop("high")) == (1.08, 2.40)
    assert set(found.values()) == {None}


def test_words_for_what_is_stated() -> None:
    assert stated_words(None) == NOTHING_STATED
    stated = {key: value for key, value in STATED.items() if value is not None}
    words = stated_words({**stated, "calibration_age_years": 1.0, "age_assumed": True})
    assert words == (
        "of the meter: scale 2 %, linearity 0.2 %, x and y of a white 0.002, zero 0.001 cd/m2, placing 0.2 %, "
        "at k = 2; calibrated at a date that is not known, taken as 1.0 years before"
    )


def log(stated: dict[str, Any] | None = STATED, *, simulated: bool = False) -> Log:
    made = Log(
        [{"name": "luminance", "kind": "luminance"}, {"name": "contrast", "kind": "contrast", "kinds": ["sequential"]}],
        uncertainty=stated,
        simulated=simulated,
    )
    for block in ("luminance", "contrast"):
        for level, luminance in (("white", 400.0), ("black", 0.4)):
            labels = {"level": level} if block == "luminance" else {"level": level, "kind": "sequential"}
            readings = [xyz(luminance * factor) for factor in (1.001, 1.0, 0.999)]
            made.measure(f"{block}/{level}", labels, readings, code=255 if level == "white" else 0)
    return made


@pytest.fixture(scope="module")
def results() -> Results:
    return analyse(log().end())


def test_the_budget_names_the_largest_source_first(results: Results) -> None:
    text = budget_text(results, figures_of(results, LOG, ""), 100)
    assert "SIMULATED" not in text
    assert "white luminance: 400.0 ± 7.9 cd/m2, 95 %, k = 1.96" in text
    lines = text.splitlines()
    at = next(index for index, line in enumerate(lines) if line.startswith("white luminance"))
    assert lines[at + 2].split()[:2] == ["meter:", "scale"]
    assert max(map(len, lines)) <= 100
    contrast = text[text.index("contrast:") :].split("\n\n")[0]
    assert "scale" not in contrast, "it cancels"
    assert "linearity" in contrast


def test_a_figure_is_found_by_path_and_by_plain_name(results: Results) -> None:
    by_path = figures_of(results, LOG, "contrast/sequential/ratio")
    by_name = figures_of(results, LOG, "contrast")
    assert by_path[0].quantity == by_name[0].quantity
    with pytest.raises(
        InputError, match="no figure 'contrast/sequential/ratios'; did you mean 'contrast/sequential/ratio'"
    ):
        figures_of(results, LOG, "contrast/sequential/ratios")


def test_the_budget_as_data_adds_up(results: Results) -> None:
    document = budget_json(results, LOG, figures_of(results, LOG, "white luminance"))
    json.dumps(document, allow_nan=False)
    (white,) = document["figures"]
    assert sum(source["share"] for source in white["sources"]) == pytest.approx(1.0)
    assert sum(source["contribution"] ** 2 for source in white["sources"]) == pytest.approx(
        white["combined_standard_uncertainty"] ** 2
    )
    assert white["standard_uncertainty"] == pytest.approx(white["combined_standard_uncertainty"])
    assert white["expanded_uncertainty"] == pytest.approx(white["coverage_factor"] * white["standard_uncertainty"])
    assert {source["of_the_meter"] for source in white["sources"]} == {True, False}


def test_a_log_that_states_nothing_says_so() -> None:
    bare = analyse(log(None).end())
    assert "the bench profile states none for the meter" in " ".join(render_text(bare).split())
    assert to_json(bare, LOG)["uncertainty"] is None


def test_every_figure_of_the_json_has_an_interval_that_holds_its_value(results: Results) -> None:
    for path, one in quantities(to_json(results, LOG)):
        if one["low"] is not None:
            assert one["low"] <= one["value"] <= one["high"], path


def test_the_command_prints_text_and_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "a.log"
    path.write_bytes(b"".join(encode(record) for record in log(simulated=True).end()))
    assert main(["results", str(path), "--budget", "white luminance"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == lines[-1] == "SIMULATED: a simulator took part in these figures"
    assert main(["results", str(path), "--budget", "white luminance", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["notice"] == "SIMULATED"
    assert main(["results", str(path), "--budget", "nothing of the kind"]) != 0
    assert "has no figure 'nothing of the kind'" in capsys.readouterr().err
    assert main(["results", str(path), "--budget", "--format", "csv"]) != 0


def test_two_dates_of_one_calibration_are_both_told() -> None:
    """The bench profile's date counts; that the meter itself says another one is not kept back."""
    stated = STATED | {"calibrated": "2026-03-02", "calibration_age_years": 0.7}
    assert stated_words(stated, {"calibrated": "2026-01-15"}).endswith("while the meter itself says 2026-01-15")
    assert "itself" not in stated_words(stated, {"calibrated": "2026-03-02"})
    assert "itself" not in stated_words(stated, {"calibrated": ""})


def test_the_resolution_in_words_and_whether_it_is_worth_one() -> None:
    rows = [
        {"quantity": "Y", "up_to": 0.1, "step": 0.001, "from": "stated by dialect d"},
        {"quantity": "Y", "up_to": None, "step": 0.01, "from": "stated by dialect d"},
        {"quantity": "x", "up_to": None, "step": 0.0001, "from": "a guess: the last printed digit"},
        {"quantity": "y", "up_to": None, "step": 0.0001, "from": "a guess: the last printed digit"},
    ]
    assert resolution_words({"resolution": rows}) == (
        "Y 0.001 to 0.01 cd/m2, stated by dialect d; x and y 0.0001, a guess: the last printed digit"
    )
    assert resolution_words({}) == ""
    assert is_coarse({"resolution": rows})
    assert not is_coarse({"resolution": [{"quantity": "Y", "up_to": 999.99999, "step": 0.01, "from": "x"}]})
    noise, digit = Source("readings of a"), Source("resolution of Y at a", group="resolution of Y, 0.01 cd/m2 at 0.03")
    guess = digit._replace(group=f"{digit.group}, a guess")
    for amount, source, matters in ((0.1, digit, False), (0.5, digit, True), (0.1, guess, True), (0.0, guess, False)):
        sources = Fixed(((noise, 1.0), (source, amount)))
        assert resolution_matters([Quantity(1.0, "cd/m2", 3, sources=sources)]) is matters
