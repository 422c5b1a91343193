"""A folder through the browser: the files are read as `sideport plan` reads them, and what was set aside is kept."""

import csv
import io
import tempfile
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.db import transaction

from ...day.settings import DayRequest
from ...exchange.findings import HEADINGS, Rejected, harmless
from ...exchange.folder import FolderRead, read_folder
from ...exchange.unit_tables import UNNAMED
from ..record.folder_in import ImportReport, import_request
from ..record.models import Person
from .models import FolderImport
from .services import ask_about_doubles

__all__ = ["close_import", "set_aside_csv", "take_folder"]

LONGEST_NAME = 120


def take_folder(
    *, files: Sequence["UploadedFile[bytes]"], day: date | None, unit: str, actor: str, now: datetime
) -> FolderImport:  # fmt: skip
    """Reads files into the record; good rows go in, the others are kept as a list to be mended.

    Parameters
    ----------
    files : sequence of UploadedFile
        The unit's sheets.
    day : date or None
        The operating day; goes before the day sheet.
    unit : str
        Whose record.
    actor, now
        Who and when.

    Returns
    -------
    FolderImport

    Raises
    ------
    ValidationError
        When the files are another unit's, or two have one name; nothing is written.
    """
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "files"
        folder.mkdir()
        names = [kept(file, folder) for file in files]
        read = read_folder(folder, day=day)
    request = own(read, unit)
    with transaction.atomic():
        known = set(Person.objects.filter(unit=unit).values_list("person_id", flat=True))
        report = import_request(request=request, actor=actor, now=now) if request else ImportReport({}, 0)
        new = {person.person_id for person in request.people} - known if request else set()
        if new:
            ask_about_doubles(unit=unit, of=new, actor=actor, now=now)
        return FolderImport.objects.create(
            unit=unit, at=now, by=actor, files=names, day=request.settings.day if request else day,
            added=report.added, boxes_not_listed=report.boxes_not_listed,
            rejected=[cells(item) for item in read.rejected], notes=list(read.notes),
        )  # fmt: skip


def kept(file: "UploadedFile[bytes]", folder: Path) -> str:
    """Puts one file into the folder under its own bare name."""
    name = Path((file.name or "").replace("\\", "/")).name.lstrip(".~ ")[-LONGEST_NAME:] or "unnamed"
    path = folder / name
    if path.exists():
        raise ValidationError(f"Two files are named {name}. Give each its own name.")
    with path.open("wb") as out:
        for chunk in file.chunks():
            out.write(chunk)
    return name


def own(read: FolderRead, unit: str) -> DayRequest | None:
    """What was read, as the unit's own; refused when the day sheet names another."""
    if read.request is None:
        return None
    settings = read.request.settings
    if settings.unit not in {unit, UNNAMED}:
        raise ValidationError(
            f"The day sheet is of “{settings.unit}”, and you belong to “{unit}”. Nothing was taken. "
            "Write your own unit's name into it, or ask for an account there."
        )
    return replace(read.request, settings=replace(settings, unit=unit))


def cells(item: Rejected) -> list[str]:
    """One thing set aside, as a row of text."""
    row = "" if item.row is None else str(item.row)
    return [item.file, item.sheet, row, item.column, item.found, item.why, item.accepted]


def set_aside_csv(row: FolderImport) -> bytes:
    """What was set aside, for a spreadsheet program; no cell of it runs as a formula."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(HEADINGS)
    writer.writerows([[harmless(cell) for cell in line] for line in row.rejected])
    return text.getvalue().encode("utf-8-sig", errors="replace")


def close_import(*, row: FolderImport, actor: str, now: datetime) -> None:
    """Says that all that was set aside is mended, or needs no mending."""
    FolderImport.objects.filter(pk=row.pk, closed_by="").update(closed_by=actor, closed_at=now)
