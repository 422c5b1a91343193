"""Reads a folder of spreadsheets into the request for a day's plan, and says what it could not use."""

import gc
import hashlib
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from ..day.settings import DayRequest
from .catalogue import table_by_name, tables
from .columns import Table
from .csv_in import read_csv
from .findings import Findings, Rejected
from .grid import Grid
from .headings import Headings, find_headings, known_headings, missing_columns
from .people import gather_people
from .rows import Row, rows_of
from .templates import EXPLAIN
from .unit_tables import boxes, lens_models, prices, read_day, stock, team
from .workbook_in import read_workbook

__all__ = ["FolderRead", "inputs_sha256", "read_folder"]

TEXT_ENDINGS = frozenset({".csv", ".tsv", ".txt"})
BOOK_ENDINGS = frozenset({".xlsx", ".xlsm", ".ods", ".xls"})
MOST_BYTES = 200_000_000
"""Largest file that is opened."""
ACCEPTED_FILES = "CSV, XLSX or ODS files named after what they hold: " + ", ".join(table.value for table in Table)
OWN_OUTPUT = frozenset({"set-aside.csv", "rejected.csv", "plan.json"})


@dataclass(frozen=True, slots=True)
class FolderRead:
    """What a folder gave."""

    request: DayRequest | None
    """``None`` when there is no eye to plan, or no operating day."""
    rejected: tuple[Rejected, ...]
    """Everything that was set aside."""
    notes: tuple[str, ...]
    """What was noticed and needs no mending."""


def read_folder(folder: Path, *, day: date | None = None) -> FolderRead:
    """Reads every spreadsheet in a folder.

    Parameters
    ----------
    folder : Path
        With CSV, XLSX or ODS files, each named after what it holds, or one workbook with sheets so named.
    day : date or None
        The operating day; goes before the one on the day sheet.

    Returns
    -------
    FolderRead
        Every row is in the request or among what was set aside. A row with one unreadable optional cell is in both: it
        is planned without that cell, and the cell is listed.

    Notes
    -----
    Bad input never raises: an unreadable file is set aside like an unreadable row.
    """
    findings = Findings()
    rows: dict[Table, list[Row]] = defaultdict(list)
    with without_collector():
        for path in spreadsheets(folder, findings):
            for grid, table in tables_in(path, findings):
                rows[table].extend(rows_in(grid, table, findings))
        request = request_from(rows, day, findings)
    return FolderRead(request, tuple(findings.rejected), tuple(dict.fromkeys(findings.notes)))


@contextmanager
def without_collector() -> Iterator[None]:
    """Rests the cyclic garbage collector: a large folder makes millions of lasting objects and no cycles."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def inputs_sha256(folder: Path) -> str:
    """Digest of the spreadsheets in a folder, names and bytes.

    Parameters
    ----------
    folder : Path
        The folder.

    Returns
    -------
    str
        64 hexadecimal digits; equal for equal names and bytes in any order of listing.
    """
    digest = hashlib.sha256()
    for path in spreadsheets(folder, Findings()):
        content = path.read_bytes()
        digest.update(f"{path.name}\0{len(content)}\0".encode("utf-8", errors="surrogateescape"))
        digest.update(content)
    return digest.hexdigest()


def spreadsheets(folder: Path, findings: Findings) -> list[Path]:
    """The files to read, by name; what is passed over is noted."""
    if not folder.is_dir():
        findings.reject(file=folder.name, why="is not a folder", accepted=f"a folder with {ACCEPTED_FILES}")
        return []
    found = []
    for path in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if path.name.startswith((".", "~")) or path.name in OWN_OUTPUT or not path.is_file():
            continue
        if path.suffix.casefold() in TEXT_ENDINGS | BOOK_ENDINGS:
            found.append(path)
        else:
            findings.notes.append(f"{path.name} was not read: it is neither CSV nor XLSX nor ODS.")
    if not found:
        findings.reject(file=folder.name, why="holds no spreadsheet", accepted=ACCEPTED_FILES)
    return found


def tables_in(path: Path, findings: Findings) -> list[tuple[Grid, Table]]:
    """The sheets of one file, each with what it is."""
    try:
        size = path.stat().st_size
        content = path.read_bytes() if size <= MOST_BYTES else b""
    except OSError as error:
        findings.reject(file=path.name, why=f"cannot be opened ({error.strerror})", accepted="a file that may be read")
        return []
    if size > MOST_BYTES:
        findings.reject(
            file=path.name, why=f"has {size // 1_000_000} MB", accepted=f"at most {MOST_BYTES // 1_000_000} MB"
        )
        return []
    by_name = table_by_name(path.stem)
    if path.suffix.casefold() in TEXT_ENDINGS:
        candidates = (by_name,) if by_name else tuple(Table)
        grids = [read_csv(file=path.name, content=content, tables=candidates, findings=findings)]
        grids = [grid for grid in grids if any(any(row) for row in grid.rows)]
    else:
        before = len(findings.rejected)
        grids = read_workbook(file=path.name, content=content, findings=findings)
        if not grids and len(findings.rejected) > before:
            return []
    if not grids:
        findings.notes.append(f"{path.name} is empty.")
    return [(grid, table) for grid in grids if (table := table_of(grid, by_name, len(grids), findings)) is not None]


def table_of(grid: Grid, by_file: Table | None, sheets: int, findings: Findings) -> Table | None:
    """What a sheet is: by its own name, by the file's name, else by its headings."""
    if grid.sheet == EXPLAIN:
        return None
    by_sheet = table_by_name(grid.sheet) if grid.sheet else None
    named = (by_file or by_sheet) if sheets == 1 else by_sheet
    if named is not None:
        return named
    rows = grid.filled(0, 40)
    scores = {table: max((known_headings(row, table) for row in rows), default=0) for table in Table}
    best = max(scores, key=lambda table: scores[table])
    headings = find_headings(grid, best)
    place = f"{grid.file}{f', sheet {grid.sheet}' if grid.sheet else ''}"
    if headings is not None and scores[best] >= 3 and not missing_columns(headings, tables()[best].columns):
        findings.notes.append(f"{place} was taken as {best.value} by its headings.")
        return best
    if grid.sheet and sheets > 1:
        findings.notes.append(f"{place} was not read: neither its name nor its headings are a sheet that is known.")
    else:
        findings.reject(file=grid.file, sheet=grid.sheet, why="does not say what it holds", accepted=ACCEPTED_FILES)
    return None


