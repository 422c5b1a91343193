"""The lens box: read for one place, held against the plan, stopped, put aside or used, in the eye or spoilt."""

from typing import Any
from uuid import uuid4

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods, require_POST

from ...errors import ImpossibleInputError
from ...lens.model import Placement
from ..access import Permission, needs
from . import pages, services
from .bench import REFUSED, Bench, at_eye
from .forms import CodeForm, GoOnForm, PictureForm, ReasonForm, TapForm, TypedForm
from .lens_check import Held, Stop, compare, planned_for
from .reading import BETWEEN, Reading, form_of, reading_of
from .second_person import agreed, others_who_may
from .shelf import TheatreShelf, shelf_for
from .state import Phase, done_keys

__all__ = ["implanted", "lens", "put_aside", "spoilt", "stop_page", "use_all_the_same"]


@needs(Permission.ASSIST)
@require_http_methods(["GET", "HEAD", "POST"])
def lens(request: HttpRequest, plan_id: int, eye_key: str, kind: Placement) -> HttpResponse:
    """Reads a lens box for one place."""
    bench = at_eye(request, plan_id, eye_key)
    if bench.state.phase is not Phase.OPERATING:
        return bench.back()
    shelf = shelf_for(unit=bench.stored.unit, plan=bench.plan)
    if request.method != "POST":
        return lens_page(bench, kind, shelf)
    form = form_of(request.POST, request.FILES, sorted(shelf.places))
    if not form.is_valid():
        return lens_page(bench, kind, shelf, sent=form)
    reading = reading_of(form, shelf)
    if reading.held is None:
        return lens_page(bench, kind, shelf, reading=reading)
    return checked(bench, kind, shelf, reading, form.cleaned_data)


def checked(
    bench: Bench, kind: Placement, shelf: TheatreShelf, reading: Reading, found: dict[str, Any]
) -> HttpResponse:  # fmt: skip
    """Holds the box against the plan and keeps what was found."""
    assert reading.held is not None
    try:
        services.check_lens(
            case=bench.case(found["tap"]), held=reading.held, placement=kind, how=reading.how, now=bench.now,
            stops=stops_of(bench, reading.held, kind, shelf),
        )  # fmt: skip
    except ImpossibleInputError as error:
        return bench.refuse(str(error))
    return bench.back()


def stops_of(bench: Bench, held: Held, placement: Placement, shelf: TheatreShelf) -> tuple[Stop, ...]:
    """What speaks against a box."""
    return compare(
        held=held, placement=placement, plan=bench.plan, eye=bench.eye, places=shelf.places,
        today=bench.now.astimezone().date(), done=done_keys(unit=bench.stored.unit, plan=bench.plan),
    )  # fmt: skip


def lens_page(
    bench: Bench, kind: Placement, shelf: TheatreShelf, *, sent: Any = None, reading: Reading | None = None
) -> HttpResponse:  # fmt: skip
    """The page on which a box is read."""
    said = reading or Reading("scanned")
    first, tap = said.half or BETWEEN.join(said.codes[:-1]), {"tap": uuid4()}
    code = said.codes[-1] if said.codes else ""
    page = pages.LensPage(
        frame=bench.frame(), plan=bench.plan, eye=bench.eye, placement=kind, planned=planned_for(bench.eye, kind),
        code=sent if isinstance(sent, CodeForm) else CodeForm(initial={**tap, "before": first, "code": code}),
        picture=sent if isinstance(sent, PictureForm) else PictureForm(initial={"tap": uuid4()}, auto_id="picture-%s"),
        typed=sent if isinstance(sent, TypedForm) else TypedForm(
            initial={"tap": uuid4()}, models=sorted(shelf.places), auto_id="typed-%s"),
        candidates=said.candidates, codes=said.codes, separator_lost=said.separator_lost, wrong=said.wrong,
        half=said.half,
    )  # fmt: skip
    status = REFUSED if said.wrong or sent is not None else 200
    return render(bench.request, "theatre/lens.html", {"page": page}, status=status)


