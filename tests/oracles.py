"""Libraries that our own figures are held against, loaded when a test first asks them.

Every worker collects every test, and these take a third of that time.
"""

from __future__ import annotations

import importlib
import sys
import warnings
from typing import Any


class _Oracle:
    """A module that is imported with its first use, its warnings aside."""

    def __init__(self, name: str) -> None:
        self._name = name

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):
            raise AttributeError(name)  # pytest asks everything that it finds in a file
        if self._name not in sys.modules:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                importlib.import_module(self._name)
        return getattr(sys.modules[self._name], name)


colour: Any = _Oracle("colour")
optimize: Any = _Oracle("scipy.optimize")
stats: Any = _Oracle("scipy.stats")
