"""One way to write a value as JSON, so that equal values have equal bytes and one digest."""

import json
import math
from collections.abc import Iterator, Mapping
from typing import Any

from ..errors import ImpossibleInputError

__all__ = ["canonical", "parse_json"]

DEEPEST = 40
LARGEST = 2**53
"""Beyond it not every reader of JSON tells whole numbers apart."""


def canonical(value: object) -> str:
    """JSON with sorted keys, no spaces, text as it is and numbers as short as they read back.

    Raises
    ------
    ImpossibleInputError
        When the value holds what JSON or a database cannot keep: NaN, infinity, a NUL or half a character.
    """
    bad = next(unkeepable(value, 0), None)
    if bad is not None:
        raise ImpossibleInputError(f"The record cannot keep {bad}; leave the value out, or write it anew.")
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def parse_json(text: str | bytes) -> Any:
    """The value of a JSON text.

    Raises
    ------
    ImpossibleInputError
        When it is not JSON, or is nested so deeply that nothing here can have written it.
    """
    try:
        return json.loads(text)
    except (ValueError, RecursionError):
        raise ImpossibleInputError("This is not JSON as the record writes it.") from None


def unkeepable(value: object, depth: int) -> Iterator[str]:
    """What of a tree of plain values cannot be kept, in words without the value itself."""
    if depth > DEEPEST:
        yield "something nested so deeply"
    elif isinstance(value, float):
        if not math.isfinite(value):
            yield "a number that is not finite"
    elif isinstance(value, int):
        if abs(value) > LARGEST:
            yield "a number so large"
    elif isinstance(value, str):
        if "\0" in value or any("\ud800" <= character <= "\udfff" for character in value):
            yield "a text with a NUL or half a character in it"
    elif isinstance(value, Mapping):
        for key, item in value.items():
            yield from unkeepable(key, depth + 1)
            yield from unkeepable(item, depth + 1)
    elif isinstance(value, list | tuple):
        for item in value:
            yield from unkeepable(item, depth + 1)
