"""The catalogue of sheets: one declaration drives reading, the empty files, their explanation and the reference."""

import re
from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

from .columns import Column, Table, TableSpec, normalised
from .columns_people import EYES, MEASUREMENTS, PATIENTS, REGISTER
from .columns_unit import DAY, LENSES, PRICES, SETTINGS, SHELF, TEAM

__all__ = ["column_by_heading", "setting_by_name", "table_by_name", "tables"]


@cache
def tables() -> Mapping[Table, TableSpec]:
    """Every sheet that Sideport reads, in the order in which a unit would fill them."""
    specs = (REGISTER, PATIENTS, EYES, MEASUREMENTS, LENSES, SHELF, TEAM, DAY, PRICES)
    return MappingProxyType({spec.table: spec for spec in specs})


@cache
def column_by_heading(table: Table) -> Mapping[str, Column]:
    """The table's columns by every normalised heading that means them."""
    return by_heading(tables()[table].columns)


@cache
def setting_by_name() -> Mapping[str, Column]:
    """The settings of the day sheet by every normalised name that means them."""
    return by_heading(SETTINGS)


def by_heading(columns: tuple[Column, ...]) -> Mapping[str, Column]:
    """Columns by heading, key and synonyms; the first to claim a heading has it."""
    found: dict[str, Column] = {}
    for column in columns:
        for heading in (column.heading, column.key, *column.synonyms):
            found.setdefault(normalised(heading), column)
    return MappingProxyType(found)


def table_by_name(name: str) -> Table | None:
    """The table that a file stem or sheet name means, or ``None``.

    Parameters
    ----------
    name : str
        Such as ``Patients 2026`` or ``lens-models``.
    """
    words = f" {normalised(re.sub(r'[_0-9]+', ' ', name))} "
    hits = [
        (len(alias), spec.table)
        for spec in tables().values()
        for alias in spec.names
        if f" {normalised(alias)} " in words
    ]
    return max(hits, key=lambda hit: hit[0])[1] if hits else None
