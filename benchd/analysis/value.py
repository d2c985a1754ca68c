"""What all result classes share: frozen dataclasses with slots, equal, hashed and shown by their fields.

There are some eighty of them, a log has a dozen, and to write the methods of a dataclass takes longer than to compute
a small log. So a class is made a dataclass when the first of its kind is made, or when its fields are asked for.
"""

from __future__ import annotations

from dataclasses import Field, FrozenInstanceError, dataclass, fields
from typing import Any, ClassVar, dataclass_transform


@dataclass_transform(frozen_default=True, eq_default=False)
class _Kind(type):
    """Makes the class with a slot for each annotation, and keeps the defaults for the dataclass."""

    def __new__(mcs, name: str, bases: tuple[type, ...], names: dict[str, Any]) -> _Kind:
        slots = tuple(one for one, hint in names.get("__annotations__", {}).items() if not hint.startswith("ClassVar"))
        defaults = {one: names.pop(one) for one in slots if one in names}
        made = super().__new__(mcs, name, bases, {**names, "__slots__": slots})
        if bases:
            made._defaults = defaults
            made.__dataclass_fields__ = _FieldsWhenAsked()
        return made

    _defaults: dict[str, Any]
    __dataclass_fields__: Any


class _FieldsWhenAsked:
    """Stands where the fields will be."""

    def __get__(self, instance: object, owner: _Kind) -> dict[str, Field[Any]]:
        return _made_a_dataclass(owner)


def _made_a_dataclass(kind: _Kind) -> dict[str, Field[Any]]:
    """Give ``kind`` the fields and the `__init__` of the dataclass that it is written as."""
    names = {one: vars(kind)[one] for one in ("__module__", "__annotations__", "__post_init__") if one in vars(kind)}
    like: Any = dataclass(frozen=True, eq=False, repr=False)(type(kind.__name__, (), {**names, **kind._defaults}))
    like.__init__.__qualname__ = f"{kind.__qualname__}.__init__"
    for one in ("__init__", "__match_args__", "__dataclass_params__", "__dataclass_fields__"):
        setattr(kind, one, getattr(like, one))
    found: dict[str, Field[Any]] = like.__dataclass_fields__
    return found


class Value(metaclass=_Kind):
    """A result: ``class Luminance(Value)`` with annotated fields is a frozen dataclass with slots.

    Its own method of a dataclass may be ``__post_init__``. A default is a plain value; there is no ``field()``.
    """

    __dataclass_fields__: ClassVar[dict[str, Field[Any]]]

    def __init__(self, *values: Any, **named: Any) -> None:
        kind = type(self)
        _made_a_dataclass(kind)
        kind.__init__(self, *values, **named)  # from here on the dataclass's own

    def _parts(self) -> tuple[Any, ...]:
        return tuple(getattr(self, one.name) for one in fields(self))

    def __setattr__(self, name: str, value: object) -> None:
        raise FrozenInstanceError(f"cannot assign to field {name!r}")

    def __delattr__(self, name: str) -> None:
        raise FrozenInstanceError(f"cannot delete field {name!r}")

    def __getstate__(self) -> tuple[Any, ...]:
        return self._parts()

    def __setstate__(self, parts: tuple[Any, ...]) -> None:
        for one, part in zip(fields(self), parts, strict=True):
            object.__setattr__(self, one.name, part)

    def __eq__(self, other: object) -> bool:
        if type(other) is not type(self):
            return NotImplemented
        return self._parts() == other._parts()

    def __hash__(self) -> int:
        return hash(self._parts())

    def __repr__(self) -> str:
        named = zip(fields(self), self._parts(), strict=True)
        return f"{type(self).__name__}({', '.join(f'{one.name}={part!r}' for one, part in named)})"
