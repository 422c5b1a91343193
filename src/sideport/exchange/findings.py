"""What the reader has to say besides the plan's inputs: what was set aside, and what was noticed."""

import csv
import io
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

from ..day.plan import SetAside
from ..optics.side import Side

__all__ = ["Findings", "Rejected", "as_set_aside", "write_rejected"]

HEADINGS = ("File", "Sheet", "Row", "Column", "Found", "Why", "What would be accepted")
STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r")
SHOWN = 200
"""Longest cell repeated in a finding; a longer one is cut with an ellipsis."""


@dataclass(frozen=True, slots=True)
class Rejected:
    """One cell, row, sheet or file that was set aside."""

    file: str
    sheet: str
    """Empty for a file without sheets."""
    row: int | None
    """As a spreadsheet counts, from 1; ``None`` for a whole sheet or file."""
    column: str
    """The heading as the file has it; empty for a whole row, sheet or file."""
    found: str
    why: str
    accepted: str
    person_id: str = ""
    """The patient number of the row; empty where it has none."""
    name: str = ""
    side: Side | None = None
    quantity: str = ""
    """The reading that is lost with it; empty for anything else."""
    left_out: bool = False
    """True for the whole row of a person or an eye."""

    @property
    def place(self) -> str:
        """File, sheet, row and column in words."""
        place = [self.file, *([f"sheet {self.sheet}"] if self.sheet else [])]
        place += [f"row {self.row}"] if self.row is not None else []
        place += [f"column {self.column}"] if self.column else []
        return ", ".join(place)

    @property
    def complaint(self) -> str:
        """What was found and why it could not be used."""
        return f"{self.found!r} {self.why}" if self.found else self.why

    def __str__(self) -> str:
        return f"{self.place}: {self.complaint}. Accepted: {self.accepted}."


@dataclass(slots=True)
class Findings:
    """Gathers while the files are read."""

    rejected: list[Rejected] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def reject(
        self,
        *,
        file: str,
        why: str,
        accepted: str,
        sheet: str = "",
        row: int | None = None,
        column: str = "",
        found: str = "",
        person_id: str = "",
        name: str = "",
        side: Side | None = None,
        quantity: str = "",
        left_out: bool = False,
    ) -> None:
        """Sets something aside."""
        self.rejected.append(
            Rejected(
                file, sheet, row, column, short(found), why, accepted, short(person_id), short(name), side, quantity,
                left_out,
            )
        )  # fmt: skip


class HasRejected(Protocol):
    """Whatever carries a list of what was set aside."""

    @property
    def rejected(self) -> tuple[Rejected, ...]: ...


def write_rejected(read: HasRejected, path: Path) -> None:
    """Writes what was set aside as CSV that a spreadsheet program opens with every script intact.

    Parameters
    ----------
    read : FolderRead
        What reading a folder gave.
    path : Path
        The file; an older one is replaced. Written also when nothing was set aside, so that no old list stays.

    Notes
    -----
    A cell that a spreadsheet program would run as a formula gets an apostrophe in front.
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(HEADINGS)
    for item in read.rejected:
        row = "" if item.row is None else str(item.row)
        cells = (item.file, item.sheet, row, item.column, item.found, item.why, item.accepted)
        writer.writerow(tuple(harmless(cell) for cell in cells))
    path.write_bytes(text.getvalue().encode("utf-8-sig", errors="replace"))


def as_set_aside(rejected: Rejected) -> SetAside:
    """What was set aside as the plan keeps it.

    Parameters
    ----------
    rejected : Rejected

    Returns
    -------
    SetAside
    """
    return SetAside(
        rejected.place, rejected.complaint, rejected.accepted, rejected.person_id, rejected.name, rejected.side,
        rejected.quantity, rejected.left_out,
    )  # fmt: skip


def short(text: str) -> str:
    """A cell, cut where it is very long."""
    return text if len(text) <= SHOWN else text[:SHOWN] + "…"


def harmless(cell: str) -> str:
    """The cell so that no spreadsheet program takes it for a formula."""
    return "'" + cell if cell.lstrip(" ").startswith(STARTS_A_FORMULA) else cell
