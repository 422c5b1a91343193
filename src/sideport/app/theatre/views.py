"""The theatre: the list, one eye, its pauses, its record."""

from collections.abc import Callable
from typing import Any
from uuid import uuid4

from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from ...errors import ImpossibleInputError
from ...record.theatre_said import EventKind, OperationEvent, OperationStep, Outcome, Pause
from ...wound.technique import Technique
from ..access import Permission, get_plan_for, log_read, needs, of_unit
from ..people.models import ReadLog
from ..people.pages import plain_page
from ..planning.documents import plan_of
from ..planning.frames import frame_of
from ..planning.models import StoredPlan
from . import pages, services
from .bench import REFUSED, Bench, at_eye
from .checklist import PAUSES
from .forms import AbandonForm, EventForm, NoteForm, PauseForm, TapForm, UndoForm, WoundForm
from .identity import mismatch_words
from .state import Phase, earlier_operations, operations_of_day
from .views_lens import stop_page

__all__ = ["abandon", "eye", "newest", "note", "operating_list", "pause", "tap", "undo", "wound"]

form_view = require_http_methods(["GET", "HEAD", "POST"])
WRONG_PERSON = 409


@needs(Permission.ASSIST)
@require_safe
def newest(request: HttpRequest) -> HttpResponse:
    """The list of the newest plan, or what to do when there is none."""
    stored = of_unit(request.user, StoredPlan.objects.light()).order_by("-created", "-pk").first()
    if stored is None:
        return render(request, "planning/empty.html", {"page": {"frame": plain_page(request, "theatre")}})
    return redirect("theatre-list", stored.pk)


@needs(Permission.ASSIST)
@require_safe
def operating_list(request: HttpRequest, plan_id: int) -> HttpResponse:
    """The list of the day with where each eye stands."""
    stored = get_plan_for(request.user, plan_id)
    plan = plan_of(stored)
    log_read(request, subject=f"plan {stored.pk}", kind=ReadLog.Kind.LIST, detail=f"{stored.day:%Y-%m-%d}")
    rows = operations_of_day(unit=stored.unit, day=plan.day)
    lines = tuple(pages.line_of_day(plan, each, rows) for each in plan.eyes if each.slot)
    today = plan.day == timezone.now().astimezone().date()
    page = pages.ListPage(frame_of(stored, "theatre"), plan, lines, today)
    return render(request, "theatre/list.html", {"page": page})


@needs(Permission.ASSIST)
@require_safe
def eye(request: HttpRequest, plan_id: int, eye_key: str) -> HttpResponse:
    """One eye: what comes next; a stop as long as one stands."""
    bench = at_eye(request, plan_id, eye_key)
    if bench.state.phase is Phase.STOPPED:
        return render(request, "theatre/stop.html", {"page": stop_page(bench)})
    return render(request, "theatre/eye.html", {"page": bench.page()})


