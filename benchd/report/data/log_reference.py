"""Which log a report speaks of."""

from __future__ import annotations

from typing import NamedTuple


class LogReference(NamedTuple):
    """Which log: its file as the operator named it and the SHA-256 of its bytes (hexadecimal)."""

    file: str
    sha256: str
