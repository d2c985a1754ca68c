"""Every figure of the library as rows for other programs: CSV with the columns of one log's table, or Parquet."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from benchd.errors import InputError
from benchd.library.entry import NamedFigure
from benchd.library.store import Store, StoredSample
from benchd.report.data.parquet import COLUMNS, writer
from benchd.report.whole_file import whole_file
from benchd.report.words import SIMULATED


def rows_of(store: Store, sample: StoredSample) -> Iterator[dict[str, Any]]:
    """One row a figure, by paths only: the headlines are the same figures under shorter names."""
    for named in store.figures_of(sample.id):
        if not named.headline:
            yield _row(named, sample)


def _row(named: NamedFigure, sample: StoredSample) -> dict[str, Any]:
    figure = named.figure
    return {
        "path": named.name,
        "unit": named.unit,
        **{key: value for key, value in figure._asdict().items() if key != "settings"},  # the path begins with them
        "simulated": SIMULATED if sample.facts.simulated else "",
        "sample": sample.facts.name,
        "log": sample.facts.sha256[:16],
        "plan": sample.facts.plan,
        "started": sample.facts.started,
        "imported": sample.facts.imported,
    }


def write_parquet(store: Store, samples: Sequence[StoredSample], target: Path) -> int:
    """Write all figures of ``samples``; how many rows. Raises `InputError` without pyarrow or when it can't write."""
    with writer(target, simulated=any(sample.facts.simulated for sample in samples)) as put:
        return sum(put(list(rows_of(store, sample))) for sample in samples)


def write_csv(store: Store, samples: Sequence[StoredSample], target: Path) -> int:
    """The same as CSV; an absent value is an empty cell. Raises `InputError` when it can't be written."""
    count = 0
    try:
        with whole_file(target) as aside, aside.open("w", newline="", encoding="utf-8") as file:
            out = csv.DictWriter(file, [column.name for column in COLUMNS], restval="")
            out.writeheader()
            for sample in samples:
                for row in rows_of(store, sample):
                    # repr of a float is the shortest text that reads back to the same float.
                    out.writerow({key: repr(cell) if isinstance(cell, float) else cell for key, cell in row.items()})
                    count += 1
    except OSError as error:
        raise InputError(f"{target} can't be written ({error.strerror}); choose another file") from None
    return count
