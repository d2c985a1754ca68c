"""Which log a report speaks of."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class LogReference:
    """Which log: its file as the operator named it and the SHA-256 of its bytes (hexadecimal)."""

    file: str
    sha256: str
