"""The one base of everything that an operator writes in YAML: strict types, no unknown keys, frozen."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict


class ProfileModel(BaseModel):
    """A validated, immutable piece of a profile file."""

    # Strict: no text that looks like a number, no number that looks like a flag.
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, defer_build=True)