def stop_page(bench: Bench, form: GoOnForm | None = None) -> pages.StopPage:
    """The stop that stands."""
    found = bench.state.stopped
    assert found is not None
    said = found.said
    shelf = shelf_for(unit=bench.stored.unit, plan=bench.plan)
    held = Held(said.model, said.power_d, said.lot, said.serial, said.expires, shelf.box(said.box_id), said.codes)
    people = people_choices(bench.request)
    return pages.StopPage(
        frame=bench.frame(), plan=bench.plan, eye=bench.eye, check=said,
        stops=pages.stop_titles(stops_of(bench, held, said.placement, shelf), said.findings),
        planned=planned_for(bench.eye, said.placement), aside=uuid4(),
        form=form or GoOnForm(initial={"tap": uuid4()}, people=people), people=bool(people),
    )  # fmt: skip


def people_choices(request: HttpRequest) -> list[tuple[str, str]]:
    """Who could be the second person."""
    return [(str(each.pk), f"{each.name}, {each.get_role_display().lower()}") for each in others_who_may(request)]


@needs(Permission.ASSIST)
@require_POST
def put_aside(request: HttpRequest, plan_id: int, eye_key: str) -> HttpResponse:
    """Puts the box aside unopened."""
    bench, form = at_eye(request, plan_id, eye_key), TapForm(request.POST)
    if form.is_valid():
        services.put_box_aside(case=bench.case(form.cleaned_data["tap"]), now=bench.now)
    return bench.back()


@needs(Permission.ASSIST)
@require_POST
def use_all_the_same(request: HttpRequest, plan_id: int, eye_key: str) -> HttpResponse:
    """Goes on in spite of a stop, with a reason and a second person."""
    bench = at_eye(request, plan_id, eye_key)
    if bench.state.stopped is None or bench.state.stopped.said.power_d is None:
        return bench.back()
    form = GoOnForm(request.POST, people=people_choices(request))
    if form.is_valid():
        found = form.cleaned_data
        second, wrong = agreed(request, account_id=found["person"], typed=found["secret"])
        if second is not None:
            services.go_on_with_box(
                case=bench.case(found["tap"]), reason=found["reason"], second_person=second.name, now=bench.now
            )  # fmt: skip
            return bench.back()
        form.add_error("secret", wrong)
    return render(request, "theatre/stop.html", {"page": stop_page(bench, form)}, status=REFUSED)


@needs(Permission.ASSIST)
@require_POST
def implanted(request: HttpRequest, plan_id: int, eye_key: str) -> HttpResponse:
    """The lens is in the eye."""
    bench, form = at_eye(request, plan_id, eye_key), TapForm(request.POST)
    if not form.is_valid():
        return bench.refuse("This tap was not understood. Load the page again.")
    found, shelf = form.cleaned_data, shelf_for(unit=bench.stored.unit, plan=bench.plan)
    try:
        services.implant(
            case=bench.case(found["tap"]), on_record=shelf.on_record, happened=bench.happened(found), now=bench.now
        )
    except ImpossibleInputError as error:
        return bench.refuse(str(error))
    return bench.back()


@needs(Permission.ASSIST)
@require_POST
def spoilt(request: HttpRequest, plan_id: int, eye_key: str) -> HttpResponse:
    """The lens was opened and cannot be used."""
    bench, form = at_eye(request, plan_id, eye_key), ReasonForm(request.POST)
    if not form.is_valid():
        return bench.refuse("This tap was not understood. Load the page again.")
    found, shelf = form.cleaned_data, shelf_for(unit=bench.stored.unit, plan=bench.plan)
    try:
        services.spoil_lens(
            case=bench.case(found["tap"]), reason=found["reason"], on_record=shelf.on_record, now=bench.now
        )
    except ImpossibleInputError as error:
        return bench.refuse(str(error))
    return bench.back()
