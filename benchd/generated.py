"""The files that are made from the code: JSON Schemas, the page of keys, the description of the service's interface.

``python -m benchd.generated profiles`` writes them anew; tests hold the shipped ones current.
"""

from __future__ import annotations

import sys
from pathlib import Path

from benchd.daemon.http import openapi
from benchd.daemon.http.routes import ROUTES
from benchd.plan import schema
from benchd.plan.keys_page import keys_page
from benchd.report.data import results_schema


def files() -> dict[str, str]:
    """Path below ``profiles/`` -> text of every file."""
    schemas = {
        **schema.files(),
        results_schema.FILE: results_schema.schema_text(),
        openapi.FILE: openapi.text(ROUTES),
    }
    return {"KEYS.md": keys_page(), **{f"schema/{name}": text for name, text in schemas.items()}}


def main(arguments: list[str]) -> int:
    """Write them below the folder that is named."""
    if len(arguments) != 1:
        sys.stderr.write("usage: python -m benchd.generated FOLDER\n")
        return 2
    for name, text in files().items():
        path = Path(arguments[0]) / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
