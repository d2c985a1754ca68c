"""What blocks of colours lay their patches with: the six full colours, and spaces from their texts."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any

HUES: dict[str, tuple[int, int, int]] = {
    "red": (1, 0, 0),
    "green": (0, 1, 0),
    "blue": (0, 0, 1),
    "cyan": (0, 1, 1),
    "magenta": (1, 0, 1),
    "yellow": (1, 1, 0),
}


def space_of(files: Mapping[str, str], name: str) -> dict[str, Any]:
    """The figures of a space whose text is among the plan's files."""
    key = f"spaces/{name}"
    return {**_parsed_space(key, files[key])}


@lru_cache(maxsize=64)
def _parsed_space(key: str, text: str) -> dict[str, Any]:
    """The figures in the text of a space; every point of a sweep needs the same few."""
    from benchd.profile.reading.strict_yaml import load_model
    from benchd.profile.space import Space

    return load_model(Space, text, f"{key}.yaml").normalised()
