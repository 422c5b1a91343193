"""Reads the published numbers that ship inside the package.

This is the one place in the pure rooms that opens files: the data is part of the program, read once and frozen.
"""

import hashlib
import tomllib
from collections.abc import Iterator
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

from ..errors import KnowledgeError
from .knowledge import Knowledge
from .number import Basis, Number, Source

__all__ = ["load_published"]

NUMBER_FIELDS = {"value", "spread", "unit", "n", "source", "locator", "basis", "note"}


@cache
def load_published() -> Knowledge:
    """The numbers and sources in ``sideport/knowledge``, checked and frozen.

    Raises
    ------
    KnowledgeError
        On a number without unit, source or basis, with an unknown field, or whose source is not in the bibliography.
    """
    room = files("sideport.knowledge")
    digest = hashlib.sha256()
    bibliography = room.joinpath("sources.toml").read_bytes()
    digest.update(bibliography)
    sources = {key: Source(key=key, **entry) for key, entry in tomllib.loads(bibliography.decode()).items()}
    numbers: dict[str, Number] = {}
    for path in sorted(room.joinpath("published").iterdir(), key=lambda entry: entry.name):
        if path.name.endswith(".toml"):
            content = path.read_bytes()
            digest.update(content)
            stem = path.name.removesuffix(".toml")
            for number in read_numbers(stem, tomllib.loads(content.decode())):
                if number.source not in sources:
                    raise KnowledgeError(f"{number.key} names the source {number.source!r}, which sources.toml lacks.")
                numbers[number.key] = number
    return Knowledge(
        version=digest.hexdigest()[:12], numbers=MappingProxyType(numbers), sources=MappingProxyType(sources)
    )


def read_numbers(prefix: str, table: dict[str, Any]) -> Iterator[Number]:
    """Every number in a TOML table; a table with a ``value`` is a number, any other is a group."""
    if "value" in table:
        unknown = table.keys() - NUMBER_FIELDS
        missing = {"unit", "source", "basis"} - table.keys()
        if unknown or missing:
            raise KnowledgeError(f"{prefix}: unknown fields {sorted(unknown)}, missing fields {sorted(missing)}.")
        yield Number(key=prefix, **{**table, "value": float(table["value"]), "basis": Basis(table["basis"])})
        return
    for name, entry in table.items():
        if not isinstance(entry, dict):
            raise KnowledgeError(f"{prefix}.{name}: a bare value; write it as a table with value, unit, source, basis.")
        yield from read_numbers(f"{prefix}.{name}", entry)
