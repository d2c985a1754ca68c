"""Results as JSON and CSV: shape, schema, round trip, SIMULATED on every figure, comparison."""

import ast
import copy
import csv
import io
import json
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema  # type: ignore[import-untyped]
import pytest

from benchd.analysis.log.conditions_log import ConditionChange, RecordedCondition, StatedCondition
from benchd.analysis.results import Absent, Results
from benchd.analysis.uncertainty.quantity import Quantity, absent
from benchd.report.data.csv_rows import COLUMNS, csv_text
from benchd.report.data.document import json_text, quantities, to_json
from benchd.report.data.results_schema import FILE, results_schema
from benchd.report.terminal.compare_options import difference
from tests.imports import loaded_with
from tests.report import made

CASES = {
    "real": made.results(),
    "simulated": made.results(simulated=True, virtual_time=True),
    "interrupted": made.interrupted(),
}
SHIPPED = Path(__file__).parents[2] / "profiles" / "schema" / FILE
VALIDATOR = jsonschema.Draft202012Validator(results_schema())


@pytest.fixture(params=list(CASES.values()), ids=list(CASES))
def case(request: pytest.FixtureRequest) -> Results:
    found: Results = request.param
    return found


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_the_document_keeps_to_its_schema(case: Results) -> None:
    VALIDATOR.check_schema(results_schema())
    VALIDATOR.validate(json.loads(json_text(to_json(case, made.LOG))))


def _drop_unit(document: Any) -> None:
    del document["blocks"]["luminance"]["white"]["unit"]


def _silent_simulation(document: Any) -> None:
    document["simulated"] = True


def _absent_without_reason(document: Any) -> None:
    document["blocks"]["luminance"]["white"].update(value=None, status="absent", why="")


def _value_while_absent(document: Any) -> None:
    document["blocks"]["luminance"]["white"].update(status="absent", why="gone")


def _unknown_key(document: Any) -> None:
    document["blocks"]["luminance"]["mean"] = 1.0


def _other_version(document: Any) -> None:
    document["schema"] = "benchd.results/1"


@pytest.mark.parametrize(
    "harm",
    [_drop_unit, _silent_simulation, _absent_without_reason, _value_while_absent, _unknown_key, _other_version],
)
def test_the_schema_refuses_what_is_wrong(harm: Any) -> None:
    document = to_json(made.results(), made.LOG)
    harm(document)
    assert not VALIDATOR.is_valid(document)


def test_the_documented_paths_are_there() -> None:
    document = to_json(made.results(), made.LOG)
    assert list(document)[:5] == ["schema", "simulated", "notice", "virtual_time", "log"]
    assert document["log"] == {"file": made.LOG.file, "sha256": made.LOG.sha256}
    blocks = document["blocks"]
    assert list(blocks) == ["luminance", "contrast", "uniformity", "grayscale", "patches"]
    assert blocks["luminance"]["white"] == {
        "value": 384.61,
        "unit": "cd/m2",
        "expanded_uncertainty": None,
        "standard_uncertainty": None,
        "coverage_factor": None,
        "dof": None,
        "low": None,
        "high": None,
        "n": 3,
        "s": 0.19,
        "status": "ok",
        "bound": None,
        "why": "",
        "records": [[12, 14]],
        "simulated": False,
    }
    assert blocks["uniformity"]["levels"]["white"]["grid"][2][0]["luminance"]["value"] == 298.5
    assert blocks["grayscale"]["delta_e"]["white_luminance"]["mean"]["value"] == 1.1
    assert list(blocks["grayscale"]["gamma_fits"]) == ["white_fixed", "free"]
    assert list(blocks["grayscale"]["steps"][0]["rgb_balance"]) == ["red", "green", "blue"]
    assert blocks["patches"]["patches"]["skin-1"]["code"] == [194, 150, 130]


def test_the_same_results_give_the_same_bytes(case: Results) -> None:
    first, second = (json_text(to_json(copy.deepcopy(case), made.LOG)) for _ in range(2))
    assert first == second
    assert first.endswith("}\n")


