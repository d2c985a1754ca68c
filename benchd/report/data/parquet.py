"""The tidy table in Parquet, a columnar format of the Apache foundation: one row a quantity, typed, with its unit.

pyarrow is imported only when such a file is written; without it one sentence says which package is missing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Literal, NamedTuple

from benchd.errors import InputError
from benchd.report.data.document import Json
from benchd.report.data.held import condition_rows, held
from benchd.report.uncertain import FIELDS as UNCERTAINTY
from benchd.report.whole_file import whole_file
from benchd.report.words import SIMULATED

Row = dict[str, Any]
Kind = Literal["text", "number", "whole"]


class DataColumn(NamedTuple):
    """A column: its name, the type of its cells, and whether a cell may be empty."""

    name: str
    kind: Kind
    empty: bool


COLUMNS = (
    DataColumn("path", "text", False),
    DataColumn("value", "number", True),
    DataColumn("unit", "text", False),
    *(DataColumn(name, "number", True) for name in UNCERTAINTY),
    DataColumn("n", "whole", False),
    DataColumn("s", "number", True),
    DataColumn("status", "text", False),
    DataColumn("bound", "text", True),
    DataColumn("conditions", "text", False),
    DataColumn("records", "text", False),
    DataColumn("simulated", "text", False),
    DataColumn("why", "text", False),
    DataColumn("sample", "text", False),
    DataColumn("log", "text", False),
    DataColumn("plan", "text", False),
    DataColumn("started", "text", False),
    DataColumn("imported", "text", False),
    DataColumn("text", "text", True),
    DataColumn("source", "text", True),
)
"""The columns of `data.csv_rows`, typed; ``imported`` is the file that readings were imported from, or ""."""

Put = Callable[[list[Row]], int]
"""Writes rows as one group and says how many."""


def rows_of(document: Json) -> Iterator[Row]:
    """The rows of one log, from a document as `benchd.report.data.document.to_json` makes it."""
    shared = {
        "simulated": document["notice"],
        "sample": document["sample"],
        "log": document["log"]["sha256"][:16],
        "plan": document["plan"],
        "started": document["started"],
        "imported": document["imported"],
    }
    nothing = {column.name: None if column.empty else "" for column in COLUMNS} | {"n": 0}
    paths = set()
    for path, quantity, under in held(document):
        paths.add(path)
        own = {column.name: quantity[column.name] for column in COLUMNS if column.name in quantity}
        records = " ".join(f"{first}-{last}" for first, last in quantity["records"])
        yield {**nothing, **own, "path": path, "conditions": under, "records": records, **shared}
    for result in document["absent"]:
        if result["result"] not in paths:
            yield {**nothing, "path": result["result"], "status": "absent", "why": result["why"], **shared}
    for row in condition_rows(document):
        yield {**nothing, **row, **shared}


def write(document: Json, target: Path) -> int:
    """Write the table of one log; how many rows. Raises `InputError`."""
    with writer(target, simulated=document["simulated"]) as put:
        return put(list(rows_of(document)))


@contextmanager
def writer(target: Path, *, simulated: bool) -> Iterator[Put]:
    """A file that takes rows; it is there, whole, once the block is left without an error.

    Raises `InputError` when pyarrow is not installed, or the file can't be written.
    """
    try:
        import pyarrow as arrow
        from pyarrow import parquet
    except ImportError:
        raise InputError(
            "Parquet needs the package pyarrow, which is not installed: pip install 'benchd[parquet]', or write CSV"
        ) from None
    types = {"text": arrow.string(), "number": arrow.float64(), "whole": arrow.int64()}
    fields = [arrow.field(column.name, types[column.kind], nullable=column.empty) for column in COLUMNS]
    schema = arrow.schema(fields, metadata={"notice": SIMULATED if simulated else "", "schema": "benchd.table/1"})
    try:
        with whole_file(target) as aside, parquet.ParquetWriter(aside, schema, compression="zstd") as out:

            def put(rows: list[Row]) -> int:
                if rows:
                    out.write_table(arrow.Table.from_pylist(rows, schema=schema))
                return len(rows)

            yield put
    except OSError as error:
        raise InputError(f"{target} can't be written ({error.strerror or error}); choose another file") from None
