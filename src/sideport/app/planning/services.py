"""What changes the stored plans: storing one, and keeping its printed sheets."""

import hashlib
from collections.abc import Callable, Mapping
from datetime import datetime

from django.db import transaction

from ...day.plan import DayPlan
from ...exchange.plan_file import plan_from_json, plan_to_json
from ...present.sheets import day_pdf, eye_pdf
from .documents import plan_of
from .models import SheetKind, StoredPlan, StoredSheet

__all__ = ["sheet_of", "store_document", "store_plan"]

MAKERS: Mapping[str, Callable[[DayPlan], bytes]] = {SheetKind.DAY: day_pdf, SheetKind.EYES: eye_pdf}


def store_plan(*, plan: DayPlan, now: datetime, sheets: Mapping[SheetKind, bytes] | None = None) -> StoredPlan:
    """Keep a plan with its printed sheets; see ``store_document``."""
    return store_document(document=plan_to_json(plan), now=now, sheets=sheets)


def store_document(*, document: str, now: datetime, sheets: Mapping[SheetKind, bytes] | None = None) -> StoredPlan:
    """Keep ``plan.json`` as it was written, with its printed sheets, as the newest plan.

    Storing the plan that is already the newest changes nothing and gives that row.

    Raises
    ------
    PlanFormatError
        When the document is not a plan that this version can read; nothing is stored.
    """
    plan = plan_from_json(document)
    digest = hashlib.sha256(document.encode()).hexdigest()
    with transaction.atomic():
        newest = StoredPlan.objects.light().newest_first().first()
        if newest is not None and newest.digest == digest:
            return newest
        stored = StoredPlan.objects.create(
            digest=digest,
            unit=plan.unit,
            day=plan.day,
            format_version=plan.format_version,
            program_version=plan.program_version,
            knowledge_version=plan.knowledge_version,
            inputs_sha256=plan.inputs_sha256,
            document=document,
            created=now,
        )
        StoredSheet.objects.bulk_create(
            StoredSheet(plan=stored, kind=kind, content=content) for kind, content in (sheets or {}).items()
        )
    return stored


def sheet_of(*, stored: StoredPlan, kind: SheetKind) -> bytes:
    """A printed sheet of a stored plan: the one kept, or one made now and kept from then on."""
    kept = StoredSheet.objects.filter(plan=stored, kind=kind).values_list("content", flat=True).first()
    if kept is not None:
        return bytes(kept)
    content = MAKERS[kind](plan_of(stored))
    sheet, _ = StoredSheet.objects.get_or_create(plan=stored, kind=kind, defaults={"content": content})
    return bytes(sheet.content)
