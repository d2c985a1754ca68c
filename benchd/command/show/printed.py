"""Results as JSON to stdout."""

from __future__ import annotations

import json
import sys


def print_json(value: object) -> None:
    """``value`` and a line end. Finite numbers only, so that every reader can parse it."""
    sys.stdout.write(json.dumps(value, ensure_ascii=False, allow_nan=False, indent=1) + "\n")
