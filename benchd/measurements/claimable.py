"""A figure that a maker's claim may be of: each kind of measurement declares its own."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Literal, NamedTuple

from benchd.errors import PackageError
from benchd.measurements import registry

Better = Literal["more", "less", "nearer"]


class Claimable(NamedTuple):
    """One figure, or a family of them.

    ``name``     the report's; of a family an example
    ``unit``     that of its quantity: "cd/m2", "K", "%", "1" for a ratio, or any other text, such as "ms" or "degrees"
    ``better``   which way it is better
    ``pattern``  of a family: matches each of its names
    """

    name: str
    unit: str
    better: Better
    pattern: str = ""

    def called(self, written: str) -> str:
        """The report's name of what is ``written``; "" where it is another figure. Capitals are the same."""
        if self.pattern:
            return written if re.fullmatch(self.pattern, written, re.IGNORECASE) else ""
        return self.name if written.lower() == self.name.lower() else ""


def claimable() -> Iterator[Claimable]:
    """Those of every kind that is built in, then of every package that is installed and can be used."""
    for kind in registry.all_kinds():
        try:
            yield from registry.part(kind, "results").claimable
        except PackageError:
            continue  # whoever has a block of that kind is told why
