"""A profile file as plain data, with the place of every key and value, and the faults found so far."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, NamedTuple

from benchd.errors import Fault
from benchd.profile.reading.base import Path


class Mark(NamedTuple):
    """A place in a file, both from 1."""

    line: int
    column: int


@dataclass(slots=True)
class Document:
    """Plain data, and the place of every key and value by its path."""

    file: str
    data: Any = None
    keys: dict[Path, Mark] = field(default_factory=dict)
    values: dict[Path, Mark] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    refused: set[Path] = field(default_factory=set)  # values that stand in for something already at fault

    def fault(self, mark: Mark, text: str) -> Fault:
        """Note a fault."""
        found = Fault(self.file, mark.line, mark.column, text)
        self.faults.append(found)
        return found

    def known_path(self, parts: tuple[str | int, ...]) -> Path:
        """``parts`` without those that are no key or index of the file (pydantic names branches of unions)."""
        path: Path = ()
        for part in parts:
            if (*path, part) in self.values:
                path = (*path, part)
        return path

    def is_refused(self, path: Path) -> bool:
        """True where an error in the value is reported already."""
        return any(path[:length] in self.refused for length in range(len(path) + 1))

    def at_value(self, path: Path, text: str) -> Fault:
        """Note a fault at the value that ``path`` leads to, or at its nearest owner that has a place."""
        while path not in self.values and path:
            path = path[:-1]
        return self.fault(self.values.get(path, Mark(1, 1)), text)

    def at_key(self, path: Path, text: str) -> Fault:
        """Note a fault at the key that ``path`` ends with; without such a key, at the value."""
        return self.fault(self.keys[path], text) if path in self.keys else self.at_value(path, text)
