"""What the last bit of a figure depends on besides versions: which instructions of the processor numpy uses."""

from __future__ import annotations

import numpy as np


def arithmetic() -> str:
    """Their names, such as ``X86_V2, X86_V3``."""
    found = np.show_config(mode="dicts")
    extensions = found.get("SIMD Extensions", {}) if isinstance(found, dict) else {}
    return ", ".join((*extensions.get("baseline", ()), *extensions.get("found", ()))) or "not known"
