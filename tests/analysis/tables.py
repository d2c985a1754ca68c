"""Reads the reference tables of tests/reference: comment lines name the source, then a header, then rows."""

from __future__ import annotations

import csv
from pathlib import Path

FOLDER = Path(__file__).resolve().parent.parent / "reference"


def rows(name: str) -> list[dict[str, str]]:
    """All rows of one table by the names of its header."""
    lines = (FOLDER / name).read_text().splitlines()
    assert lines[0].startswith("# source:")
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))
