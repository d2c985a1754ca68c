"""The one base of everything that an operator writes in YAML: strict types, no unknown keys, frozen."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

# benchd uses no pydantic plugins; looking for them costs start-up time.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

from pydantic import BaseModel, ConfigDict
from pydantic_core import PydanticCustomError

Path = tuple[str | int, ...]
"""Keys and list indices (from 0) that lead from the top of a file to a value."""


class Wrong(NamedTuple):
    """A fault found in plain data: where it is, and a sentence for the operator."""

    path: Path
    text: str
    at_key: bool = False  # the key that ends the path is at fault, whatever its value


def wrong(text: str, *path: str | int) -> PydanticCustomError:
    """What a validator raises: ``text`` is the operator's sentence, ``path`` leads on from its own value."""
    return PydanticCustomError("benchd", "{text}", {"text": text, "path": path})


class ProfileModel(BaseModel):
    """A validated, immutable piece of a profile file."""

    # Strict: no text that looks like a number, no number that looks like a flag.
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, defer_build=True)

    @classmethod
    def wrong_together(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """Faults that no key shows alone, from the plain data as written (types not yet checked).

        Here and not in a pydantic model validator, because those stay silent until every single key is
        right, and the operator is to see all the faults of a file in one go. Paths start at this model.
        """
        return ()

    @classmethod
    def context(cls, data: Mapping[str, Any]) -> dict[str, Any]:
        """What validators of inner models need to know of the whole file; asked of the outermost model."""
        return {}
