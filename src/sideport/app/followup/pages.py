"""What the pages of follow-up show, as one frozen value a page."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django import forms
from django.http import HttpRequest

from ...eye.person import Person as PersonFacts
from ...eye.result import SuggestedCause, suggested_cause
from ...knowledge import Basis, load_published
from ...optics.side import Side
from ...present.slip import Language, languages
from ...record.visit_said import VisitRecorded
from ..people.pages import plain_page
from ..planning.frames import Frame
from ..record.models import Operation, Person, Visit
from ..record.queries import person_facts
from .findings import acuity_classes, complications_of
from .forms import ContactForm, MissedForm, SlipForm, VisitForm
from .queries import dues_of_eye, events_of, visits_of_operation
from .schedule import Due, DueState, next_visit
from .story import Change, VisitLine, changes_of, line_of
from .waiting import Waitlist, waiting

__all__ = [
    "EyePage", "FollowUpPage", "SlipPage", "VisitPage", "eye_page", "first_visit", "follow_up_page", "slip_page",
    "visit_page",
]  # fmt: skip

SHOWN = 50
"""Eyes that one table shows."""


@dataclass(frozen=True, slots=True)
class FollowUpPage:
    """Who is late and who is due."""

    frame: Frame
    today: date
    list: Waitlist
    shown: int
    published: Basis = Basis.PUBLISHED


@dataclass(frozen=True, slots=True)
class Heading:
    """Whose eye it is."""

    operation: Operation
    name: str
    phone: str
    place: str
    side: Side
    events: tuple[str, ...]
    """What went wrong in theatre."""


@dataclass(frozen=True, slots=True)
class EyePage:
    """One eye after its operation."""

    frame: Frame
    head: Heading
    dues: tuple[Due, ...]
    lines: tuple[VisitLine, ...]
    cause: SuggestedCause | None
    """Where the last result is not good and no cause was named."""
    changes: tuple[Change, ...]
    contact: ContactForm
    missed: MissedForm
    next: Due | None
    """What a try or a closed visit is about."""
    recalled: Basis = Basis.RECALLED


@dataclass(frozen=True, slots=True)
class VisitPage:
    """The form of a visit, new or corrected."""

    frame: Frame
    head: Heading
    form: VisitForm
    corrects: bool
    cause: SuggestedCause | None


@dataclass(frozen=True, slots=True)
class SlipPage:
    """What the patient takes home, before it is printed."""

    frame: Frame
    head: Heading
    form: SlipForm
    unchecked: tuple[Language, ...]
    """Languages that no fluent reader has checked."""
    drops: tuple[tuple[forms.BoundField, forms.BoundField, forms.BoundField], ...]
    visit: str
    """The next visit, with its days; empty where none is due any more."""
    opens: date | None
    closes: date | None


def follow_up_page(request: HttpRequest, unit: str, today: date) -> FollowUpPage:
    """The page of everybody who waits."""
    found = waiting(unit=unit, today=today, most=SHOWN)
    return FollowUpPage(plain_page(request, "follow-up"), today, found, SHOWN)


def person_of(operation: Operation) -> PersonFacts | None:
    """Who was operated on, as far as the register has arrived."""
    row = Person.objects.filter(pk=operation.person_key).first()
    return person_facts(row) if row else None


def heading(operation: Operation) -> Heading:
    """Whose eye an operation was on; the number alone where the register has not arrived yet."""
    person = person_of(operation)
    return Heading(
        operation, person.name if person else operation.person_id, person.phone if person else "",
        person.place if person else "", Side(operation.side), events_of(operation),
    )  # fmt: skip


def eye_page(
    request: HttpRequest, operation: Operation, today: date, *, contact: ContactForm | None = None,
    missed: MissedForm | None = None,
) -> EyePage:  # fmt: skip
    """The page of one eye; a form that was refused is shown as it was sent."""
    rows = visits_of_operation(operation)
    dues = dues_of_eye(operation=operation, visits=rows, today=today)
    head, lines = heading(operation), tuple(line_of(row) for row in rows)
    return EyePage(
        frame=plain_page(request, "follow-up"), head=head, dues=dues, lines=lines,
        cause=unnamed_cause(head, lines), changes=changes_of(operation=operation, lines=rows),
        contact=contact or ContactForm(), missed=missed or MissedForm(), next=next_visit(dues),
    )  # fmt: skip


def unnamed_cause(head: Heading, lines: tuple[VisitLine, ...]) -> SuggestedCause | None:
    """The likely cause of the last result, where it is not good and nobody has named one."""
    seen = [line for line in lines if isinstance(line.said, VisitRecorded) and line.result is not None]
    said = [line.said for line in lines if isinstance(line.said, VisitRecorded)]
    if not seen or any(visit.cause for visit in said if visit.day == seen[-1].day):
        return None
    found = tuple(dict.fromkeys(each for visit in said for each in complications_of(visit)))
    return suggested_cause(
        presenting=seen[-1].result, best=seen[-1].best, found=found, operation_events=head.events
    )  # fmt: skip


def visit_page(request: HttpRequest, operation: Operation, form: VisitForm, *, corrects: bool = False) -> VisitPage:
    """The page of a visit's form; where the result is not good, with the likely cause."""
    head, cause = heading(operation), None
    if form.is_bound and form.cleaned_data.get("day") and not form.cleaned_data.get("cause"):
        try:
            said = form.said()
        except KeyError:
            said = None
        if said is not None:
            presenting, best = acuity_classes(said, load_published())
            cause = suggested_cause(
                presenting=presenting, best=best, found=complications_of(said), operation_events=head.events
            )
    return VisitPage(plain_page(request, "follow-up"), head, form, corrects, cause)


