"""Waiting in real time for what another thread or process does."""

from __future__ import annotations

import time
from collections.abc import Callable


def comes_true(what: Callable[[], object], within_s: float = 60.0, every_s: float = 0.01) -> bool:
    """Whether it does, sooner or later."""
    limit_s = time.monotonic() + within_s
    while not what():
        if time.monotonic() > limit_s:
            return False
        time.sleep(every_s)
    return True
