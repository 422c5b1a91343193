"""What is written about an eye: findings, readings, their correction, and taking back what was a mistake."""

import re

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from ...eye.measurement import Measurement as Reading
from ...eye.measurement import Method, Quantity
from ...optics.side import Side
from ..access import Permission, account_of, needs
from ..people.pages import plain_page
from ..record.models import Measurement, Person
from ..record.queries import person_facts
from .forms import FindingsForm, ReadingForm, ReadingsForm, TakeBackForm
from .history import lines_of, told_of
from .once import new_token
from .pages import FormPage
from .saved import TAKEN, back_to_patient, written
from .services import record_findings, record_readings, take_back
from .views import patient_for_write, side_of

__all__ = ["correct_reading", "findings", "readings", "withdraw"]

form_view = require_http_methods(["GET", "HEAD", "POST"])
ENTRY = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")


@needs(Permission.REGISTER)
@form_view
def findings(request: HttpRequest, key: str, side: str) -> HttpResponse:
    """What was found of an eye."""
    row, which, account = patient_for_write(request, key), side_of(side), account_of(request)
    form = FindingsForm(request.POST or None, side=which, known=person_facts(row).eye(which),
                        initial={"once": new_token()})  # fmt: skip
    if request.method == "POST" and form.is_valid():
        saved = written(request, form, lambda: [
            record_findings(person=row, said=form.said(), actor=account.name, now=timezone.now())
        ])  # fmt: skip
        if saved is not None:
            return back_to_patient(key, saved)
    return render(request, "patients/findings.html",
                  {"page": FormPage(plain_page(request, "patients"), row, form, which)})  # fmt: skip


@needs(Permission.REGISTER)
@form_view
def readings(request: HttpRequest, key: str, side: str) -> HttpResponse:
    """Several readings of an eye."""
    row, which, account = patient_for_write(request, key), side_of(side), account_of(request)
    known = person_facts(row).eye(which)
    form = ReadingsForm(request.POST or None, side=which, known=known.measurements if known else (),
                        initial={"once": new_token(), "taken_on": timezone.localdate().isoformat()})  # fmt: skip
    if request.method == "POST" and form.is_valid():
        saved = written(request, form, lambda: record_readings(
            person=row, readings=form.said(), actor=account.name, now=timezone.now()
        ))  # fmt: skip
        if saved is not None:
            return back_to_patient(key, saved)
    return render(request, "patients/readings.html",
                  {"page": FormPage(plain_page(request, "patients"), row, form, which)})  # fmt: skip


def reading_for(row: Person, reading: str) -> tuple[Measurement, Reading]:
    """A reading that stands, as its row and as the eye's room knows it; 404 when there is none."""
    found = Measurement.objects.filter(key=reading, eye__person=row).select_related("eye").first()
    if found is None:
        raise Http404("There is no such reading.")
    return found, Reading(
        Side(found.eye.side), Quantity(found.quantity), found.value, Method(found.method), found.axis_deg,
        found.reading, found.taken_on, found.as_written,
    )  # fmt: skip


@needs(Permission.REGISTER)
@form_view
def correct_reading(request: HttpRequest, key: str, reading: str) -> HttpResponse:
    """Correct one reading; the one before stays in the history."""
    row, account = patient_for_write(request, key), account_of(request)
    stored, before = reading_for(row, reading)
    form = ReadingForm(request.POST or None, before=before)
    if request.method == "POST" and form.is_valid():
        said = [form.said()] if form.said() != before else []
        saved = written(request, form, lambda: record_readings(
            person=row, readings=said, actor=account.name, now=timezone.now(), corrects=stored.entry_id
        ))  # fmt: skip
        if saved is not None:
            return back_to_patient(key, saved)
    return render(request, "patients/reading.html",
                  {"page": FormPage(plain_page(request, "patients"), row, form, before.side)})  # fmt: skip


@needs(Permission.REGISTER)
@form_view
def withdraw(request: HttpRequest, key: str) -> HttpResponse:
    """Take back what was written by mistake; it stays in the history."""
    row, account = patient_for_write(request, key), account_of(request)
    wanted = list(dict.fromkeys(ENTRY.findall(request.GET.get("entries", ""))))
    lines = tuple(line for line in lines_of(told_of(unit=row.unit, person_id=row.person_id)) if line.entry_id in wanted)
    if not lines:
        return redirect("patient-history", key)
    form = TakeBackForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        reason = form.cleaned_data["reason"]
        saved = written(request, form, lambda: take_back(
            person=row, entry_ids=wanted, reason=reason, actor=account.name, now=timezone.now()
        ))  # fmt: skip
        if saved is not None:
            return after_taking_back(row)
    return render(request, "patients/take_back.html",
                  {"page": FormPage(plain_page(request, "patients"), row, form, lines=lines)})  # fmt: skip


def after_taking_back(row: Person) -> HttpResponse:
    """The patient's page, or the search when the registration itself was taken back."""
    if Person.objects.filter(key=row.key).exists():
        return back_to_patient(row.key, TAKEN)
    return redirect("patients")
