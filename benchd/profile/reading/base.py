"""The one base of everything that an operator writes in YAML: strict types, no unknown keys, frozen."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, NamedTuple, Protocol, TypeVar, cast

from pydantic import BaseModel, ConfigDict, Field, create_model
from pydantic_core import PydanticCustomError, core_schema

from benchd.errors import Fault

if TYPE_CHECKING:
    from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler, ValidationInfo
    from pydantic_core import CoreSchema

os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

Model = TypeVar("Model", bound="ProfileModel")
Path = tuple[str | int, ...]
"""Keys and list indices (from 0) that lead from the top of a file to a value."""


class Wrong(NamedTuple):
    """A fault found in plain data: where it is, and a sentence for the operator."""

    path: Path
    text: str
    at_key: bool = False  # the key that ends the path is at fault, whatever its value


class KeyRule(Protocol):
    """What must hold of the keys of a mapping."""

    def faults(self, data: Mapping[str, Any]) -> Iterator[Wrong]:
        """Where ``data``, plain and as written, does not keep to it."""


class Rule(NamedTuple):
    """Keys that go together, or do not: at fault where all of ``given`` are there and none of ``absent``."""

    given: tuple[str, ...]
    absent: tuple[str, ...]
    text: str  # the operator's sentence
    at: str = ""  # the key that is at fault; "": the mapping as a whole

    def faults(self, data: Mapping[str, Any]) -> Iterator[Wrong]:
        """The fault, where ``data`` breaks the rule."""
        if data.keys() >= set(self.given) and not data.keys() & set(self.absent):
            yield Wrong((self.at,) if self.at else (), self.text, at_key=bool(self.at))


def wrong(text: str, *path: str | int) -> PydanticCustomError:
    """What a validator raises: ``text`` is the operator's sentence, ``path`` leads on from its own value."""
    return PydanticCustomError("benchd", "{text}", {"text": text, "path": path})


class ProfileModel(BaseModel):
    """A validated, immutable piece of a profile file."""

    # Strict: no text that looks like a number, no number that looks like a flag.
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, defer_build=True)

    renamed: ClassVar[Mapping[str, str]] = {}
    """Keys of earlier versions, with what is written now, such as ``{"old": "new: {...}"}``."""

    misnamed: ClassVar[Mapping[str, str]] = {}
    """Keys that people write, with the key that they mean, where no likeness of the words leads to it."""

    for_word: ClassVar[Mapping[str, str]] = {}
    """What to write in the place of a single word: by that word, "" for any other; ``{}`` stands for the word."""

    key_rules: ClassVar[tuple[KeyRule, ...]] = ()
    """Which keys go together; judged with `cross_field_errors`, and with those of the classes that it is made from."""

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """Faults that no key shows alone, from the plain data as written (types not yet checked).

        Here and not in a pydantic model validator, because those stay silent until every single key is
        right, and all errors in a file are reported together. Paths start at this model.
        """
        return ()

    @classmethod
    def context(cls, data: Mapping[str, Any]) -> dict[str, Any]:
        """What validators of inner models need of the whole file; taken from the outermost model."""
        return {}


class Unusable(ProfileModel):
    """In place of a model that can't be had: its key's value is not judged, and the reason is reported at the key."""

    model_config = ConfigDict(extra="allow")

    why: ClassVar[str] = ""

    @classmethod
    def because(cls, why: str) -> type[ProfileModel]:
        """The stand-in with its reason."""
        return type("Unusable", (cls,), {"why": why, "__module__": __name__, "__doc__": why})

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """The reason."""
        yield Wrong((), cls.why, at_key=True)


class CheckedLazily:
    """Marks a key whose model is checked by itself: the same errors at the same places, but its validator is made
    when the first one is read.

    For keys of which a file has few of many: to make what checks every kind of block takes longer than to check a plan.
    ``find`` imports the model, no sooner either.
    """

    def __init__(self, find: Callable[[], type[ProfileModel]]) -> None:
        self.model = find

    def __get_pydantic_core_schema__(self, written: Any, _: GetCoreSchemaHandler) -> CoreSchema:
        def checked(value: Any, info: ValidationInfo) -> ProfileModel:
            return self.model().model_validate_json(json.dumps(value), context=info.context)

        return core_schema.with_info_plain_validator_function(checked)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        model = self.model()
        model.model_rebuild()
        # As the one step of a chain, so that it becomes a definition of its own and not a part of what holds it.
        found = handler(core_schema.chain_schema([model.__pydantic_core_schema__]))
        return {**found, "description": summary(model)}


def is_number(value: Any) -> bool:
    """True for a number of plain data; true and false are none."""
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def numbers_of(value: Any, count: int) -> tuple[float, ...] | None:
    """The numbers of a list of ``count``; None where plain data has anything else."""
    right = isinstance(value, (list, tuple)) and len(value) == count and all(map(is_number, value))
    return tuple(map(float, value)) if right else None


def items_of(value: Any) -> list[Any]:
    """The items where plain data has a list; anything else is reported by itself."""
    return value if isinstance(value, list) else []


def with_keys(base: type[Model], names: Iterable[str], model: Callable[[str], type[ProfileModel]]) -> type[Model]:
    """``base`` with a key for each name; the model of a key is found when a file has it."""

    def key(name: str) -> Any:
        return Annotated[Any, CheckedLazily(lambda: model(name))] | None, Field(default=None)

    fields: dict[str, Any] = {name: key(name) for name in names}
    return cast(type[Model], create_model(base.__name__, __base__=base, __doc__=base.__doc__, **fields))


def summary(model: type[ProfileModel]) -> str:
    """What a model is, as the meaning of a key: the first line of its docstring."""
    line = (model.__doc__ or "").strip().partition("\n")[0].removesuffix(".")
    return line[:1].lower() + line[1:]


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
