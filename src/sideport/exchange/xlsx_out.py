"""Writes workbooks whose bytes depend on their cells alone, so that equal content has an equal digest."""

import io
import re
import zipfile
from pathlib import Path

from openpyxl import Workbook

__all__ = ["save_workbook"]

EARLIEST = (1980, 1, 1, 0, 0, 0)
STAMP = re.compile(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*(<)")


def save_workbook(workbook: Workbook, path: Path) -> None:
    """Saves without the hour of writing.

    Parameters
    ----------
    workbook : openpyxl.Workbook
        What to write.
    path : Path
        Where; never an existing file.

    Raises
    ------
    FileExistsError
        When the file is there already.
    """
    drawn = io.BytesIO()
    workbook.save(drawn)
    with zipfile.ZipFile(drawn) as source, path.open("xb") as stream, zipfile.ZipFile(stream, "w") as target:
        for entry in source.infolist():
            content = STAMP.sub(rb"\g<1>2000-01-01T00:00:00Z\g<2>", source.read(entry))
            target.writestr(zipfile.ZipInfo(entry.filename, EARLIEST), content, zipfile.ZIP_DEFLATED)
