"""The night of a sweep on virtual time: three picture presets at eleven brightness settings, as its user starts it."""

from __future__ import annotations

from collections.abc import Iterator

from tests.bench.figures import Figure, Settings
from tests.bench.night import whole_night


def sweep_night(settings: Settings) -> Iterator[Figure]:
    """``benchd run sweep-night --bench sim-office``."""
    yield whole_night("sweep-night", ("run", "sweep-night", "--bench", "sim-office"), settings)