def test_a_figure_that_is_not_finite_never_reaches_a_file() -> None:
    for bad in (math.nan, math.inf):
        broken = made.results(luminance=(replace(made.luminance(), white=Quantity(bad, "cd/m2", 3)),))
        with pytest.raises(ValueError, match="figure"):
            to_json(broken, made.LOG)


def test_names_that_collide_are_refused_rather_than_lost() -> None:
    twice = replace(made.patches(), patches=made.patches().patches[:1] * 2)
    with pytest.raises(ValueError, match="same name"):
        to_json(made.results(patches=(twice,)), made.LOG)


def test_simulated_is_on_every_figure(case: Results) -> None:
    document = to_json(case, made.LOG)
    found = dict(quantities(document))
    assert len(found) > 50
    assert {quantity["simulated"] for quantity in found.values()} == {case.simulated}
    assert document["notice"] == ("SIMULATED" if case.simulated else "")
    marks = {row["simulated"] for row in rows(csv_text(to_json(case, made.LOG)))}
    assert marks == {"SIMULATED" if case.simulated else ""}


def test_the_table_says_what_the_document_says(case: Results) -> None:
    document = json.loads(json_text(to_json(case, made.LOG)))
    table = rows(csv_text(to_json(case, made.LOG)))
    assert list(table[0]) == list(COLUMNS)
    expected = dict(quantities(document))
    whole = table[: len(expected)]
    assert [row["path"] for row in whole] == list(expected)
    for row in whole:
        quantity = expected[row["path"]]
        for key in ("value", "s", "n"):
            assert (None if row[key] == "" else ast.literal_eval(row[key])) == quantity[key]
        for key in ("unit", "status", "why"):
            assert row[key] == quantity[key]
        assert (row["expanded_uncertainty"], row["coverage_factor"]) == ("", "")
        assert (row["bound"] or None) == quantity["bound"]
        pairs = [[int(end) for end in pair.split("-")] for pair in row["records"].split()]
        assert pairs == quantity["records"]
        assert (row["sample"], row["log"]) == ("plover-27/1", made.LOG.sha256[:16])
    rest = [(row["path"], row["status"], row["why"]) for row in table[len(expected) :]]
    kept = [one for one in rest if not one[0].startswith("conditions/")]
    assert kept == [(one["result"], "absent", one["why"]) for one in document["absent"]]


def test_the_table_has_the_conditions_of_measuring_with_their_source() -> None:
    preset = RecordedCondition("preset", "preset", "standard", "", "display", note="as delivered")
    known = (
        replace(
            preset,
            others=(StatedCondition("warm", "plan"),),
            changes=(ConditionChange(2, "cool", "operator"),),
        ),
        RecordedCondition("room_temperature_c", "room temperature", 23.5, "degC", "bench"),
        RecordedCondition("brightness", "brightness", 100, "", "operator", "2026-11-30"),
        RecordedCondition("cable", "cable", None, "", ""),
    )
    document = to_json(replace(made.results(simulated=True), conditions=known), made.LOG)
    table = [row for row in rows(csv_text(document)) if row["path"].startswith("conditions/")]
    keys = ("path", "value", "text", "unit", "status", "source", "why")
    assert [tuple(row[key] for key in keys) for row in table] == [
        (
            *("conditions/preset", "", "standard", "", "recorded", "display"),
            "plan: warm; session 2: cool, operator; as delivered",
        ),
        ("conditions/room_temperature_c", "23.5", "", "degC", "recorded", "bench", ""),
        ("conditions/brightness", "100", "", "", "recorded", "operator", "entered 2026-11-30"),
        ("conditions/cable", "", "", "", "absent", "", "not recorded"),
    ]
    assert {row["simulated"] for row in table} == {"SIMULATED"}
    assert {row["sample"] for row in table} == {"plover-27/1"}


