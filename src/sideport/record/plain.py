"""Core records as plain values and back, for tables that keep them whole."""

from collections.abc import Hashable
from functools import cache
from typing import Any, TypeVar, cast

from pydantic import TypeAdapter

from .canonical import parse_json

__all__ = ["plain_of", "read_plain"]

T = TypeVar("T")


def plain_of(kind: type[T], value: T) -> Any:
    """A frozen dataclass as values that JSON has."""
    return adapter(cast("Hashable", kind)).dump_python(value, mode="json")


def read_plain(kind: type[T], text: str) -> T:
    """A frozen dataclass from its JSON, the inverse of ``plain_of`` written down."""
    read: T = adapter(cast("Hashable", kind)).validate_python(parse_json(text))
    return read


@cache
def adapter(kind: Hashable) -> TypeAdapter[Any]:
    """Pydantic's view of a class, made once."""
    return TypeAdapter(cast("Any", kind))
