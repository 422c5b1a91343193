"""Operating days from the record: setting one, and planning it from what is recorded."""

from datetime import date, datetime

from django.conf import settings
from django.db import transaction

from ...day import plan_day
from ...day.settings import DaySettings
from ...exchange.plan_file import plan_to_json
from ...knowledge import load_published
from ...record.entry import Entry
from ...record.kinds import Kind
from ...record.plain import read_plain
from ...record.stock_said import DaySet
from ...record.subject import SubjectKind, subject
from ..demo_marker import mark_demo_plan
from ..record.folder_in import request_digest
from ..record.models import Day
from ..record.planned import record_plan
from ..record.queries import request_for
from ..record.services import append
from .models import StoredPlan

__all__ = ["day_before", "plan_recorded", "set_day"]


def day_before(*, unit: str, day: date) -> DaySet:
    """What a day's form starts from: the day as set, else the unit's last day, else the program's defaults."""
    row = Day.objects.filter(unit=unit, day=day).first()
    row = row or Day.objects.filter(unit=unit).order_by("-day").first()
    return read_plain(DaySet, row.facts) if row else DaySet(DaySettings(unit=unit, day=day))


def set_day(*, said: DaySet, actor: str, now: datetime) -> Entry:
    """Sets a day; the latest word holds.

    Parameters
    ----------
    said : DaySet
        The settings with the unit and the day, the team and the lens models.
    actor, now
        Who and when.
    """
    return append(
        kind=Kind.DAY_SET, subject=subject(SubjectKind.DAY, said.settings.day), payload=said, actor=actor, now=now,
        unit=said.settings.unit,
    )  # fmt: skip


def plan_recorded(*, unit: str, day: date, actor: str, now: datetime, invented: bool = False) -> StoredPlan:
    """Plans a day from what the record holds now, and stores the plan beside the earlier ones.

    Parameters
    ----------
    unit : str
        The unit.
    day : date
        The operating day.
    actor, now
        Who and when.
    invented : bool
        True where everything is the demo's: the new plan then joins the plans that keep the demo open.

    Returns
    -------
    StoredPlan

    Raises
    ------
    SideportError
        When there is nothing to plan, with what to do.
    """
    request = request_for(unit=unit, day=day)
    plan = plan_day(request, load_published(), seed=0, inputs_sha256=request_digest(request))
    document = plan_to_json(plan)
    with transaction.atomic():
        stored = record_plan(document=document, actor=actor, now=now)
        if invented:
            settings.DEMO_DIGESTS = mark_demo_plan(settings.DATA, stored.digest, settings.DEMO_DIGESTS)
    return stored