def first_visit(visit: Visit | None, today: date) -> dict[str, Any]:
    """What a visit's form starts from: today, or what was said before."""
    if visit is None:
        return {"day": today}
    said = line_of(visit).said
    if not isinstance(said, VisitRecorded):
        return {"day": today}
    plain = {name: getattr(said, name) for name in ("day", "due", "cause", "examiner", "note", "complications")}
    written = {name: acuity.written for name in ("unaided", "with_glasses", "pinhole", "corrected")
               if (acuity := getattr(said, name)) is not None}  # fmt: skip
    figures = {name: f"{value:g}" for name in ("sphere_d", "cylinder_d", "axis_deg", "pressure_mmhg")
               if (value := getattr(said, name)) is not None}  # fmt: skip
    corneal = {name: corneal_words(power, axis) for name, power, axis in (
        ("k1", said.k1_d, said.k1_axis_deg), ("k2", said.k2_d, said.k2_axis_deg),
    ) if power is not None}  # fmt: skip
    return plain | written | figures | corneal


def corneal_words(power_d: float, axis_deg: float | None) -> str:
    """A corneal reading as the form reads it back."""
    return f"{power_d:.2f}" + (f" @ {axis_deg:g}" if axis_deg is not None else "")


def slip_page(request: HttpRequest, operation: Operation, today: date, form: SlipForm | None = None) -> SlipPage:
    """The page before the slip; the return date starts at the day on which the next visit opens.

    The patient is there, so a visit whose time has come already is taken to be under way.
    """
    dues = dues_of_eye(operation=operation, visits=visits_of_operation(operation), today=today)
    coming = next((due for due in dues if due.state is DueState.NOT_YET), None)
    starts = {"comes_back": coming.opens} if coming else {}
    shown = form or SlipForm(initial=starts)
    rows = tuple(
        (shown[f"drop_{row}"], shown[f"times_{row}"], shown[f"days_{row}"]) for row in range(1, shown.drop_rows + 1)
    )
    return SlipPage(
        plain_page(request, "follow-up"), heading(operation), shown,
        tuple(each for each in languages() if not each.checked_by), rows, coming.window.name if coming else "",
        coming.opens if coming else None, coming.closes if coming else None,
    )  # fmt: skip
