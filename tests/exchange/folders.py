"""Small folders to read, written in a line each."""

import csv
from pathlib import Path

from openpyxl import Workbook

from sideport.exchange import FolderRead, read_folder

DAY = "Setting,Value\nUnit,Test Unit\nOperating day,2026-12-01\n"
REGISTER = "Patient no,Name,Age,Sex,Eye,Cataract,VA\n"
LENSES = "Lens model,A constant,Placement,Foldable,Optic (mm),Incision (mm)\nRigid A,118.2,bag + sulcus,rigid,6,6\n"


def read(folder: Path, **files: str | bytes) -> FolderRead:
    """Writes each keyword as ``<keyword>.csv`` (with a day sheet unless one is given) and reads the folder."""
    for name, content in {"day": DAY, **files}.items():
        path = folder / f"{name}.csv"
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_folder(folder)


def read_register(folder: Path, *lines: str) -> FolderRead:
    """Reads a register of the given rows."""
    return read(folder, register=REGISTER + "\n".join(lines) + "\n")


def workbook_of(path: Path, sheets: dict[str, list[list[object]]]) -> Workbook:
    """A workbook with the given rows; saved by the caller after merging cells."""
    workbook = Workbook()
    workbook.remove(workbook.worksheets[0])
    for name, rows in sheets.items():
        sheet = workbook.create_sheet(name)
        for row in rows:
            sheet.append(row)
    workbook.save(path)
    return workbook


def csv_rows(path: Path) -> list[list[str]]:
    """The cells of a CSV as written by the program."""
    return list(csv.reader(path.read_text(encoding="utf-8-sig").splitlines()))
