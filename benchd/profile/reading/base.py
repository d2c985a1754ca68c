"""The one base of everything that an operator writes in YAML: strict types, no unknown keys, frozen."""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Mapping
from importlib import import_module
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, NamedTuple, TypeVar

from pydantic import BaseModel, ConfigDict
from pydantic_core import PydanticCustomError, core_schema

if TYPE_CHECKING:
    from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler, ValidationInfo
    from pydantic_core import CoreSchema


os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

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

    renamed: ClassVar[Mapping[str, str]] = {}
    """Keys of earlier versions, with what is written now, such as ``{"old": "new: {...}"}``."""

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """Faults that no key shows alone, from the plain data as written (types not yet checked).

        Here and not in a pydantic model validator, because those stay silent until every single key is
        right, and the operator is to see all the faults of a file in one go. Paths start at this model.
        """
        return ()

    @classmethod
    def context(cls, data: Mapping[str, Any]) -> dict[str, Any]:
        """What validators of inner models need to know of the whole file; asked of the outermost model."""
        return {}


class CheckedLazily:
    """Says of a key that its model is checked by itself: the same faults at the same places, but what checks it is made
    when the first one is read.

    For keys of which a file has few of many: to make what checks every kind of block takes longer than to check a plan.
    With ``module`` and ``name`` the model is imported no sooner either.
    """

    def __init__(self, module: str = "", name: str = "") -> None:
        self._module, self._name = module, name

    def model(self, written: Any = Any) -> type[ProfileModel]:
        """The model, imported where it is elsewhere; else the one that is ``written`` at the key."""
        found: type[ProfileModel] = getattr(import_module(self._module), self._name) if self._module else written
        return found

    @property
    def is_elsewhere(self) -> bool:
        """True when the key itself does not name the model."""
        return bool(self._module)

    def __get_pydantic_core_schema__(self, written: Any, _: GetCoreSchemaHandler) -> CoreSchema:
        def checked(value: Any, info: ValidationInfo) -> ProfileModel:
            return self.model(written).model_validate_json(json.dumps(value), context=info.context)

        return core_schema.with_info_plain_validator_function(checked, metadata={"written": written})

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        model = self.model(schema["metadata"]["written"])
        model.model_rebuild()
        # As the one step of a chain, so that it becomes a definition of its own and not a part of what holds it.
        return handler(core_schema.chain_schema([model.__pydantic_core_schema__]))


_Model = TypeVar("_Model", bound=ProfileModel)
Lazy = Annotated[_Model, CheckedLazily()]
"""``Lazy[Patches]``: the model, checked by itself."""


def elsewhere(module: str, name: str) -> Any:
    """At run time in place of a model that is imported for type checks only."""
    return Annotated[Any, CheckedLazily(module, name)]
