"""The tidy table in Parquet says what the CSV and the JSON say."""

from __future__ import annotations

import csv
import io
import sys
from pathlib import Path

import pytest
from pyarrow import parquet

from benchd.analysis.analyse import analyse
from benchd.errors import InputError
from benchd.report.data import parquet as ours
from benchd.report.data.csv_rows import COLUMNS, csv_text
from benchd.report.data.document import Json, quantities, to_json
from benchd.report.data.log_reference import LogReference
from tests.report.logged import records


@pytest.fixture(scope="module")
def document() -> Json:
    made = analyse(records("sdr-standard", black_cd_m2=0.001, simulated=True, without=("uniformity/r1c1/white",)))
    return to_json(made, LogReference("made.log", "0" * 64))


def test_it_has_the_rows_of_the_csv(document: Json, tmp_path: Path) -> None:
    count = ours.write(document, tmp_path / "made.parquet")
    table = parquet.read_table(tmp_path / "made.parquet")
    rows = list(csv.DictReader(io.StringIO(csv_text(document))))
    assert count == table.num_rows == len(rows)
    assert set(COLUMNS) <= set(table.column_names), "no column of the CSV is missing"
    for wide, row in zip(table.to_pylist(), rows, strict=True):
        for name in COLUMNS:
            text = row[name]
            found = wide[name]
            if name == "n" and not text:
                assert found == 0
            elif isinstance(found, float | int):
                assert found == float(text), (row["path"], name)
            else:
                assert (found or "") == text, (row["path"], name)


def test_types_units_and_simulated_are_kept(document: Json, tmp_path: Path) -> None:
    ours.write(document, tmp_path / "made.parquet")
    table = parquet.read_table(tmp_path / "made.parquet")
    types = {field.name: str(field.type) for field in table.schema}
    assert types["value"] == types["expanded_uncertainty"] == types["low"] == "double"
    assert types["n"] == "int64"
    assert table.schema.metadata[b"notice"] == b"SIMULATED"
    assert set(table.column("simulated").to_pylist()) == {"SIMULATED"}
    values = {row["path"]: row["value"] for row in table.to_pylist()}
    for path, quantity in quantities(document):
        assert values[path] == quantity["value"], "to the last bit"
    [bound] = [row for row in table.to_pylist() if row["path"] == "contrast/sequential/ratio"]
    assert (bound["bound"], bound["expanded_uncertainty"]) == ("above", None)


def test_nothing_is_left_of_a_file_that_could_not_be_written(
    document: Json, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(InputError, match="can't be written"):
        ours.write(document, tmp_path / "no" / "made.parquet")
    kept = tmp_path / "kept.parquet"
    kept.write_text("older")
    with pytest.raises(RuntimeError), ours.writer(kept, simulated=True) as put:
        put(list(ours.rows_of(document)))
        raise RuntimeError
    assert kept.read_text() == "older"
    assert [path.name for path in tmp_path.iterdir()] == ["kept.parquet"]
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(InputError, match=r"pip install 'benchd\[parquet\]', or write CSV"):
        ours.write(document, tmp_path / "made.parquet")
