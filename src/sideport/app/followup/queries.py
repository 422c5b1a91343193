"""What follow-up reads from the record: the eyes that are due or late, and one eye's visits."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import Any, TypeVar

from django.db.models import Q, QuerySet

from ...eye.result import ResultClass
from ...knowledge import load_published
from ...optics.side import Side
from ...record.kinds import Kind
from ...record.plain import read_plain
from ...record.theatre_said import EventKind, Outcome
from ...record.visit_said import VisitContacted, VisitMissed, VisitRecorded
from ..record.models import Operation, OperationEvent, Person, Visit
from ..record.project import batches
from ..record.queries import person_facts
from .contact import Absent, Call, call_of
from .findings import acuity_classes
from .schedule import Due, DueState, dues_of, open_visit, schedule

__all__ = [
    "SAID", "Waiting", "complicated", "dues_of_eye", "events_of", "followed", "visits_of_operation", "waiting",
    "with_phones",
]  # fmt: skip

SAID: dict[str, type] = {"recorded": VisitRecorded, "missed": VisitMissed, "contacted": VisitContacted}
Said = TypeVar("Said")
COMPLICATING = (
    EventKind.CAPSULE_TEAR, EventKind.VITREOUS, EventKind.ZONULAR_DIALYSIS, EventKind.NUCLEUS_DROP,
    EventKind.IRIS_PROLAPSE, EventKind.WOUND_BURN,
)  # fmt: skip
"""What goes wrong in theatre; a suture or a conversion by itself is none of it."""
TOGETHER = 500
"""Keys that are asked for in one query."""


@dataclass(frozen=True, slots=True)
class Waiting:
    """An operated eye whose visit is due now or late."""

    key: str
    """Of the operation."""
    person_key: str
    person_id: str
    name: str
    phone: str
    """Its digits alone; `with_phones` gives it as it was written."""
    place: str
    side: Side
    operated: date
    due: Due
    tries: int
    next_try: date | None
    """When somebody said to try again."""
    call: Call

    @property
    def late(self) -> bool:
        """Whether the visit has closed."""
        return self.due.state is DueState.LATE


@dataclass(slots=True)
class Heard:
    """What the record holds of one eye since its operation."""

    seen: set[tuple[date, str]] = field(default_factory=set)
    closed: dict[str, str] = field(default_factory=dict)
    tries: list[tuple[date, str, str]] = field(default_factory=list)
    """Day, visit and row of each attempt."""
    last_seen: tuple[date, str] | None = None
    """Day and row of the last examination."""


@dataclass(frozen=True, slots=True)
class Operated:
    """The last operation of an eye, as far as the list needs it."""

    key: str
    person_key: str
    person_id: str
    side: str
    day: date


def followed(*, unit: str) -> QuerySet[Operation]:
    """Operations after which an eye is followed up: all that were not given up."""
    return Operation.objects.filter(unit=unit).exclude(outcome=Outcome.ABANDONED.value)


def waiting(*, unit: str, today: date) -> tuple[Waiting, ...]:
    """Every eye that is due now or late, the one whose call brings most first.

    Parameters
    ----------
    unit : str
        Whose.
    today : date
        The day that is asked about.

    Returns
    -------
    tuple of Waiting
        Of each eye the follow-up of its last operation.
    """
    since = today - timedelta(load_published().value("followup.contact.listed"))
    operated = last_operations(unit, since, today)
    heard = heard_since(unit, since, operated)
    opened: dict[tuple[str, str], Due] = {}
    for eye, operation in operated.items():
        due = open_visit(dues_since(operation.day, today, heard[eye]))
        if due is not None:
            opened[eye] = due
    found = described(opened, operated, heard)
    return tuple(sorted(found, key=lambda each: (-each.call.value, each.person_id, each.side.value)))


def last_operations(unit: str, since: date, today: date) -> dict[tuple[str, str], Operated]:
    """The last operation of every eye within the time that is followed."""
    rows = followed(unit=unit).filter(day__gte=since, day__lte=today).order_by("day", "first")
    columns = ("key", "person_key", "person_id", "side", "day")
    return {(row[1], row[3]): Operated(*row) for row in rows.values_list(*columns)}


def heard_since(
    unit: str, since: date, operated: dict[tuple[str, str], Operated]
) -> defaultdict[tuple[str, str], Heard]:  # fmt: skip
    """Examinations, closed visits and tries of the eyes since their operations."""
    heard: defaultdict[tuple[str, str], Heard] = defaultdict(Heard)
    rows = Visit.objects.filter(unit=unit, day__gte=since).order_by("day", "first")
    columns = ("person_key", "side", "kind", "day", "due", "key", "operation_id")
    missed = []
    for person_key, side, kind, day, due, key, _ in rows.values_list(*columns):
        operation = operated.get((person_key, side))
        if operation is None or day < operation.day:
            continue
        note(heard[person_key, side], kind, day, due, key)
        if kind == "missed":
            missed.append(key)
    for row in rows_by_key(Visit.objects.all(), missed):
        said = read_plain(VisitMissed, row.facts)
        heard[row.person_key, row.side].closed[said.due] = said.reason
    return heard


def note(heard: Heard, kind: str, day: date, due: str, key: str) -> None:
    """Adds one word about an eye."""
    if kind == "recorded":
        heard.seen.add((day, due))
        heard.last_seen = (day, key)
    elif kind == "contacted":
        heard.tries.append((day, due, key))


def rows_by_key(rows: QuerySet[Any], keys: Iterable[str]) -> Iterator[Any]:
    """Rows by their keys, a handful of keys a query."""
    for some in batches(keys, TOGETHER):
        yield from rows.filter(pk__in=some)


def dues_since(operated: date, today: date, heard: Heard) -> tuple[Due, ...]:
    """How the visits of an eye stand."""
    return dues_of(operated=operated, today=today, seen=heard.seen, closed=heard.closed, schedule=schedule())


def described(
    opened: dict[tuple[str, str], Due], operated: dict[tuple[str, str], Operated],
    heard: dict[tuple[str, str], Heard],
) -> Iterator[Waiting]:  # fmt: skip
    """The eyes that wait, with who they are and what calling them is worth."""
    knowledge = load_published()
    people = {row["key"]: row for row in people_by_key({person_key for person_key, _ in opened})}
    wrong = complicated([operated[eye].key for eye in opened])
    last = {eye: heard[eye].last_seen for eye in opened}
    seen = said_in(VisitRecorded, [told[1] for told in last.values() if told])
    tried = said_in(VisitContacted, [heard[eye].tries[-1][2] for eye in opened if heard[eye].tries])
    for eye, due in opened.items():
        operation, person = operated[eye], people.get(eye[0], {})
        tries = [each for each in heard[eye].tries if each[0] >= due.opens or each[1] == due.window.name]
        told = last[eye]
        visit = seen.get(told[1]) if told else None
        absent = Absent(
            late_d=due.late_d, tries=len(tries), has_phone=bool(person.get("phone")),
            only_eye=bool(person.get(f"only_{eye[1]}")),
            complication=operation.key in wrong or bool(visit and visit.complications),
            not_good=visit is not None and acuity_classes(visit, knowledge)[0] in {
                ResultClass.BORDERLINE, ResultClass.POOR,
            },
        )  # fmt: skip
        yield Waiting(
            operation.key, operation.person_key, operation.person_id, person.get("name", ""), person.get("phone", ""),
            person.get("place", ""), Side(operation.side), operation.day, due, len(tries),
            tried[tries[-1][2]].next_try if tries else None, call_of(absent=absent, knowledge=knowledge),
        )  # fmt: skip


def with_phones(rows: Iterable[Waiting]) -> tuple[Waiting, ...]:
    """The few that are shown, with telephone numbers as they were written: a plus in front matters to whoever dials."""
    shown = tuple(rows)
    people = rows_by_key(Person.objects.only("key", "facts"), sorted({each.person_key for each in shown}))
    written = {row.key: person_facts(row).phone for row in people}
    return tuple(replace(each, phone=written.get(each.person_key, "")) for each in shown)


def said_in(kind: type[Said], keys: Iterable[str]) -> dict[str, Said]:
    """What visits of one kind say, by their keys."""
    return {row.key: read_plain(kind, row.facts) for row in rows_by_key(Visit.objects.all(), keys)}


def people_by_key(keys: Collection[str]) -> Iterator[dict[str, Any]]:
    """Who people are, and which eye is their only one, without reading everything that is known of them."""
    # The facts are canonical JSON: no spaces, and a quotation mark inside a text is escaped, so the pattern is exact.
    only = {f"only_{side.value}": Q(facts__contains=f'"only_eye":"{side.value}"') for side in Side}
    rows = Person.objects.annotate(**only).values("key", "name", "phone", "place", *only)
    for some in batches(sorted(keys), TOGETHER):
        yield from rows.filter(pk__in=some)


def complicated(operations: Iterable[str]) -> frozenset[str]:
    """Those of the operations, by key, in which something went wrong."""
    found: set[str] = set()
    names = [each.value for each in COMPLICATING]
    for some in batches(operations, TOGETHER):
        rows = OperationEvent.objects.filter(operation_id__in=some, kind=Kind.OPERATION_EVENT.value, name__in=names)
        found.update(rows.values_list("operation_id", flat=True))
    return frozenset(found)


def events_of(operation: Operation) -> tuple[str, ...]:
    """What went wrong in an operation, in the order in which it happened."""
    names = [each.value for each in COMPLICATING]
    rows = operation.events.filter(kind=Kind.OPERATION_EVENT.value, name__in=names).order_by("happened", "first")
    return tuple(dict.fromkeys(rows.values_list("name", flat=True)))


def visits_of_operation(operation: Operation) -> list[Visit]:
    """Everything said of an eye's follow-up since an operation, in the order of the days."""
    rows = Visit.objects.filter(
        unit=operation.unit, person_key=operation.person_key, side=operation.side, day__gte=operation.day
    )
    return list(rows.order_by("day", "first"))


def dues_of_eye(*, operation: Operation, visits: Iterable[Visit], today: date) -> tuple[Due, ...]:
    """How the visits after one operation stand."""
    heard = Heard()
    for row in visits:
        note(heard, row.kind, row.day, row.due, row.key)
        if row.kind == "missed":
            heard.closed[row.due] = read_plain(VisitMissed, row.facts).reason
    return dues_since(operation.day, today, heard)
