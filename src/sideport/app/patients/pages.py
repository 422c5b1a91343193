"""What the pages of patients show, as one frozen value a page."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.forms import Form
from django.http import HttpRequest

from ...eye.person import EyeRecord
from ...eye.person import Person as PersonFacts
from ...optics.side import Side
from ...record.doubles import Alike
from ..people.pages import plain_page
from ..planning.frames import Frame
from ..record.models import Day, ListedEye, Operation, Person, Task
from ..record.queries import person_facts
from .history import KIND_WORDS, Line, Word, field_words, lines_of, told_of
from .models import FolderImport
from .queries import Found, people_listed, search
from .services import name_of

__all__ = [
    "EyePart", "FolderPage", "FormPage", "HistoryPage", "PatientPage", "RegisterPage", "SearchPage", "SetAsidePage",
    "history_page", "patient_page", "search_page", "set_aside_page",
]  # fmt: skip

SHOWN = 200


@dataclass(frozen=True, slots=True)
class SearchPage:
    """Looking for a patient."""

    frame: Frame
    asked: str
    found: Found
    day: date | None
    """The next day with a list; shown while nothing is asked for."""
    listed: tuple[ListedEye, ...]


@dataclass(frozen=True, slots=True)
class RegisterPage:
    """A new patient, with those who may be the same person."""

    frame: Frame
    form: Form
    alike: Sequence[tuple[Person, Alike]] = ()


@dataclass(frozen=True, slots=True)
class FormPage:
    """A form about one patient."""

    frame: Frame
    row: Person
    form: Form
    side: Side | None = None
    lines: tuple[Line, ...] = ()
    """What the form is about, where that is something on the record."""


@dataclass(frozen=True, slots=True)
class EyePart:
    """One eye on the patient's page."""

    side: Side
    record: EyeRecord | None
    findings: tuple[Word, ...]
    readings: int
    coming: tuple[ListedEye, ...]
    operations: tuple[Operation, ...]


@dataclass(frozen=True, slots=True)
class PatientPage:
    """One patient with both eyes."""

    frame: Frame
    row: Person
    person: PersonFacts
    words: tuple[Word, ...]
    eyes: tuple[EyePart, ...]
    days: tuple[Day, ...]
    """Days still to come that are set."""
    kept: Person | None
    """The number that is kept, where this is a second registration."""
    others: tuple[Person, ...]
    """Other numbers of the same person."""
    tasks: int
    saved: str
    """Entries that were written just now, to take them back."""
    wrong: str
    """Why the last thing that was asked for could not be done."""


@dataclass(frozen=True, slots=True)
class HistoryPage:
    """Everything that was ever said about a patient."""

    frame: Frame
    row: Person
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class FolderPage:
    """Reading files in, and what was read in before."""

    frame: Frame
    form: Form
    rows: tuple[FolderImport, ...]


@dataclass(frozen=True, slots=True)
class SetAsidePage:
    """What a folder brought, and what of it was set aside."""

    frame: Frame
    row: FolderImport
    added: tuple[tuple[str, int], ...]
    """What went into the record, in words, with how many."""
    shown: Sequence[Sequence[str]]
    more: int


def search_page(request: HttpRequest, unit: str, asked: str, today: date) -> SearchPage:
    """The people that were looked for; while nothing is asked, those of the next list."""
    coming = ListedEye.objects.filter(unit=unit, day__gte=today, listing="listed").order_by("day").first()
    day = coming.day if coming is not None and not asked else None
    return SearchPage(
        frame=plain_page(request, "patients"),
        asked=asked,
        found=search(unit=unit, asked=asked),
        day=day,
        listed=people_listed(unit=unit, day=day) if day else (),
    )


def patient_page(request: HttpRequest, row: Person, today: date, wrong: str = "") -> PatientPage:
    """The page of one patient."""
    person = person_facts(row)
    listed = list(ListedEye.objects.filter(person=row, day__gte=today, listing="listed").order_by("day"))
    others = tuple(Person.objects.filter(unit=row.unit, same_as=row.key).order_by("person_id"))
    operations = list(
        Operation.objects.filter(person_key__in=[row.key, *(each.key for each in others)]).order_by("day")
    )
    return PatientPage(
        frame=plain_page(request, "patients"),
        row=row,
        person=person,
        words=tuple(word for word in field_words(person, None) if word.label not in {"Name", "Patient number"}),
        eyes=tuple(eye_part(person.eye(side), side, listed, operations) for side in Side),
        days=tuple(Day.objects.filter(unit=row.unit, day__gte=today).order_by("day")),
        kept=Person.objects.filter(key=row.same_as).first() if row.same_as else None,
        others=others,
        tasks=Task.objects.filter(unit=row.unit, settled_by="", subject=name_of(row.person_id)).count(),
        saved=request.GET.get("saved", ""),
        wrong=wrong,
    )


def eye_part(
    record: EyeRecord | None, side: Side, listed: Sequence[ListedEye], operations: Sequence[Operation]
) -> EyePart:
    """One eye of the patient's page."""
    return EyePart(
        side=side,
        record=record,
        findings=tuple(field_words(record, None)) if record else (),
        readings=len(record.measurements) if record else 0,
        coming=tuple(each for each in listed if each.side == side.value),
        operations=tuple(each for each in operations if each.side == side.value),
    )


def history_page(request: HttpRequest, row: Person) -> HistoryPage:
    """Everything that was ever said, newest first."""
    lines = lines_of(told_of(unit=row.unit, person_id=row.person_id))
    return HistoryPage(plain_page(request, "patients"), row, tuple(reversed(lines)))


def set_aside_page(request: HttpRequest, row: FolderImport) -> SetAsidePage:
    """What a folder brought."""
    shown = row.rejected[:SHOWN]
    added = tuple((KIND_WORDS.get(kind, kind), count) for kind, count in row.added.items())
    return SetAsidePage(plain_page(request, "import"), row, added, shown, len(row.rejected) - len(shown))
