"""What waits for a person, and the answers; folders that are read in through the browser."""

from urllib.parse import urlencode

from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from ...errors import SideportError
from ...record.entry import Entry
from ..access import Permission, account_of, get_for, log_read, needs
from ..people.models import ReadLog
from ..people.pages import plain_page
from ..record.models import Task
from ..record.services import settle
from .forms import DoubleForm, FolderForm, SettleForm
from .importing import close_import, set_aside_csv, take_folder
from .models import FolderImport
from .once import new_token
from .pages import FolderPage, set_aside_page
from .saved import written
from .services import ask_about_doubles, join_people
from .tasks import choices_of, pair_rows, task_page, tasks_page

__all__ = ["bring", "brought", "brought_csv", "look", "mended", "task", "tasks"]

form_view = require_http_methods(["GET", "HEAD", "POST"])


@needs(Permission.RESOLVE)
@require_safe
def tasks(request: HttpRequest) -> HttpResponse:
    """Everything that waits for a person."""
    return render(request, "patients/tasks.html", {"page": tasks_page(request, account_of(request).unit)})


@needs(Permission.RESOLVE)
@require_POST
def look(request: HttpRequest) -> HttpResponse:
    """Look through the whole register for people registered twice."""
    account = account_of(request)
    found = ask_about_doubles(unit=account.unit, of=None, actor=account.name, now=timezone.now())
    return redirect(f"{reverse('tasks')}?{urlencode({'looked': found})}")


@needs(Permission.RESOLVE)
@form_view
def task(request: HttpRequest, task: str) -> HttpResponse:
    """One question, and the answer."""
    row = get_for(request.user, Task.objects.filter(settled_by=""), key=task)
    people = pair_rows(row)
    for each in people:
        log_read(request, subject=each.person_id, detail="registered twice?")
    if not people:
        log_read(request, subject=row.subject.partition("/")[2], detail=row.code)
    form = answer_form(request, row)
    if request.method == "POST" and form.is_valid() and written(request, form, lambda: answered(request, row, form)):
        return redirect("tasks")
    return render(request, "patients/task.html", {"page": task_page(request, row, form)})


def answer_form(request: HttpRequest, row: Task) -> DoubleForm | SettleForm:
    """The form for an answer."""
    people = pair_rows(row)
    if len(people) == 2:
        return DoubleForm(request.POST or None, numbers=(people[0].person_id, people[1].person_id))
    return SettleForm(request.POST or None, choices=choices_of(row))


def answered(request: HttpRequest, row: Task, form: DoubleForm | SettleForm) -> list[Entry]:
    """Writes an answer."""
    actor, now, found = account_of(request).name, timezone.now(), form.cleaned_data
    if isinstance(form, SettleForm):
        keep = None if found["keep"] == "all" else found["keep"]
        return [settle(task=row, keep=keep, words=found["words"], actor=actor, now=now)]
    if found["answer"] == "apart":
        return [settle(task=row, keep=None, words=found["words"], actor=actor, now=now)]
    kept, other = sorted(pair_rows(row), key=lambda each: each.person_id != found["answer"])
    return list(join_people(task=row, kept=kept, other=other, words=found["words"], actor=actor, now=now))


@needs(Permission.PLAN)
@form_view
def bring(request: HttpRequest) -> HttpResponse:
    """Read the unit's files in."""
    account = account_of(request)
    form = FolderForm(request.POST or None, request.FILES or None, initial={"once": new_token()})
    if request.method == "POST" and form.is_valid():
        row = taken(request, form)
        if row is not None:
            return redirect("brought", row.pk)
    rows = tuple(FolderImport.objects.filter(unit=account.unit)[:20])
    return render(request, "patients/bring.html", {"page": FolderPage(plain_page(request, "import"), form, rows)})


def taken(request: HttpRequest, form: FolderForm) -> FolderImport | None:
    """The import of the files on the form; ``None`` when they were refused, which the form then says."""
    account, found = account_of(request), form.cleaned_data
    try:
        return take_folder(
            files=found["sheets"], day=found["day"], unit=account.unit, actor=account.name, now=timezone.now()
        )  # fmt: skip
    except ValidationError as error:
        form.add_error("sheets", error)
    except SideportError as error:
        form.add_error("sheets", str(error))
    return None


@needs(Permission.PLAN)
@require_safe
def brought(request: HttpRequest, import_id: int) -> HttpResponse:
    """What a folder brought, and what of it waits to be mended."""
    row = get_for(request.user, FolderImport.objects.all(), pk=import_id)
    log_read(request, subject=f"import {row.pk}", kind=ReadLog.Kind.LIST, detail=f"{len(row.rejected)} set aside")
    return render(request, "patients/brought.html", {"page": set_aside_page(request, row)})


@needs(Permission.PLAN)
@require_safe
def brought_csv(request: HttpRequest, import_id: int) -> HttpResponse:
    """What was set aside, as a file."""
    row = get_for(request.user, FolderImport.objects.all(), pk=import_id)
    log_read(request, subject=f"import {row.pk}", kind=ReadLog.Kind.LIST, detail="set-aside.csv")
    response = HttpResponse(set_aside_csv(row), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="set-aside.csv"'
    return response


@needs(Permission.PLAN)
@require_POST
def mended(request: HttpRequest, import_id: int) -> HttpResponse:
    """Say that all that was set aside is mended."""
    row = get_for(request.user, FolderImport.objects.all(), pk=import_id)
    close_import(row=row, actor=account_of(request).name, now=timezone.now())
    return redirect("brought", row.pk)
