"""The uncertainty of a figure as data."""

from __future__ import annotations

import math

from benchd.analysis.quantity import Quantity

FIELDS = ("u", "k", "dof", "low", "high")
"""Keys of a figure in JSON, and columns of the table."""


def uncertainty_fields(quantity: Quantity) -> dict[str, float | None]:
    """u (expanded, 95 %), k, dof, low, high; all null where the uncertainty is not known."""
    found = quantity.stated
    if found is None or not math.isfinite(found.expanded):
        return dict.fromkeys(FIELDS)
    dof = None if math.isinf(found.dof) else found.dof
    values = (found.expanded, found.k, dof, found.low, found.high)
    return {key: None if value is None else float(value) for key, value in zip(FIELDS, values, strict=True)}
