"""The pages of follow-up: each view finds the eye it may show, notes the look, asks for one service and renders."""

from datetime import date

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from ...optics.side import Side
from ...present.slip import Slip, slip_pdf
from ..access import Permission, account_of, get_for, log_read, needs
from ..people.models import ReadLog
from ..record.models import Operation, Visit
from . import pages, services
from .forms import ContactForm, MissedForm, SlipForm, VisitForm, WithdrawForm
from .queries import dues_of_eye, followed, visits_of_operation
from .schedule import Due, next_visit

__all__ = ["contact", "correct", "eye", "follow_up", "missed", "slip", "visit", "withdraw"]


def found(request: HttpRequest, operation_key: str) -> Operation:
    """The operation asked for, with the look noted; 404 for another unit's."""
    operation = get_for(request.user, followed(unit=account_of(request).unit), pk=operation_key)
    log_read(request, subject=operation.person_id, detail=f"{operation.side} eye, follow-up")
    return operation


@needs(Permission.SEE_PATIENTS)
@require_safe
def follow_up(request: HttpRequest) -> HttpResponse:
    """Who is late and who is due."""
    log_read(request, subject="follow-up", kind=ReadLog.Kind.LIST)
    page = pages.follow_up_page(request, account_of(request).unit, timezone.localdate())
    return render(request, "followup/list.html", {"page": page})


@needs(Permission.SEE_PATIENTS)
@require_safe
def eye(request: HttpRequest, operation_key: str) -> HttpResponse:
    """One eye after its operation."""
    page = pages.eye_page(request, found(request, operation_key), timezone.localdate())
    return render(request, "followup/eye.html", {"page": page})


@needs(Permission.FOLLOW_UP)
@require_http_methods(["GET", "POST"])
def visit(request: HttpRequest, operation_key: str) -> HttpResponse:
    """A new visit."""
    operation, today = found(request, operation_key), timezone.localdate()
    form = VisitForm(
        request.POST or None, operation=operation, today=today, initial=pages.first_visit(None, today)
    )  # fmt: skip
    if form.is_bound and form.is_valid():
        services.record(operation=operation, said=form.said(), actor=account_of(request).name, now=timezone.now())
        return redirect("follow-up-eye", operation.pk)
    status = 422 if form.is_bound else 200
    return render(request, "followup/visit.html", {"page": pages.visit_page(request, operation, form)}, status=status)


@needs(Permission.FOLLOW_UP)
@require_http_methods(["GET", "POST"])
def correct(request: HttpRequest, operation_key: str, visit_key: str) -> HttpResponse:
    """A recorded visit, corrected."""
    operation, today = found(request, operation_key), timezone.localdate()
    before = visit_of(request, operation, visit_key, kind="recorded")
    form = VisitForm(
        request.POST or None, operation=operation, today=today, initial=pages.first_visit(before, today)
    )  # fmt: skip
    if form.is_bound and form.is_valid():
        services.correct_visit(
            visit=before, operation=operation, said=form.said(), actor=account_of(request).name, now=timezone.now()
        )
        return redirect("follow-up-eye", operation.pk)
    page = pages.visit_page(request, operation, form, corrects=True)
    return render(request, "followup/visit.html", {"page": page}, status=422 if form.is_bound else 200)


def visit_of(request: HttpRequest, operation: Operation, visit_key: str, **which: str) -> Visit:
    """A visit of this eye, or 404."""
    rows = Visit.objects.filter(person_key=operation.person_key, side=operation.side)
    return get_for(request.user, rows, pk=visit_key, **which)


def coming(operation: Operation, today: date) -> Due | None:
    """The visit for which the patient should come next."""
    return next_visit(dues_of_eye(operation=operation, visits=visits_of_operation(operation), today=today))


@needs(Permission.FOLLOW_UP)
@require_POST
def contact(request: HttpRequest, operation_key: str) -> HttpResponse:
    """An attempt to reach the patient."""
    operation, today = found(request, operation_key), timezone.localdate()
    form, due = ContactForm(request.POST), coming(operation, today)
    if due is not None and form.is_valid():
        said = form.said(operation=operation, due=due, today=today)
        services.record(operation=operation, said=said, actor=account_of(request).name, now=timezone.now())
        return redirect("follow-up-eye", operation.pk)
    page = pages.eye_page(request, operation, today, contact=form)
    return render(request, "followup/eye.html", {"page": page}, status=422)


@needs(Permission.FOLLOW_UP)
@require_POST
def missed(request: HttpRequest, operation_key: str) -> HttpResponse:
    """A visit that will not take place."""
    operation, today = found(request, operation_key), timezone.localdate()
    form, due = MissedForm(request.POST), coming(operation, today)
    if due is not None and form.is_valid():
        said = form.said(operation=operation, due=due)
        services.record(operation=operation, said=said, actor=account_of(request).name, now=timezone.now())
        return redirect("follow-up-eye", operation.pk)
    page = pages.eye_page(request, operation, today, missed=form)
    return render(request, "followup/eye.html", {"page": page}, status=422)


@needs(Permission.FOLLOW_UP)
@require_POST
def withdraw(request: HttpRequest, operation_key: str, visit_key: str) -> HttpResponse:
    """Something of the follow-up that was written down by mistake."""
    operation, form = found(request, operation_key), WithdrawForm(request.POST)
    row = visit_of(request, operation, visit_key)
    if form.is_valid():
        reason = form.cleaned_data["reason"]
        services.take_back(visit=row, reason=reason, actor=account_of(request).name, now=timezone.now())
        return redirect("follow-up-eye", operation.pk)
    page = pages.eye_page(request, operation, timezone.localdate())
    return render(request, "followup/eye.html", {"page": page}, status=422)


@needs(Permission.FOLLOW_UP)
@require_http_methods(["GET", "POST"])
def slip(request: HttpRequest, operation_key: str) -> HttpResponse:
    """The patient's slip: what stands on it, then the page to print."""
    operation, today = found(request, operation_key), timezone.localdate()
    form = SlipForm(request.POST or None)
    if form.is_bound and form.is_valid():
        pdf = slip_pdf(slip_said(operation, form, account_of(request).name))
        response = HttpResponse(pdf, content_type="application/pdf")
        response["Content-Disposition"] = 'inline; filename="slip.pdf"'
        return response
    page = pages.slip_page(request, operation, today, form if form.is_bound else None)
    return render(request, "followup/slip.html", {"page": page}, status=422 if form.is_bound else 200)


def slip_said(operation: Operation, form: SlipForm, author: str) -> Slip:
    """What the slip says."""
    asked = form.cleaned_data
    return Slip(
        language=asked["language"], unit=operation.unit, person_id=operation.person_id,
        name=pages.heading(operation).name, side=Side(operation.side), operated=operation.day,
        printed=timezone.localdate(), author=author, drops=form.drops(), comes_back=asked["comes_back"],
        phone=asked["phone"].strip(),
    )  # fmt: skip
