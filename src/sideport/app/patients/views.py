"""Patients: look for them, register and correct them, list their eyes, and see the story of each."""

from collections.abc import Sequence

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from ...optics.side import Side
from ...record.doubles import Alike, Card
from ...record.subject import root_of
from ..access import Permission, account_of, get_for, get_for_write, log_read, needs
from ..people.models import ReadLog
from ..people.pages import plain_page
from ..record.models import Person
from ..record.queries import person_facts
from . import pages
from .forms import ListForm, PersonForm
from .once import new_token
from .queries import lookalikes
from .saved import back_to_patient, written
from .services import correct_person, list_eye, name_of, register
from .story import story_page

__all__ = ["change_list", "correct", "history", "new", "patient", "patient_for_write", "patients", "side_of", "story"]

form_view = require_http_methods(["GET", "HEAD", "POST"])


def side_of(side: str) -> Side:
    """The side that an address names, or 404."""
    try:
        return Side(side)
    except ValueError:
        raise Http404("There is no such eye.") from None


def patient_for_write(request: HttpRequest, key: str) -> Person:
    """The patient, for whoever may write about them; the look is noted."""
    row = get_for_write(request.user, Permission.REGISTER, Person.objects.all(), key=key)
    log_read(request, subject=row.person_id)
    return row


@needs(Permission.SEE_PATIENTS)
@require_safe
def patients(request: HttpRequest) -> HttpResponse:
    """Look for a patient by name, number or telephone."""
    asked = request.GET.get("q", "").strip()[:200]
    page = pages.search_page(request, account_of(request).unit, asked, timezone.localdate())
    note_shown(request, len(page.found.people) + len(page.listed))
    return render(request, "patients/search.html", {"page": page})


def note_shown(request: HttpRequest, count: int) -> None:
    """Note that several patients were shown together."""
    if count:
        log_read(request, subject="patients", kind=ReadLog.Kind.LIST, detail=f"{count} shown")


@needs(Permission.REGISTER)
@form_view
def new(request: HttpRequest) -> HttpResponse:
    """Register a patient; whoever looks alike is shown first and asked about."""
    form = PersonForm(request.POST or None, today=timezone.localdate(), initial={"once": new_token()})
    alike: Sequence[tuple[Person, Alike]] = ()
    if request.method == "POST" and form.is_valid():
        alike = those_alike(request, form)
        key = registered(request, form) if not alike or request.POST.get("doubt") in {"other", "unsure"} else None
        if key is not None:
            return back_to_patient(*key)
    note_shown(request, len(alike))
    return render(request, "patients/new.html",
                  {"page": pages.RegisterPage(plain_page(request, "patients"), form, alike)})  # fmt: skip


def those_alike(request: HttpRequest, form: PersonForm) -> Sequence[tuple[Person, Alike]]:
    """The people of the unit who may be the one on the form."""
    said = form.said()
    card = Card(said.person_id, said.name, said.age_years, said.sex, said.phone, said.place)
    return lookalikes(unit=account_of(request).unit, card=card)


def registered(request: HttpRequest, form: PersonForm) -> tuple[str, str] | None:
    """The new patient's key and what was written; ``None`` when it was refused."""
    account, said = account_of(request), form.said()
    saved = written(request, form, lambda: [register(
        unit=account.unit, person=said, told_apart=request.POST.get("doubt") == "other", actor=account.name,
        now=timezone.now(),
    )])  # fmt: skip
    return None if saved is None else (root_of(account.unit, name_of(said.person_id)), saved)


@needs(Permission.SEE_PATIENTS)
@require_safe
def patient(request: HttpRequest, key: str) -> HttpResponse:
    """One patient with both eyes."""
    row = get_for(request.user, Person.objects.all(), key=key)
    log_read(request, subject=row.person_id)
    return render(request, "patients/patient.html", {"page": pages.patient_page(request, row, timezone.localdate())})


@needs(Permission.SEE_PATIENTS)
@require_safe
def story(request: HttpRequest, key: str, side: str) -> HttpResponse:
    """The whole story of one eye."""
    which = side_of(side)
    row = get_for(request.user, Person.objects.all(), key=key)
    log_read(request, subject=row.person_id, detail=f"{which.value} eye, story")
    return render(request, "patients/story.html", {"page": story_page(request, row, which)})


@needs(Permission.SEE_PATIENTS)
@require_safe
def history(request: HttpRequest, key: str) -> HttpResponse:
    """Everything that was ever said about a patient: who, when, and what stood before."""
    row = get_for(request.user, Person.objects.all(), key=key)
    log_read(request, subject=row.person_id, detail="history")
    return render(request, "patients/history.html", {"page": pages.history_page(request, row)})


@needs(Permission.REGISTER)
@form_view
def correct(request: HttpRequest, key: str) -> HttpResponse:
    """Correct who somebody is."""
    row, account = patient_for_write(request, key), account_of(request)
    form = PersonForm(request.POST or None, today=timezone.localdate(), person=person_facts(row),
                      initial={"once": new_token()})  # fmt: skip
    if request.method == "POST" and form.is_valid():
        saved = written(request, form, lambda: [
            correct_person(person=row, said=form.said(), actor=account.name, now=timezone.now())
        ])  # fmt: skip
        if saved is not None:
            return back_to_patient(key, saved)
    return render(request, "patients/correct.html",
                  {"page": pages.FormPage(plain_page(request, "patients"), row, form)})  # fmt: skip


@needs(Permission.REGISTER)
@require_POST
def change_list(request: HttpRequest, key: str) -> HttpResponse:
    """Put an eye on a day's list, or take it off."""
    row, account = patient_for_write(request, key), account_of(request)
    form = ListForm(request.POST)
    if not form.is_valid():
        said = " ".join(str(error) for errors in form.errors.values() for error in errors)
        return refused(request, row, said)
    found = form.cleaned_data
    saved = written(request, form, lambda: [list_eye(
        person=row, side=Side(found["side"]), day=found["day"], on=found["on"] == "yes", actor=account.name,
        now=timezone.now(),
    )])  # fmt: skip
    if saved is None:
        return refused(request, row, " ".join(str(error) for error in form.non_field_errors()))
    return back_to_patient(key, saved)


def refused(request: HttpRequest, row: Person, why: str) -> HttpResponse:
    """The patient's page with why something could not be done."""
    page = pages.patient_page(request, row, timezone.localdate(), wrong=why)
    return render(request, "patients/patient.html", {"page": page}, status=409)
