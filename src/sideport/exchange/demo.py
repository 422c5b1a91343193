"""The Quill Island Eye Unit: an invented unit whose operating day holds what real days hold.

Its files are as mixed as real ones: a workbook with merged headings, a CSV with a byte-order mark and Windows line
ends, plain CSV for the rest. People, lens models and readings are invented; none of it is evidence of anything.
"""

import csv
import io
from importlib.resources import files
from pathlib import Path

from openpyxl import Workbook
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter

from .xlsx_out import save_workbook

__all__ = ["write_demo"]

PLAIN = ("shelf.csv", "team.csv", "day.csv", "lenses.csv", "prices.csv")
GROUPS = (
    ("Patient", "Regn. No."),
    ("Eye", "Eye"),
    ("Health", "Diabetic"),
    ("Biometry at the base", "AL (mm)"),
    ("", "Remarks"),
)
"""Merged headings over the register, each with the column at which it begins."""


def write_demo(folder: Path) -> tuple[Path, ...]:
    """Writes the demo unit's files.

    Parameters
    ----------
    folder : Path
        Made if missing. Existing files are never written over.

    Returns
    -------
    tuple of Path
        The files written, in the order of the register, the measurements and the rest.

    Raises
    ------
    FileExistsError
        When one of the files is there already.

    Notes
    -----
    The bytes are the same each time. The day is Tuesday 1 December 2026.
    """
    folder.mkdir(parents=True, exist_ok=True)
    there = [name for name in ("register.xlsx", "measurements.csv", *PLAIN) if (folder / name).exists()]
    if there:
        raise FileExistsError(f"{', '.join(there)} in {folder}: choose an empty folder.")
    written = [folder / "register.xlsx", folder / "measurements.csv"]
    save_workbook(register_workbook(), written[0])
    written[1].write_bytes(b"\xef\xbb\xbf" + resource("measurements.csv").replace("\n", "\r\n").encode())
    for name in PLAIN:
        (folder / name).write_bytes(resource(name).encode())
        written.append(folder / name)
    return tuple(written)


def resource(name: str) -> str:
    """The text of one of the unit's files as the package holds it, with plain line ends."""
    return files("sideport.exchange").joinpath("demo_unit", name).read_bytes().decode().replace("\r\n", "\n")


def register_workbook() -> Workbook:
    """The register as a clerk keeps it: a title, merged group headings, then one row an eye."""
    headings, *rows = csv.reader(io.StringIO(resource("register.csv")))
    workbook = Workbook()
    sheet = workbook.worksheets[0]
    sheet.title = "Tuesday list"
    sheet.append(["Quill Island Eye Unit: register for the operating day"])
    sheet.merge_cells(start_row=1, start_column=1, end_row=1, end_column=len(headings))
    starts = [headings.index(first) for _, first in GROUPS] + [len(headings)]
    for (label, _), begins, ends in zip(GROUPS, starts, starts[1:], strict=False):
        sheet.cell(2, begins + 1, label).alignment = Alignment(horizontal="center")
        sheet.merge_cells(start_row=2, start_column=begins + 1, end_row=2, end_column=ends)
    sheet.append(headings)
    for row in (1, 2, 3):
        for cell in sheet[row]:
            cell.font = Font(bold=True)
    for values in rows:
        sheet.append([as_typed(value) for value in values])
    for index, heading in enumerate(headings):
        sheet.column_dimensions[get_column_letter(index + 1)].width = 22 if "ame" in heading else max(8, len(heading))
    sheet.freeze_panes = "C4"
    return workbook


def as_typed(value: str) -> str | float | None:
    """Plain figures become numbers as a spreadsheet would make them; all else stays text."""
    if not value:
        return None
    return float(value) if value.isascii() and value.replace(".", "", 1).isdigit() else value
