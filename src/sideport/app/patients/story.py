"""The whole story of one eye, from the tables that the journal gives: found, measured, planned, done, seen again."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import QuerySet
from django.http import HttpRequest

from ...day.plan import EyePlan
from ...day.plan_day import eye_key
from ...eye.measurement import Measurement as Reading
from ...eye.measurement import Method, Quantity
from ...eye.person import EyeRecord
from ...eye.person import Person as PersonFacts
from ...optics.side import Side
from ...record.kinds import CATALOGUE, Kind
from ...record.plain import read_plain
from ...record.stock_said import Listing
from ..followup.story import VisitLine, line_of
from ..people.pages import plain_page
from ..planning.documents import plan_of
from ..planning.frames import Frame
from ..planning.models import StoredPlan
from ..record.models import ListedEye, Measurement, Operation, OperationEvent, Person, Visit
from ..record.queries import person_facts
from .history import KIND_WORDS, Line, Word, field_words, lines_of, quantity_word, reading_words, told_of

__all__ = ["StoryPage", "story_page"]

EVENT_WORDS = {
    Kind.OPERATION_STEP: "Step",
    Kind.OPERATION_EVENT: "Event",
    Kind.CHECKLIST_ANSWERED: "Pause",
    Kind.WOUND_MADE: "Wound made",
    Kind.NOTE_WRITTEN: "Note written",
}
ELSEWHERE = frozenset({"Person id", "Side"})
TOLD_BELOW = frozenset({Kind.OPERATION_STARTED, Kind.OPERATION_ENDED, Kind.LENS_IMPLANTED, Kind.VISIT_RECORDED,
                        Kind.VISIT_MISSED, Kind.VISIT_CONTACTED})  # fmt: skip
"""What has a place of its own further down and need not stand twice."""


@dataclass(frozen=True, slots=True)
class ReadingLine:
    """One reading with the entry that it can be corrected by."""

    entry_id: str
    key: str
    quantity: str
    words: str
    written: str


@dataclass(frozen=True, slots=True)
class PlanLine:
    """What the newest plan of a day has for the eye."""

    stored: StoredPlan
    eye: EyePlan
    earlier: int
    """Older plans of the same day."""


@dataclass(frozen=True, slots=True)
class Happening:
    """One thing that was recorded of an operation."""

    happened: datetime
    title: str
    name: str
    words: tuple[Word, ...]
    author: str


@dataclass(frozen=True, slots=True)
class OperationPart:
    """An operation with all that happened."""

    row: Operation
    happenings: tuple[Happening, ...]
    plan_id: int | None
    """The stored plan that it followed, if it is here."""
    eye_key: str
    """The eye's name in that plan."""


@dataclass(frozen=True, slots=True)
class StoryPage:
    """One eye from the first word to the last."""

    frame: Frame
    row: Person
    person: PersonFacts
    side: Side
    record: EyeRecord | None
    findings: tuple[Word, ...]
    readings: tuple[ReadingLine, ...]
    days: tuple[ListedEye, ...]
    plans: tuple[PlanLine, ...]
    operations: tuple[OperationPart, ...]
    visits: tuple[VisitLine, ...]
    entries: tuple[Line, ...]
    """The entries about the person and this eye, oldest first."""
    numbers: tuple[str, ...]
    """Every number the person was registered under."""


def story_page(request: HttpRequest, row: Person, side: Side) -> StoryPage:
    """Everything about one eye.

    Parameters
    ----------
    request : HttpRequest
        For the frame around the page.
    row : Person
        Whose eye; where other numbers were found to be the same person, what stands under them is told too.
    side : Side
        Which eye.

    Returns
    -------
    StoryPage
    """
    rows = [row, *Person.objects.filter(unit=row.unit, same_as=row.key).order_by("person_id")]
    keys = [each.key for each in rows]
    person = person_facts(row)
    record = person.eye(side)
    days = tuple(
        ListedEye.objects.filter(person__in=keys, side=side.value, listing=Listing.LISTED.value).order_by("day")
    )  # fmt: skip
    told = [line for each in rows for line in lines_of(told_of(unit=each.unit, person_id=each.person_id))]
    return StoryPage(
        frame=plain_page(request, "patients"),
        row=row,
        person=person,
        side=side,
        record=record,
        findings=tuple(field_words(record, None)) if record else (),
        readings=tuple(reading_lines(row, side)),
        days=days,
        plans=tuple(plan_lines(row.unit, [each.person_id for each in rows], side, {listed.day for listed in days})),
        operations=tuple(operation_parts(keys, side)),
        visits=tuple(line_of(visit) for visit in visits_on(keys, side)),
        entries=tuple(line for line in told if line.side in {None, side} and line.kind not in TOLD_BELOW),
        numbers=tuple(each.person_id for each in rows),
    )


def reading_lines(row: Person, side: Side) -> Iterator[ReadingLine]:
    """The readings that stand."""
    found = Measurement.objects.filter(eye__person=row, eye__side=side.value).order_by("first")
    for each in found:
        said = Reading(side, Quantity(each.quantity), each.value, Method(each.method), each.axis_deg, each.reading,
                       each.taken_on, each.as_written)  # fmt: skip
        words = reading_words(said)
        yield ReadingLine(each.entry_id, each.key, quantity_word(said.quantity), words, each.as_written)


def plan_lines(unit: str, numbers: list[str], side: Side, days: set[date]) -> Iterator[PlanLine]:
    """What the newest plan of each day says, where the eye is in it."""
    for day in sorted(days):
        stored = list(StoredPlan.objects.light().filter(unit=unit, day=day).newest_first())
        if not stored:
            continue
        eyes = (eye for eye in plan_of(stored[0]).eyes if eye.person_id in numbers and eye.side is side)
        eye = next(eyes, None)
        if eye is not None:
            yield PlanLine(stored[0], eye, len(stored) - 1)


def operation_parts(keys: list[str], side: Side) -> Iterator[OperationPart]:
    """The operations on the eye, oldest first, with all that happened."""
    found = Operation.objects.filter(person_key__in=keys, side=side.value).order_by("started", "first")
    for row in found.prefetch_related("events"):
        events = sorted(row.events.all(), key=lambda event: (event.happened, event.first))
        plan = StoredPlan.objects.light().filter(unit=row.unit, digest=row.plan).newest_first().first()
        key = eye_key(row.person_id, EyeRecord(side, listed=True))
        yield OperationPart(row, tuple(happening(event) for event in events), plan.pk if plan else None, key)


def happening(event: OperationEvent) -> Happening:
    """One thing in words."""
    words: tuple[Word, ...] = ()
    if event.kind in {*CATALOGUE}:
        said: Any = read_plain(CATALOGUE[Kind(event.kind)].says, event.facts)
        named = {event.name, ""}
        words = tuple(word for word in field_words(said, None) if word.label not in ELSEWHERE and word.now not in named)
    title = EVENT_WORDS.get(Kind(event.kind)) or KIND_WORDS.get(event.kind, event.kind)
    plain = Kind.CHECKLIST_ANSWERED, Kind.NOTE_WRITTEN
    return Happening(event.happened, title, event.name, () if event.kind in plain else words, event.author)


def visits_on(keys: list[str], side: Side) -> QuerySet[Visit]:
    """Visits, missed visits and attempts to reach the patient, by day."""
    return Visit.objects.filter(person_key__in=keys, side=side.value).order_by("day", "first")
