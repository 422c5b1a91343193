"""The pages of a plan: each view finds the plan it may show, notes the look, asks for one page value and renders it."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from ...day.plan import EyePlan
from ...exchange.nameless import without_names
from ..access import Permission, account_of, get_plan_for, log_read, needs
from ..people.models import ReadLog
from ..people.pages import plain_page
from . import pages
from .cut_part import trying
from .models import SheetKind, StoredPlan
from .services import sheet_of

__all__ = ["day", "document", "document_with_names", "eye", "eye_cut", "not_found", "plans", "sheet"]


@needs(Permission.SEE_PATIENTS)
@require_safe
def plans(request: HttpRequest) -> HttpResponse:
    """Every stored plan of the unit."""
    return render(request, "planning/plans.html", {"page": pages.plans_page(request.user)})


@needs(Permission.SEE_PATIENTS)
@require_safe
def day(request: HttpRequest, plan_id: int) -> HttpResponse:
    """The operating day."""
    stored = get_plan_for(request.user, plan_id)
    note_list(request, stored, ReadLog.Kind.LIST)
    return render(request, "planning/day.html", {"page": pages.day_page(stored)})


@needs(Permission.SEE_PATIENTS)
@require_safe
def eye(request: HttpRequest, plan_id: int, eye_key: str) -> HttpResponse:
    """One eye."""
    stored = get_plan_for(request.user, plan_id)
    page = pages.eye_page(stored, eye_key, request.GET.dict())
    if page is None:
        raise Http404("This plan has no such eye.")
    log_read(request, subject=page.eye.person_id, detail=f"{page.eye.side.value} eye, plan {stored.pk}")
    return render(request, "planning/eye.html", {"page": page})


@needs(Permission.SEE_PATIENTS)
@require_safe
def eye_cut(request: HttpRequest, plan_id: int, eye_key: str) -> HttpResponse:
    """What another cut would do to one eye: the answer alone, for the page that is open already."""
    stored = get_plan_for(request.user, plan_id)
    eye = pages.eye_of(stored, eye_key)
    tried = eye and trying(eye=eye, data=request.GET.dict(), knowledge_version=stored.knowledge_version)
    if eye is None or not tried:
        raise Http404("This plan has no such eye, or no cut of it can be tried.")
    note_trying(request, stored, eye)
    return render(request, "planning/tried.html", {"trying": tried})


@needs(Permission.SEE_PATIENTS)
@require_safe
def sheet(request: HttpRequest, plan_id: int, kind: SheetKind) -> HttpResponse:
    """A printed sheet."""
    stored = get_plan_for(request.user, plan_id)
    note_list(request, stored, ReadLog.Kind.LIST)
    response = HttpResponse(sheet_of(stored=stored, kind=kind), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{kind}-{stored.day:%Y-%m-%d}.pdf"'
    return response


@needs(Permission.EXPORT)
@require_safe
def document(request: HttpRequest, plan_id: int) -> HttpResponse:
    """The plan's data without anybody's name."""
    stored = get_plan_for(request.user, plan_id)
    note_list(request, stored, ReadLog.Kind.EXPORT)
    return HttpResponse(without_names(stored.document), content_type="application/json; charset=utf-8")


@needs(Permission.EXPORT_NAMES)
@require_safe
def document_with_names(request: HttpRequest, plan_id: int) -> HttpResponse:
    """The plan as it was written, names and all."""
    stored = get_plan_for(request.user, plan_id)
    note_list(request, stored, ReadLog.Kind.EXPORT_NAMES)
    return HttpResponse(stored.document, content_type="application/json; charset=utf-8")


def note_list(request: HttpRequest, stored: StoredPlan, kind: ReadLog.Kind) -> None:
    """Note that the patients of a day were shown together."""
    log_read(request, subject=f"plan {stored.pk}", kind=kind, detail=f"{stored.day:%Y-%m-%d}")


def note_trying(request: HttpRequest, stored: StoredPlan, eye: EyePlan) -> None:
    """Note the look at an eye once, however often its cut is moved before something else is looked at."""
    detail = f"another cut, {eye.side.value} eye, plan {stored.pk}"
    last = ReadLog.objects.filter(account=account_of(request)).order_by("-pk").first()
    if last is None or (last.subject, last.detail) != (eye.person_id, detail):
        log_read(request, subject=eye.person_id, detail=detail)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """What to do when an address leads nowhere."""
    del exception
    return render(request, "planning/missing.html", {"page": {"frame": plain_page(request, "missing")}}, status=404)
