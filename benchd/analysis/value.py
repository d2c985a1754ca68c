"""What all result classes share: they are equal, hashed and shown by their fields."""

from __future__ import annotations

from dataclasses import fields
from typing import Any


class Value:
    """Equality, hash and text of all results, by field.

    Written once here: generated for each class they would cost every start of a command 14 ms.
    """

    __slots__ = ()

    def _parts(self) -> tuple[Any, ...]:
        return tuple(getattr(self, one.name) for one in fields(self))  # type: ignore[arg-type]

    def __eq__(self, other: object) -> bool:
        if type(other) is not type(self):
            return NotImplemented
        return self._parts() == other._parts()

    def __hash__(self) -> int:
        return hash(self._parts())

    def __repr__(self) -> str:
        named = zip(fields(self), self._parts(), strict=True)  # type: ignore[arg-type]
        return f"{type(self).__name__}({', '.join(f'{one.name}={part!r}' for one, part in named)})"
