"""A planned folder into the record: what the plan was made from, and the plan itself."""

import hashlib
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path

from django.db import transaction

from ...exchange.plan_file import plan_from_json
from ...exchange.request_file import REQUEST_FILE, read_request
from ...record.kinds import Kind, payload_of
from ...record.stock_said import PlanMade
from ...record.subject import SubjectKind, root_of, subject
from ..planning.models import SheetKind, StoredPlan
from ..planning.services import store_document
from .folder_in import import_request
from .models import JournalEntry, Mention
from .services import append

__all__ = ["plan_document", "record_folder", "record_plan"]

PLAN_FILE = "plan.json"


def record_plan(
    *, document: str, actor: str, now: datetime, sheets: Mapping[SheetKind, bytes] | None = None
) -> StoredPlan:
    """Writes a plan into the journal, once, and stores it for its pages.

    Parameters
    ----------
    document : str
        The text of ``plan.json``.
    actor : str
        Who made it.
    now : datetime
        The device's clock.
    sheets : mapping of SheetKind to bytes or None
        The printed sheets, where there are some.

    Returns
    -------
    StoredPlan

    Raises
    ------
    PlanFormatError
        When the document is not a plan that this version can read; nothing is stored.
    """
    plan = plan_from_json(document)
    name = subject(SubjectKind.PLAN, hashlib.sha256(document.encode()).hexdigest())
    said = PlanMade(document, plan.unit, plan.day, plan.inputs_sha256, plan.knowledge_version, plan.program_version)
    with transaction.atomic():
        if not Mention.objects.filter(root=root_of(plan.unit, name)).exists():
            append(kind=Kind.PLAN_MADE, subject=name, payload=said, actor=actor, now=now, unit=plan.unit)
        return store_document(document=document, now=now, sheets=sheets)


def record_folder(
    *, folder: Path, document: str, actor: str, now: datetime, sheets: Mapping[SheetKind, bytes] | None = None
) -> StoredPlan:
    """Writes what a folder was planned from, where ``request.json`` stands beside the plan, and the plan.

    Parameters
    ----------
    folder : Path
        What ``sideport plan`` wrote.
    document, actor, now, sheets
        As for `record_plan`.

    Returns
    -------
    StoredPlan
        The newest plan instead, where this one was stored before it and the folder has not been planned since: a plan
        made in the browser is not set aside by starting the program again.
    """
    newest = StoredPlan.objects.light().newest_first().first()
    if newest is not None and stored_before(document, folder, newest):
        return newest
    with transaction.atomic():
        if (folder / REQUEST_FILE).is_file():
            import_request(request=read_request(folder / REQUEST_FILE), actor=actor, now=now)
        return record_plan(document=document, actor=actor, now=now, sheets=sheets)


def stored_before(document: str, folder: Path, newest: StoredPlan) -> bool:
    """Whether a folder's plan is stored already and was written before the newest one was stored."""
    digest = hashlib.sha256(document.encode()).hexdigest()
    path = folder / PLAN_FILE
    if not path.is_file() or not StoredPlan.objects.filter(digest=digest, unit=newest.unit).exists():
        return False
    return datetime.fromtimestamp(path.stat().st_mtime, UTC) < newest.created


def plan_document(*, unit: str, digest: str) -> str | None:
    """The document of a plan as the journal has it, from whichever device it came."""
    root = root_of(unit, subject(SubjectKind.PLAN, digest))
    row = JournalEntry.objects.filter(kind=Kind.PLAN_MADE.value, mentions__root=root).order_by("stamp").first()
    return None if row is None else str(payload_of(row.entry()).document)
