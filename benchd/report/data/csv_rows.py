"""Results as a table: tidy CSV, one row a quantity or a condition, made from the same document as the JSON.

Columns::

    path       where the figure belongs, such as "uniformity/white/r2c3/luminance"
    value      not rounded; empty when absent
    unit       "cd/m2", "K", "%", "1" ...
    expanded_uncertainty, standard_uncertainty, coverage_factor   U at 95 %, u and k; empty where the uncertainty is not
               known, and where the 95 % interval is skew
    dof        effective degrees of freedom (empty: infinite)
    low, high  ends of the 95 % coverage interval; empty where the uncertainty is not known
    n, s       readings and their standard deviation
    status     ok, unstable (as the meter flagged a reading of it), under, over or absent
    bound      empty, "above" (the truth is more than value) or "below"
    conditions what the figure holds for, such as its target, signal or patch: figures of one path are alike only where
               these are the same
    records    first and last sequence numbers in the log: "12-14 20-22"
    simulated  SIMULATED in every row when a simulator took part, else empty
    why        the note or reason
    sample     the sample, so that tables of several logs can be put under one another
    log        the first 16 digits of the log's SHA-256, for the same purpose
    text, source   of a condition of measuring alone: its words where it is no number, and where it is from

A result that is absent as a whole has one row of its own, with its reason. So has, at the end, each condition of
measuring, such as "conditions/preset", whose status is recorded or absent; ``why`` has what disagrees with it. Lines
end as RFC 4180 says.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

from benchd.report.data.document import Json
from benchd.report.data.held import condition_rows, held
from benchd.report.uncertain import FIELDS as UNCERTAINTY

COLUMNS = (
    "path",
    "value",
    "unit",
    *UNCERTAINTY,
    "n",
    "s",
    "status",
    "bound",
    "conditions",
    "records",
    "simulated",
    "why",
    "sample",
    "log",
    "text",
    "source",
)


def csv_text(document: Json) -> str:
    """The table of a document, as `benchd.report.data.document.to_json` makes it, with its head line."""
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, COLUMNS, restval="")
    writer.writeheader()
    writer.writerows(_rows(document))
    return out.getvalue()


def _rows(document: Json) -> Iterator[dict[str, object]]:
    shared = {
        "simulated": document["notice"],
        "sample": document["sample"],
        "log": document["log"]["sha256"][:16],
    }
    paths = set()
    for path, quantity, under in held(document):
        paths.add(path)
        yield {
            "path": path,
            **{key: _cell(quantity[key]) for key in ("value", *UNCERTAINTY, "n", "s", "bound")},
            "unit": quantity["unit"],
            "status": quantity["status"],
            "conditions": under,
            "records": " ".join(f"{first}-{last}" for first, last in quantity["records"]),
            "why": quantity["why"],
            **shared,
        }
    for result in document["absent"]:
        if result["result"] in paths:
            continue  # an absent quantity has its row and its reason already
        yield {"path": result["result"], "status": "absent", "why": result["why"], **shared}
    for row in condition_rows(document):
        yield {**row, "value": _cell(row["value"]), **shared}


def _cell(value: object) -> object:
    # repr of a float is the shortest text that reads back to the same float.
    return "" if value is None else repr(value) if isinstance(value, float) else value
