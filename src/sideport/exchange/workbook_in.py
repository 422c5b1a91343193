"""Reads workbooks (XLSX, XLSM, ODS) into rows of text."""

import io
from collections.abc import Iterator

from openpyxl.utils import get_column_letter
from python_calamine import CalamineWorkbook, PasswordError, SheetTypeEnum, SheetVisibleEnum

from .findings import Findings
from .grid import Grid, cell_text
from .workbook_guard import Uncomputed, inspect_workbook

__all__ = ["read_workbook"]

OLD_OR_LOCKED = b"\xd0\xcf\x11\xe0"
"""First bytes of the old binary workbooks, and of new ones with a password."""


def read_workbook(*, file: str, content: bytes, findings: Findings) -> list[Grid]:
    """The sheets of a workbook.

    Parameters
    ----------
    file : str
        Its name, for the findings.
    content : bytes
        Its bytes.
    findings : Findings
        Takes what was set aside and noticed.

    Returns
    -------
    list of Grid
        One for each worksheet with any cell, hidden ones too (with a note); none when the file was set aside.
    """
    if content.startswith(OLD_OR_LOCKED):
        findings.reject(
            file=file,
            why="is an old XLS workbook or has a password",
            accepted="saved again as XLSX without a password, or as CSV",
        )
        return []
    verdict = inspect_workbook(content)
    if verdict.refusal:
        findings.reject(
            file=file,
            why=verdict.refusal,
            accepted="an XLSX or ODS workbook that holds the day's sheets and no far-off cells",
        )
        return []
    try:
        grids = list(sheets(file, content, findings))
    except PasswordError:
        findings.reject(file=file, why="has a password", accepted="the same workbook without a password")
        return []
    except BaseException as error:
        # The reader's own panics are not ordinary exceptions; whatever a damaged file brings forth is a finding.
        if isinstance(error, KeyboardInterrupt | SystemExit | GeneratorExit):
            raise
        findings.reject(
            file=file,
            why="cannot be opened as a workbook",
            accepted="a workbook that a spreadsheet program opens; save it again as XLSX or CSV",
        )
        return []
    for formula in verdict.uncomputed:
        reject_uncomputed(file, grids, formula, findings)
    return grids


def sheets(file: str, content: bytes, findings: Findings) -> Iterator[Grid]:
    """Each worksheet as text."""
    workbook = CalamineWorkbook.from_filelike(io.BytesIO(content))
    for index, about in enumerate(workbook.sheets_metadata):
        if about.typ is not SheetTypeEnum.WorkSheet:
            continue
        sheet = workbook.get_sheet_by_index(index)
        rows = [[cell_text(value) for value in row] for row in sheet.to_python(skip_empty_area=False)]
        if not any(any(row) for row in rows):
            continue
        if about.visible is not SheetVisibleEnum.Visible:
            findings.notes.append(f"{file}: the sheet {about.name} is hidden; it was read all the same.")
        spans = sheet.merged_cell_ranges
        yield Grid(file, about.name, rows, tuple(spans or ()), knows_spans=spans is not None)


def reject_uncomputed(file: str, grids: list[Grid], formula: Uncomputed, findings: Findings) -> None:
    """A formula without a stored value reads as an empty cell, so it is listed."""
    sheet = grids[0].sheet if len(grids) == 1 else formula.part.rpartition("/")[2].removesuffix(".xml")
    findings.reject(
        file=file,
        sheet=sheet,
        row=formula.row,
        column=get_column_letter(formula.column),
        why="holds a formula that was never worked out, so it has no value",
        accepted="open the workbook in a spreadsheet program and save it, or write the value",
    )
