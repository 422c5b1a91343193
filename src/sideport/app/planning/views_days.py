"""Operating days before their plan: set them, see who is listed, plan them from what is recorded."""

from datetime import date

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from ...errors import SideportError
from ..access import Permission, account_of, log_read, needs
from ..people.models import ReadLog
from ..record.models import LensModel, Surgeon
from .day_form import DayForm, NewDayForm
from .day_pages import day_list_page, days_page
from .days import day_before, plan_recorded, set_day

__all__ = ["change_day", "day_list", "days", "plan_now"]


def day_of(day: str) -> date:
    """The day that an address names, or 404."""
    try:
        return date.fromisoformat(day)
    except ValueError:
        raise Http404("There is no such day.") from None


def form_for(request: HttpRequest, day: date, *, sent: bool = True) -> DayForm:
    """The form of a day, with the unit's team and lens models; filled as it was sent, or as the day stands."""
    unit = account_of(request).unit
    team, lenses = (
        list(model.objects.filter(unit=unit).order_by("first").values_list("name", flat=True))
        for model in (Surgeon, LensModel)
    )
    return DayForm(
        request.POST or None if sent else None, before=day_before(unit=unit, day=day), team=team, lenses=lenses
    )


@needs(Permission.SEE_PATIENTS)
@require_http_methods(["GET", "HEAD", "POST"])
def days(request: HttpRequest) -> HttpResponse:
    """Every operating day; POST leads to the one that is typed."""
    form = NewDayForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        return redirect("day-list", form.cleaned_data["day"].isoformat())
    page = days_page(request, account_of(request).unit, timezone.localdate(), form)
    return render(request, "planning/days.html", {"page": page})


@needs(Permission.SEE_PATIENTS)
@require_safe
def day_list(request: HttpRequest, day: str) -> HttpResponse:
    """A day before its plan."""
    return shown(request, day_of(day))


def shown(request: HttpRequest, day: date, wrong: str = "", form: DayForm | None = None) -> HttpResponse:
    """The page of a day before its plan; the look is noted."""
    page = day_list_page(request, account_of(request).unit, day, form or form_for(request, day), wrong)
    if page.lines:
        log_read(request, subject=f"list {day.isoformat()}", kind=ReadLog.Kind.LIST, detail=f"{len(page.lines)} eyes")
    return render(request, "planning/day_list.html", {"page": page}, status=409 if wrong else 200)


@needs(Permission.PLAN)
@require_POST
def change_day(request: HttpRequest, day: str) -> HttpResponse:
    """Set a day."""
    which = day_of(day)
    form = form_for(request, which)
    if not form.is_valid():
        return shown(request, which, form=form)
    set_day(said=form.said(which), actor=account_of(request).name, now=timezone.now())
    return redirect("day-list", day)


@needs(Permission.PLAN)
@require_POST
def plan_now(request: HttpRequest, day: str) -> HttpResponse:
    """Plan a day from what is recorded."""
    which, account = day_of(day), account_of(request)
    try:
        stored = plan_recorded(unit=account.unit, day=which, actor=account.name, now=timezone.now(),
                               invented=account.invented)  # fmt: skip
    except SideportError as error:
        return shown(request, which, wrong=str(error), form=form_for(request, which, sent=False))
    return redirect("day", stored.pk)
