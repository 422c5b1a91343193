"""What follow-up reads of one eye: its operation, what went wrong in it, what was found since."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.db.models import QuerySet

from ...record.kinds import Kind
from ...record.plain import read_plain
from ...record.theatre_said import EventKind, Outcome
from ...record.visit_said import VisitContacted, VisitMissed, VisitRecorded
from ..record.models import Operation, Visit
from ..record.project import batches
from .schedule import Due, dues_of, schedule

__all__ = [
    "COMPLICATING", "SAID", "Heard", "dues_of_eye", "dues_since", "events_of", "followed", "note", "rows_by_key",
    "visits_of_operation",
]  # fmt: skip

SAID: dict[str, type] = {"recorded": VisitRecorded, "missed": VisitMissed, "contacted": VisitContacted}
COMPLICATING = tuple(each.value for each in (
    EventKind.CAPSULE_TEAR, EventKind.VITREOUS, EventKind.ZONULAR_DIALYSIS, EventKind.NUCLEUS_DROP,
    EventKind.IRIS_PROLAPSE, EventKind.WOUND_BURN,
))  # fmt: skip
"""What goes wrong in theatre; a suture or a conversion by itself is none of it."""
TOGETHER = 500
"""Keys that are asked for in one query."""


@dataclass(slots=True)
class Heard:
    """What the record holds of one eye since its operation."""

    seen: set[tuple[date, str]] = field(default_factory=set)
    closed: dict[str, str] = field(default_factory=dict)
    tries: list[tuple[date, str, str]] = field(default_factory=list)
    """Day, visit and row of each attempt."""
    last_seen: str = ""
    """Row of the last examination."""


def followed(*, unit: str) -> QuerySet[Operation]:
    """Operations after which an eye is followed up: all that were not given up."""
    return Operation.objects.filter(unit=unit).exclude(outcome=Outcome.ABANDONED.value)


def note(heard: Heard, kind: str, day: date, due: str, key: str) -> None:
    """Adds one word about an eye; a closed visit's reason is added by whoever has read it."""
    if kind == "recorded":
        heard.seen.add((day, due))
        heard.last_seen = key
    elif kind == "contacted":
        heard.tries.append((day, due, key))


def rows_by_key(rows: QuerySet[Any], keys: Iterable[str]) -> Iterator[Any]:
    """Rows by their keys, a handful of keys a query."""
    for some in batches(keys, TOGETHER):
        yield from rows.filter(pk__in=some)


def dues_since(operated: date, today: date, heard: Heard) -> tuple[Due, ...]:
    """How the visits of an eye stand."""
    return dues_of(operated=operated, today=today, seen=heard.seen, closed=heard.closed, schedule=schedule())


def events_of(operation: Operation) -> tuple[str, ...]:
    """What went wrong in an operation, in the order in which it happened."""
    rows = operation.events.filter(kind=Kind.OPERATION_EVENT.value, name__in=COMPLICATING).order_by("happened", "first")
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
