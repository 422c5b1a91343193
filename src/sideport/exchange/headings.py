"""Finds the heading row of a sheet and what each column means."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from ..optics.side import Side
from .catalogue import column_by_heading
from .columns import Column, Kind, Table, normalised
from .grid import Grid
from .words import side_meant

__all__ = ["Bound", "Headings", "find_headings", "known_headings", "missing_columns"]

SEARCHED = 40
"""Rows from the top among which the heading row is sought."""
GROUPS_ABOVE = 3
"""Rows above the heading row that may carry group headings."""
SIDE_FIRST = re.compile(r"^(right eye|left eye|right|left|re|le|od|os)\s+(.+)$")
SIDE_LAST = re.compile(r"^(.+?)\s+(right eye|left eye|right|left|re|le|od|os|r|l)$")


@dataclass(frozen=True, slots=True)
class Bound:
    """One column of the sheet with its meaning."""

    index: int
    column: Column
    side: Side | None
    """Where the heading or the group above it says which eye."""
    label: str
    """As the sheet has it."""


@dataclass(frozen=True, slots=True)
class Headings:
    """What the heading row says."""

    row_index: int
    bound: tuple[Bound, ...]
    unknown: tuple[str, ...]
    repeated: tuple[str, ...]
    """Headings that mean a column that is there already; the first is used."""


def find_headings(grid: Grid, table: Table) -> Headings | None:
    """The heading row: the one among the first rows that names most columns of the table.

    Parameters
    ----------
    grid : Grid
        The sheet.
    table : Table
        What it should be.

    Returns
    -------
    Headings or None
        ``None`` when no row names at least two columns.
    """
    rows = grid.filled(0, SEARCHED)
    scores = [known_headings(row, table) for row in rows]
    best = max(scores, default=0)
    if best < 2:
        return None
    index = scores.index(best)
    above = rows[max(index - GROUPS_ABOVE, 0) : index]
    labels = [label or lowest_text(above, place, table) for place, label in enumerate(rows[index])]
    sides = group_sides(above, len(labels), fill=not grid.knows_spans)
    return bind(labels, sides, table, index)


def known_headings(row: Iterable[str], table: Table) -> int:
    """How many different columns of the table a row of cells names."""
    known = column_by_heading(table)
    return len({(found.key, side) for cell in row if cell for found, side in [meaning(cell, known)] if found})


def missing_columns(headings: Headings, table_columns: Sequence[Column]) -> tuple[Column, ...]:
    """The required columns that the sheet lacks; the eye may be said by the headings instead of by a column."""
    there = {bound.column.key for bound in headings.bound}
    by_side = any(bound.side for bound in headings.bound)
    return tuple(
        column
        for column in table_columns
        if column.required and column.key not in there and not (column.kind is Kind.SIDE and by_side)
    )


def meaning(label: str, known: Mapping[str, Column]) -> tuple[Column | None, Side | None]:
    """The column that a heading means, and the eye it names beside it."""
    words = normalised(label)
    column = known.get(words)
    if column is not None:
        return column, None
    for pattern, side_group, rest_group in ((SIDE_FIRST, 1, 2), (SIDE_LAST, 2, 1)):
        match = pattern.match(words)
        if match:
            column = known.get(match.group(rest_group))
            if column is not None and column.of_eye:
                return column, side_meant(match.group(side_group))
    return None, None


def lowest_text(above: list[list[str]], place: int, table: Table) -> str:
    """A heading that stands higher because its cell is merged downwards; only one that the table knows."""
    for row in reversed(above):
        if place < len(row) and row[place]:
            return row[place] if normalised(row[place]) in column_by_heading(table) else ""
    return ""


def group_sides(above: list[list[str]], width: int, *, fill: bool) -> list[Side | None]:
    """Which eye the group heading above each column names, nearest row first.

    Without knowledge of merged cells a group reaches to the next group's heading.
    """
    sides: list[Side | None] = [None] * width
    for row in reversed(above):
        if not any(side_meant(cell) for cell in row):
            continue
        current: Side | None = None
        for place in range(width):
            cell = row[place] if place < len(row) else ""
            if cell or not fill:
                current = side_meant(cell) if cell else None
            sides[place] = sides[place] or current
    return sides


def bind(labels: list[str], sides: list[Side | None], table: Table, row_index: int) -> Headings:
    """Gives each labelled column its meaning."""
    known = column_by_heading(table)
    bound: dict[tuple[str, Side | None], Bound] = {}
    unknown: list[str] = []
    repeated: list[str] = []
    previous = ""
    for index, label in enumerate(labels):
        if not label:
            continue
        column, side = meaning(label, known)
        if normalised(label) in {"axis", "ax"} and previous in {"k1", "k2"} and "k1 axis" in known:
            column = known[f"{previous} axis"]
        if column is None:
            unknown.append(label)
            previous = ""
            continue
        side = side or (sides[index] if column.of_eye else None)
        if (column.key, side) in bound:
            repeated.append(label)
        else:
            bound[column.key, side] = Bound(index, column, side, label)
        previous = column.key
    return Headings(row_index, tuple(bound.values()), tuple(unknown), tuple(repeated))
