"""The pages of a plan: each view finds the plan it may show, asks for one page value and renders it."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from ..access import get_plan_for
from . import pages
from .frames import bare_frame
from .models import SheetKind, StoredPlan
from .services import sheet_of

__all__ = ["day", "document", "eye", "home", "not_found", "plans", "sheet"]


@require_safe
def home(request: HttpRequest) -> HttpResponse:
    """The newest plan's day, or what to do when there is none."""
    newest = StoredPlan.objects.light().newest_first().first()
    if newest is None:
        return render(request, "planning/empty.html", {"page": {"frame": bare_frame("home")}})
    return redirect("day", newest.pk)


@require_safe
def plans(request: HttpRequest) -> HttpResponse:
    """Every stored plan."""
    return render(request, "planning/plans.html", {"page": pages.plans_page()})


@require_safe
def day(request: HttpRequest, plan_id: int) -> HttpResponse:
    """The operating day."""
    stored = get_plan_for(request, plan_id)
    return render(request, "planning/day.html", {"page": pages.day_page(stored)})


@require_safe
def eye(request: HttpRequest, plan_id: int, eye_key: str) -> HttpResponse:
    """One eye."""
    page = pages.eye_page(get_plan_for(request, plan_id), eye_key)
    if page is None:
        raise Http404("This plan has no such eye.")
    return render(request, "planning/eye.html", {"page": page})


@require_safe
def sheet(request: HttpRequest, plan_id: int, kind: SheetKind) -> HttpResponse:
    """A printed sheet."""
    stored = get_plan_for(request, plan_id)
    response = HttpResponse(sheet_of(stored=stored, kind=kind), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{kind}-{stored.day:%Y-%m-%d}.pdf"'
    return response


@require_safe
def document(request: HttpRequest, plan_id: int) -> HttpResponse:
    """The plan as it was written."""
    stored = get_plan_for(request, plan_id)
    return HttpResponse(stored.document, content_type="application/json; charset=utf-8")


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """What to do when an address leads nowhere."""
    del exception
    return render(request, "planning/missing.html", {"page": {"frame": bare_frame("missing")}}, status=404)
