"""A block of a plan: one measurement, under the key of its kind. What each kind can be told: `benchd.measurements`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Annotated, Any

from pydantic import ConfigDict

from benchd.errors import PackageError
from benchd.measurements import registry
from benchd.profile.reading.base import CheckedLazily, ProfileModel, Unusable, Wrong, with_keys


class Block(ProfileModel):
    """One measurement: exactly one of the keys."""

    model_config = ConfigDict(json_schema_extra={"minProperties": 1, "maxProperties": 1})

    @cached_property
    def kind(self) -> str:
        """Which of the keys is given."""
        return next(iter(self.model_fields_set))

    @cached_property
    def body(self) -> Any:
        """What the key holds: a `benchd.plan.block_body.BlockBody` of the kind."""
        return getattr(self, self.kind)

    @cached_property
    def name(self) -> str:
        """The name given, or the kind."""
        return self.body.name or self.kind

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """No block, or several, in one item."""
        kinds = [key for key in data if registry.is_known(key)]
        if not data:
            yield Wrong((), f"an empty block; give one of {', '.join(registry.kinds())}")
        for kind in kinds[1:]:
            yield Wrong(
                (kind,), f"'{kind}' stands in one list item with '{kinds[0]}'; begin its line with '- '", at_key=True
            )


def _model(kind: str) -> type[ProfileModel]:
    try:
        found: type[ProfileModel] = registry.part(kind, "plan").model
    except PackageError as error:
        return Unusable.because(str(error))
    return found


@lru_cache(maxsize=8)
def _block_of(kinds: tuple[str, ...]) -> type[Block]:
    """`Block` with a key for each kind; the model of a kind is imported when a plan has it."""
    return with_keys(Block, kinds, _model)


if TYPE_CHECKING:
    AnyBlock = Block
else:
    AnyBlock = Annotated[Any, CheckedLazily(lambda: _block_of(registry.kinds()))]
