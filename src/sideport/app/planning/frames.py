"""What every page of a plan shows around its own content."""

from dataclasses import dataclass
from datetime import date

from django.contrib.auth.models import AnonymousUser

from ...present.caution import CAUTION
from ..people.models import Account
from .models import StoredPlan

__all__ = ["Frame", "bare_frame", "frame_of"]


@dataclass(frozen=True, slots=True)
class Frame:
    """Navigation, caution and the versions a page stands on."""

    current: str
    """Name of the page, for the navigation."""
    plans: int
    """How many plans of the unit are stored."""
    plan_id: int | None = None
    unit: str = ""
    day: date | None = None
    program_version: str = ""
    knowledge_version: str = ""
    inputs_sha256: str = ""
    superseded: bool = False
    """True when a newer plan is stored."""
    caution: str = CAUTION


def frame_of(stored: StoredPlan, current: str) -> Frame:
    """The frame of a page that shows a plan."""
    keys = list(StoredPlan.objects.filter(unit=stored.unit).newest_first().values_list("pk", flat=True))
    return Frame(
        current=current,
        plans=len(keys),
        plan_id=stored.pk,
        unit=stored.unit,
        day=stored.day,
        program_version=stored.program_version,
        knowledge_version=stored.knowledge_version,
        inputs_sha256=stored.inputs_sha256,
        superseded=keys[0] != stored.pk,
    )


def bare_frame(current: str, user: Account | AnonymousUser) -> Frame:
    """The frame of a page that shows no single plan; it leads back to the newest of the person's unit."""
    if not isinstance(user, Account):
        return Frame(current=current, plans=0)
    newest = StoredPlan.objects.light().filter(unit=user.unit).newest_first()
    first = newest.first()
    return Frame(current=current, plans=newest.count(), plan_id=first.pk if first else None)