def rows_in(grid: Grid, table: Table, findings: Findings) -> list[Row]:
    """The rows of a sheet that is known, or none with the sheet set aside."""
    spec = tables()[table]
    wanted = ", ".join(column.heading for column in spec.required)
    headings = find_headings(grid, table)
    if headings is None:
        findings.reject(file=grid.file, sheet=grid.sheet, why=f"has no heading row that is known for {table.value}",
                        accepted=f"a row with the headings {wanted}")  # fmt: skip
        return []
    missing = missing_columns(headings, spec.columns)
    if missing:
        lacking = ", ".join(column.heading for column in missing)
        findings.reject(file=grid.file, sheet=grid.sheet, row=headings.row_index + 1,
                        why=f"has no column for {lacking}, so none of its {len(grid.rows)} rows was read",
                        accepted=f"the headings {wanted}")  # fmt: skip
        return []
    note_headings(grid, headings, findings)
    return list(rows_of(grid, headings, findings))


def note_headings(grid: Grid, headings: Headings, findings: Findings) -> None:
    """Says which columns are not used."""
    place = f"{grid.file}{f', sheet {grid.sheet}' if grid.sheet else ''}"
    if headings.unknown:
        findings.notes.append(
            f"{place}: not used, since the headings are not known: {', '.join(headings.unknown[:20])}."
        )
    if headings.repeated:
        findings.notes.append(
            f"{place}: these headings mean a column that is there already, and only the first of each was used: "
            f"{', '.join(headings.repeated[:20])}."
        )
    labelled = {index for index, label in enumerate(grid.rows[headings.row_index]) if label}
    labelled |= {bound.index for bound in headings.bound}
    stray = {index for row in grid.rows[headings.row_index + 1 :] for index, cell in enumerate(row) if cell} - labelled
    if stray:
        findings.notes.append(f"{place}: cells under no heading were not read (column {min(stray) + 1} and on).")


def request_from(rows: dict[Table, list[Row]], day: date | None, findings: Findings) -> DayRequest | None:
    """The request for a plan, or ``None`` when a plan could not stand on it."""
    costs, held = prices(rows[Table.PRICES]), stock(rows[Table.PRICES])
    about_day = read_day(rows[Table.DAY], costs=costs, stock=held, day=day, findings=findings)
    settings = about_day.settings
    models = lens_models(rows[Table.LENSES])
    shelf = boxes(rows[Table.SHELF], models=models, day=settings.day if settings else None, findings=findings)
    surgeons = team(rows[Table.TEAM])
    people_rows = {table: rows[table] for table in (Table.REGISTER, Table.PATIENTS, Table.EYES, Table.MEASUREMENTS)}
    people = gather_people(
        people_rows, day=settings.day if settings else date.max, keratometer_index=about_day.keratometer_index,
        findings=findings,
    )  # fmt: skip
    if settings is None:
        findings.reject(file="day", why="the operating day is not known, so nothing can be planned",
                        accepted="a day sheet with the setting Operating day, such as 2026-12-01")  # fmt: skip
        return None
    note_gaps(models, shelf, surgeons, findings)
    if not any(eye.listed for person in people for eye in person.eyes):
        findings.reject(file="register", why="there is no eye to operate on that could be read",
                        accepted="a register, or patients and eyes sheets, with at least one whole row")  # fmt: skip
        return None
    return DayRequest(settings, people, models, shelf, surgeons)


def note_gaps(
    models: tuple[object, ...], shelf: tuple[object, ...], surgeons: tuple[object, ...], findings: Findings
) -> None:
    """Says which sheets gave nothing, since the plan will show it only eye by eye."""
    gaps = {"lens models": models, "boxes on the shelf": shelf, "surgeons": surgeons}
    for thing, found in gaps.items():
        if not found:
            findings.notes.append(f"There are no {thing}: fill that sheet to have a whole plan.")
