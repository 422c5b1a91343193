"""The empty workbook that a unit fills: headings, one worked row a sheet, and every column explained."""

from dataclasses import replace
from pathlib import Path

from openpyxl import Workbook
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from .catalogue import tables
from .columns import Column, Kind, Table, TableSpec
from .columns_unit import SETTINGS
from .xlsx_out import save_workbook

__all__ = ["EXPLAIN", "write_templates"]

EXPLAIN = "Explain"
"""Name of the sheet that explains; the reader passes it over."""
FILE = "unit.xlsx"
WRITTEN = (Table.REGISTER, Table.MEASUREMENTS, Table.LENSES, Table.SHELF, Table.TEAM, Table.DAY, Table.PRICES)
"""The patients and eyes sheets are explained and left out: the register does the work of both."""
FIGURES = frozenset({Kind.NUMBER, Kind.WHOLE, Kind.MONEY, Kind.AGE, Kind.NUCLEUS, Kind.KERATOMETRY})
BOLD = Font(bold=True)
SHADE = PatternFill("solid", fgColor="EEEEEE")
TOP = Alignment(vertical="top", wrap_text=True)


def write_templates(folder: Path) -> tuple[Path, ...]:
    """Writes the empty workbook.

    Parameters
    ----------
    folder : Path
        Made if missing.

    Returns
    -------
    tuple of Path
        The file written.

    Raises
    ------
    FileExistsError
        When the file is there already: a unit's own entries are never written over.

    Notes
    -----
    The worked rows are of an invented person and lens, and make a day that can be planned as it stands; they are to be
    replaced.
    """
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / FILE
    if path.exists():
        raise FileExistsError(f"{path} is there already; choose an empty folder or move the file away.")
    workbook = Workbook()
    explain(workbook.worksheets[0])
    for table in WRITTEN:
        fill_sheet(workbook.create_sheet(table.value), tables()[table])
    save_workbook(workbook, path)
    return (path,)


def explain(sheet: Worksheet) -> None:
    """Every column of every sheet in plain words."""
    sheet.title = EXPLAIN
    sheet.append(["Sheet", "Column", "Needed", "Holds", "In words", "Example"])
    for spec in tables().values():
        for column in spec.columns:
            sheet.append([spec.table.value, *explained(column)])
    for setting in SETTINGS:
        sheet.append([f"{Table.DAY.value}: a setting", *explained(setting)])
    for index, width in enumerate((16, 22, 10, 28, 80, 22), start=1):
        sheet.column_dimensions[get_column_letter(index)].width = width
    for row in sheet.iter_rows():
        for cell in row:
            cell.alignment = TOP
            cell.number_format = "@"
    head(sheet)


def explained(column: Column) -> list[str]:
    """One line of the explanation."""
    needed = "yes" if column.required else "no"
    return [column.heading, needed, column.kind.value, column.explanation, column.example]


def fill_sheet(sheet: Worksheet, spec: TableSpec) -> None:
    """Headings and a worked row; the day sheet has a row for each setting."""
    sheet.append([column.heading for column in spec.columns])
    if spec.table is Table.DAY:
        for setting in SETTINGS:
            sheet.append([setting.heading, typed(replace(setting, kind=Kind.TEXT)), setting.explanation])
    else:
        sheet.append([typed(column) for column in spec.columns])
    for index, column in enumerate(spec.columns, start=1):
        letter = get_column_letter(index)
        sheet.column_dimensions[letter].width = max(10, len(column.heading) + 2, len(column.example) + 2)
        if column.kind not in FIGURES:
            sheet.column_dimensions[letter].number_format = "@"
            for cell in sheet[letter]:
                cell.number_format = "@"
    if spec.table is Table.DAY:
        for letter, width in zip("ABC", (24, 24, 90), strict=True):
            sheet.column_dimensions[letter].width = width
    head(sheet)


def typed(column: Column) -> str | float | None:
    """The example as a spreadsheet would hold it: figures as numbers, all else as text."""
    if not column.example:
        return None
    return float(column.example) if column.kind in FIGURES else column.example


def head(sheet: Worksheet) -> None:
    """The heading row stands out and stays in view."""
    for cell in sheet[1]:
        cell.font = BOLD
        cell.fill = SHADE
    sheet.freeze_panes = "A2"