@needs(Permission.ASSIST)
@form_view
def pause(request: HttpRequest, plan_id: int, eye_key: str, kind: Pause) -> HttpResponse:
    """A pause of the safety checklist."""
    bench = at_eye(request, plan_id, eye_key)
    if (bench.state.phase is Phase.BEFORE) != (kind is Pause.SIGN_IN) or bench.state.phase is Phase.STOPPED:
        return bench.back()
    earlier = earlier_operations(unit=bench.stored.unit, day=bench.plan.day, eye=bench.eye)
    had_before = bool(earlier) and kind is Pause.SIGN_IN
    form = PauseForm(
        request.POST or None, initial={"tap": uuid4()}, pause=kind, plan=bench.plan, eye=bench.eye,
        had_before=had_before,
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        return answered(bench, form, lambda wrong: asked(bench, form, earlier, wrong))
    return asked(bench, form, earlier)


def asked(bench: Bench, form: PauseForm, earlier: list[Any], wrong: str = "") -> HttpResponse:
    """The pause's page."""
    page = pages.PausePage(
        bench.frame(), bench.plan, bench.eye, PAUSES[form.pause], form, tuple(earlier), wrong=wrong
    )  # fmt: skip
    return render(bench.request, "theatre/pause.html", {"page": page}, status=REFUSED if wrong or form.errors else 200)


def answered(bench: Bench, form: PauseForm, again: Callable[[str], HttpResponse]) -> HttpResponse:
    """Keeps a pause, unless it is the wrong patient or side."""
    found, case = form.cleaned_data, bench.case(form.cleaned_data["tap"])
    words = mismatch_words(bench.plan, bench.eye, person_id=found["who"], side=found["side"]) if "who" in found else ()
    if words:
        page = pages.PersonStopPage(bench.frame(), bench.plan, bench.eye, words)
        return render(bench.request, "theatre/stop_person.html", {"page": page}, status=WRONG_PERSON)
    told: dict[str, Any] = {"answers": form.answers(), "happened": bench.happened(found), "now": bench.now}
    try:
        if form.pause is Pause.SIGN_IN:
            start = services.Start(
                Technique(found["technique"]), found["operator"], found["supervisor"], found.get("again", False)
            )  # fmt: skip
            services.start(case=case, said=start, **told)
        elif form.pause is Pause.TIME_OUT:
            services.hold_pause(case=case, pause=form.pause, **told)
        else:
            services.end(case=case, outcome=Outcome(found["outcome"]), note=found["missing"], **told)
    except ImpossibleInputError as error:
        return again(str(error))
    return bench.back()


@needs(Permission.ASSIST)
@require_POST
def tap(request: HttpRequest, plan_id: int, eye_key: str) -> HttpResponse:
    """A step or an event."""
    bench, form = at_eye(request, plan_id, eye_key), EventForm(request.POST)
    if not form.is_valid():
        return bench.refuse(first_error(form))
    found, happened = form.cleaned_data, bench.happened(form.cleaned_data)
    said: OperationStep | OperationEvent = OperationStep(found["step"], happened)
    if found["event"]:
        said = OperationEvent(EventKind(found["event"]), happened, found["detail"].strip(), found["count"])
    return kept(bench, lambda: services.record(case=bench.case(found["tap"]), said=said, now=bench.now))


@needs(Permission.ASSIST)
@form_view
def wound(request: HttpRequest, plan_id: int, eye_key: str) -> HttpResponse:
    """The wound as it was made."""
    bench = at_eye(request, plan_id, eye_key)
    form = WoundForm(request.POST or None, initial=wound_before(bench) | {"tap": uuid4()})
    if not bench.state.operation_id:
        return bench.back()
    if request.method == "POST" and form.is_valid():
        found = form.cleaned_data
        said = form.said(bench.eye, bench.happened(found))
        return kept(bench, lambda: services.record(case=bench.case(found["tap"]), said=said, now=bench.now))
    return form_page(bench, form, "theatre/wound.html")


def wound_before(bench: Bench) -> dict[str, Any]:
    """What stands in the form at first: the wound recorded before, else the planned one."""
    recorded = bench.state.wound.said if bench.state.wound else None
    made: Any = recorded or (bench.eye.wound.chosen if bench.eye.wound else None)
    if made is None:
        return {}
    kept_words = {"sutures": recorded.sutures, "note": recorded.note} if recorded else {}
    return {
        "site": made.site.value, "shape": made.shape.value if made.shape else "", "length_mm": made.length_mm,
        "limbus_distance_mm": made.limbus_distance_mm, **kept_words,
    }  # fmt: skip


@needs(Permission.ASSIST)
@require_POST
def undo(request: HttpRequest, plan_id: int, eye_key: str) -> HttpResponse:
    """Takes back something that was recorded."""
    bench, form = at_eye(request, plan_id, eye_key), UndoForm(request.POST)
    if not form.is_valid():
        return bench.refuse(first_error(form))
    found = form.cleaned_data
    case = bench.case(found["tap"])
    return kept(bench, lambda: services.undo(
        case=case, entry_id=found["entry_id"], reason=found["reason"], now=bench.now))  # fmt: skip


@needs(Permission.ASSIST)
@form_view
def abandon(request: HttpRequest, plan_id: int, eye_key: str) -> HttpResponse:
    """Gives the operation up."""
    bench = at_eye(request, plan_id, eye_key)
    form = AbandonForm(request.POST or None, initial={"tap": uuid4()})
    if not bench.state.operation_id:
        return bench.back()
    if request.method == "POST" and form.is_valid():
        found = form.cleaned_data
        return kept(bench, lambda: services.end(
            case=bench.case(found["tap"]), answers=(), outcome=Outcome.ABANDONED, note=found["reason"],
            happened=bench.happened(found), now=bench.now))  # fmt: skip
    return form_page(bench, form, "theatre/abandon.html")


@needs(Permission.ASSIST)
@form_view
def note(request: HttpRequest, plan_id: int, eye_key: str) -> HttpResponse:
    """The operation note: drafted from the record, edited, signed by who operates, printed."""
    bench = at_eye(request, plan_id, eye_key)
    if bench.state.phase not in {Phase.OVER, Phase.SIGNED}:
        return bench.back()
    draft = pages.draft_of(bench.plan, bench.eye, bench.state)
    form = NoteForm(request.POST or None, initial=note_before(bench, draft))
    may_sign, wrong = bench.account.may(Permission.OPERATE), ""
    if request.method == "POST" and form.is_valid():
        wrong = write(bench, form, may_sign=may_sign)
        if not wrong:
            return redirect("theatre-note", bench.stored.pk, bench.eye.key)
    page = pages.NotePage(bench.frame(), bench.plan, bench.eye, form, bench.state.note, draft,
                          bench.state.changed_since_note, may_sign, wrong)  # fmt: skip
    return render(request, "theatre/note.html", {"page": page}, status=REFUSED if wrong or form.errors else 200)


def note_before(bench: Bench, draft: str) -> dict[str, Any]:
    """What stands in the note's form at first."""
    text = bench.state.note.said.text if bench.state.note else draft
    return {"text": text, "drafted": pages.digest_of(draft), "tap": uuid4()}


def write(bench: Bench, form: NoteForm, *, may_sign: bool) -> str:
    """Keeps the note; what was wrong, or nothing."""
    found = form.cleaned_data
    if found["sign"] and not may_sign:
        return "Only somebody who operates signs the note. Keep it as a draft."
    generated = pages.digest_of(found["text"]) == found["drafted"]
    try:
        services.write_note(
            case=bench.case(found["tap"]), text=found["text"], generated=generated,
            signed_by=bench.account.name if found["sign"] else "", now=bench.now,
        )  # fmt: skip
    except ImpossibleInputError as error:
        return str(error)
    return ""


def kept(bench: Bench, write_it: Callable[[], bool]) -> HttpResponse:
    """Back to the eye once something is kept, or its page with why it was not."""
    try:
        write_it()
    except ImpossibleInputError as error:
        return bench.refuse(str(error))
    return bench.back()


def first_error(form: TapForm) -> str:
    """The first thing that was wrong with a form that has no page of its own."""
    return str(next(iter(form.errors.values()))[0])


def form_page(bench: Bench, form: Form, template: str) -> HttpResponse:
    """A page around one form."""
    page = pages.FormPage(bench.frame(), bench.plan, bench.eye, form)
    return render(bench.request, template, {"page": page}, status=REFUSED if form.errors else 200)