def test_an_absent_figure_has_one_row_only() -> None:
    gone = absent("cd/m2", "black was not measured")
    short = made.results(
        luminance=(replace(made.luminance(), black=gone),), absent=(Absent("luminance/black", gone.why),)
    )
    found = [row for row in rows(csv_text(to_json(short, made.LOG))) if row["path"] == "luminance/black"]
    assert [(row["value"], row["status"], row["why"]) for row in found] == [("", "absent", gone.why)]


def test_paths_are_unique_and_speak_the_words_of_the_steps() -> None:
    paths = [path for path, _ in quantities(to_json(made.results(), made.LOG))]
    assert len(set(paths)) == len(paths)
    for path in (
        "warm_up/luminance",
        "luminance/white_chromaticity/cct",
        "contrast/checkerboard/inverse/ratio",
        "uniformity/white/r3c1/luminance",
        "uniformity/white/non_uniformity",
        "grayscale/code-128/delta_e/white_luminance",
        "grayscale/delta_e/absolute/maximum",
        "grayscale/gamma_fits/white_fixed/gamma",
        "patches/sky, evening/luminance",
    ):
        assert path in paths


def test_identical_results_differ_in_nothing(case: Results) -> None:
    document = to_json(case, made.LOG)
    again = json.loads(json_text(document))
    again["log"]["file"] = "elsewhere.log"
    again["meter"]["driver"] = "replay"
    again["started"] = "2031-01-01T00:00:00.000Z"
    for _, quantity in quantities(again):
        quantity["records"] = [[1, 2]]
    assert difference(document, again) == []


def test_the_last_bit_makes_a_difference() -> None:
    document = to_json(made.results(), made.LOG)
    again = copy.deepcopy(document)
    cell = again["blocks"]["uniformity"]["levels"]["white"]["grid"][2][0]["luminance"]
    cell["value"] = math.nextafter(cell["value"], math.inf)
    assert difference(document, again) == [
        f"blocks/uniformity/levels/white/grid/2/r3c1/luminance/value: 298.5, {cell['value']}"
    ]


def test_what_is_on_one_side_only_is_named() -> None:
    document = to_json(made.results(), made.LOG)
    other = to_json(made.interrupted(), made.LOG)
    found = difference(document, other)
    assert "blocks/grayscale: only in the first" in found
    assert difference(other, document).count("blocks/grayscale: only in the second") == 1
    assert "absent: 0 items, 1 items" in found


def test_the_report_imports_nothing_heavy() -> None:
    # Start-up of the command line depends on it.
    of_text = ("results_text", "summary_text", "compare_options", "progress", "planned")
    rooms = ("digits", "data.document", "data.csv_rows", "data.results_schema", *(f"terminal.{one}" for one in of_text))
    heavy = {"numpy", "yaml", "pydantic", "pyglet", "serial"}
    assert not heavy & loaded_with(*(f"benchd.report.{room}" for room in rooms))


def test_a_refresh_rate_that_no_screen_reports_is_not_zero() -> None:
    for found, said in ((0.0, None), (59.94, 59.94)):
        results = replace(made.results(), screen={**made.results().screen, "refresh_hz": found})
        assert to_json(results, made.LOG)["screen"]["refresh_hz"] == said
    assert "refresh_hz" not in to_json(made.results(), made.LOG)["screen"]


@pytest.mark.parametrize(
    ("address", "shown"),
    [
        ("/tmp/benchd-62629s94/meter", "meter"),
        ("/var/folders/x/benchd-replay-a1/meter", "meter"),
        ("/dev/ttyUSB0", "/dev/ttyUSB0"),
        ("/home/lab/benchd/meter", "/home/lab/benchd/meter"),
        ("in this process", "in this process"),
        ("", ""),
    ],
)
def test_the_temporary_folder_of_a_port_does_not_reach_a_document(address: str, shown: str) -> None:
    case = made.results(meter={**made.results().meter, "address": address})
    assert to_json(case, made.LOG)["meter"] == {**case.meter, "address": shown}


def test_a_meter_without_an_address_gets_none() -> None:
    assert to_json(made.results(meter={}), made.LOG)["meter"] == {}
