"""What every view of one eye in theatre needs: the account, the plan, the eye, where it stands, the clock."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from ...day.plan import DayPlan, EyePlan
from ..access import account_of, get_plan_for, log_read
from ..people.models import Account
from ..planning.documents import plan_of
from ..planning.frames import Frame, frame_of
from ..planning.models import StoredPlan
from .pages import TheatrePage, theatre_page
from .services import Case
from .state import TheatreState, state_of

__all__ = ["Bench", "at_eye"]

REFUSED = 422


@dataclass(frozen=True, slots=True)
class Bench:
    """One eye, opened by one account."""

    request: HttpRequest
    account: Account
    stored: StoredPlan
    plan: DayPlan
    eye: EyePlan
    state: TheatreState
    now: datetime

    def frame(self) -> Frame:
        """What the page shows around its content."""
        return frame_of(self.stored, "theatre")

    def case(self, tap: UUID) -> Case:
        """The eye as the services know it."""
        return Case(self.stored.unit, self.plan.day, self.stored.digest, self.eye, self.account.name, tap)

    def happened(self, found: dict[str, Any]) -> datetime:
        """When it was tapped: a tap that had to wait for a connection says for how long."""
        return self.now - timedelta(milliseconds=found.get("ago_ms") or 0)

    def back(self) -> HttpResponse:
        """To the eye's page."""
        return redirect("theatre-eye", self.stored.pk, self.eye.key)

    def page(self, wrong: str = "") -> TheatrePage:
        """The eye's page as a value."""
        return theatre_page(
            frame=self.frame(), plan=self.plan, eye=self.eye, state=self.state, account=self.account.pk, wrong=wrong
        )  # fmt: skip

    def refuse(self, wrong: str) -> HttpResponse:
        """The eye's page with what was wrong."""
        return render(self.request, "theatre/eye.html", {"page": self.page(wrong)}, status=REFUSED)


def at_eye(request: HttpRequest, plan_id: int, eye_key: str) -> Bench:
    """Opens an eye that is on the list, and notes the look; 404 for any other."""
    stored = get_plan_for(request.user, plan_id)
    plan = plan_of(stored)
    eye = next((each for each in plan.eyes if each.key == eye_key), None)
    if eye is None:
        raise Http404("This plan has no such eye.")
    log_read(request, subject=eye.person_id, detail=f"{eye.side.value} eye in theatre, plan {stored.pk}")
    state = state_of(unit=stored.unit, day=plan.day, eye=eye)
    return Bench(request, account_of(request), stored, plan, eye, state, timezone.now())
