"""One row of a sheet as cells with a meaning."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from ..eye.measurement import Quantity
from ..optics.side import Side
from .cells import parse_cell
from .figures import CellError
from .findings import Findings
from .grid import Grid
from .headings import Bound, Headings

__all__ = ["Row", "rows_of"]

DROPS_THE_ROW = frozenset({"", "person_id", "side"})
"""A row that lacks one of these is not used at all."""


@dataclass(slots=True)
class Row:
    """A row, or the half of it that belongs to one eye where the headings name both."""

    file: str
    sheet: str
    number: int
    """As a spreadsheet counts, from 1."""
    cells: dict[str, str]
    """Text by column key; empty cells are left out."""
    bound: dict[str, Bound]
    """What the sheet's columns mean."""
    findings: Findings
    side: Side | None = None
    """Where the headings say which eye these cells belong to."""
    listed: bool | None = None
    """Where the row's own side column settles whether this eye is on the list."""
    whole: bool = field(default=True)
    """False for the second half of a row, so that what both halves share is complained of once."""

    def text(self, key: str) -> str:
        """The cell as written; empty when there is none."""
        return self.cells.get(key, "")

    def take(self, key: str) -> Any:
        """The cell's value; ``None`` when empty, or when it cannot be read, which is then listed."""
        text = self.cells.get(key)
        if text is None:
            return None
        column = self.bound[key].column
        try:
            return parse_cell(column, text)
        except CellError as error:
            self.set_aside(error.why, error.accepted, key=key)
            return None

    def set_aside(self, why: str, accepted: str, *, key: str = "") -> None:
        """Lists a cell of this row, or the whole row where no key is given."""
        bound = self.bound.get(key)
        if not self.whole and bound is not None and bound.side is None:
            return
        self.findings.reject(
            file=self.file, sheet=self.sheet, row=self.number, column=bound.label if bound else "",
            found=self.cells.get(key, "") if key else self.summary(), why=why, accepted=accepted, **self.about(key),
        )  # fmt: skip

    def about(self, key: str) -> dict[str, Any]:
        """Whom and what a complaint about a cell, or about the whole row, concerns."""
        if "person_id" not in self.bound:
            return {}
        reading = "quantity" in self.bound
        lost = self.quietly("quantity") if reading and key in DROPS_THE_ROW | {"value"} else None
        if key == "axial_length":
            lost = Quantity.AXIAL_LENGTH
        return {
            "person_id": self.text("person_id"),
            "name": self.text("name"),
            "side": self.side or (self.quietly("side") if "side" in self.bound else None),
            "quantity": "" if lost is None else lost.value,
            "left_out": not reading and key in DROPS_THE_ROW,
        }

    def summary(self) -> str:
        """The first cells, so that a person finds the row again."""
        return " | ".join(list(self.cells.values())[:4])

    @property
    def sheet_key(self) -> tuple[str, str]:
        """Which sheet the row stands in."""
        return self.file, self.sheet

    def quietly(self, key: str) -> Any:
        """The cell's value, or ``None``; what cannot be read is not listed, since it will be taken again."""
        text = self.cells.get(key)
        try:
            return None if text is None else parse_cell(self.bound[key].column, text)
        except CellError:
            return None

    def place(self) -> str:
        """Where the row stands, in words."""
        return f"{self.file}{f', sheet {self.sheet}' if self.sheet else ''}, row {self.number}"


def rows_of(grid: Grid, headings: Headings, findings: Findings) -> Iterator[Row]:
    """The rows below the headings; rows without any cell are passed over.

    Parameters
    ----------
    grid : Grid
        The sheet.
    headings : Headings
        What its columns mean.
    findings : Findings
        Takes what was set aside.

    Yields
    ------
    Row
        One a row; one an eye where the headings carry sides.
    """
    shared = tuple(bound for bound in headings.bound if bound.side is None)
    plain = {bound.column.key: bound for bound in shared}
    sided = {side: tuple(bound for bound in headings.bound if bound.side is side) for side in Side}
    first = headings.row_index + 1
    merged = vertical_text(grid, first)
    for index in range(first, len(grid.rows)):
        texts = grid.rows[index]
        cells = texts_by_key(texts, shared, merged.get(index, {}))
        row = Row(grid.file, grid.sheet, index + 1, cells, plain, findings)
        if not (sided[Side.RIGHT] or sided[Side.LEFT]):
            if any(texts) and cells:
                yield row
            elif any(texts):
                row.set_aside("has cells only where no heading is known", "cells below the known headings")
            continue
        if any(texts):
            yield from halves(row, texts, sided)


def texts_by_key(texts: list[str], bounds: tuple[Bound, ...], merged: dict[int, str]) -> dict[str, str]:
    """The cells that are not empty, by the key of their column."""
    width = len(texts)
    cells = {bound.column.key: texts[bound.index] for bound in bounds if bound.index < width and texts[bound.index]}
    if merged and cells:
        for bound in bounds:
            if bound.index in merged:
                cells.setdefault(bound.column.key, merged[bound.index])
    return cells


def vertical_text(grid: Grid, first: int) -> dict[int, dict[int, str]]:
    """Text of cells merged downwards, by row and column, for the rows below the headings."""
    found: dict[int, dict[int, str]] = {}
    for (top, left), (bottom, _) in grid.spans:
        if top >= first and bottom > top and left < len(grid.rows[top]) and grid.rows[top][left]:
            for index in range(top + 1, min(bottom + 1, len(grid.rows))):
                found.setdefault(index, {})[left] = grid.rows[top][left]
    return found


def halves(row: Row, texts: list[str], sided: dict[Side, tuple[Bound, ...]]) -> Iterator[Row]:
    """One row for each eye that the sided headings say something about.

    A side column beside sided headings says which eye is on the list; the other eye is then the fellow eye.
    """
    named = row.take("side") if "side" in row.bound else None
    if "side" in row.bound and named is None:
        if not row.text("side"):
            row.set_aside("does not say which eye is to be operated on", "R or L under the eye's heading")
        return
    whole = True
    for side in Side:
        own = texts_by_key(texts, sided[side], {})
        if not own and side is not named:
            continue
        yield Row(
            row.file, row.sheet, row.number, {**row.cells, **own},
            {**row.bound, **{bound.column.key: bound for bound in sided[side]}}, row.findings,
            side=side, listed=None if named is None else side is named, whole=whole,
        )  # fmt: skip
        whole = False
    if whole:
        row.set_aside("has no cell under the right or the left eye's headings", "what is known of one eye at least")
