"""Operated people for tests of follow-up: invented, in the sample unit, all through the journal."""

from datetime import UTC, date, datetime, timedelta

from sideport.app.followup import services
from sideport.app.record.models import Operation, Visit
from sideport.app.record.services import append
from sideport.eye.person import Person, Sex
from sideport.lens.model import Placement
from sideport.optics.acuity import parse_acuity
from sideport.optics.side import Side
from sideport.record.kinds import Kind
from sideport.record.subject import SubjectKind, root_of, subject
from sideport.record.theatre_said import (
    EventKind,
    LensImplanted,
    OperationEnded,
    OperationEvent,
    OperationStarted,
    Outcome,
)
from sideport.record.visit_said import VisitContacted, VisitRecorded
from sideport.wound.technique import Technique

from .cast import UNIT

__all__ = ["AUTHOR", "contacted", "operated", "seen"]

AUTHOR = "मीरा घाट"
NOON = datetime(2031, 3, 1, 12, 0, tzinfo=UTC)


def say(kind: Kind, name: str, payload: object, *, unit: str = UNIT) -> None:
    append(kind=kind, subject=name, payload=payload, actor=AUTHOR, now=NOON, unit=unit)


def operated(
    number: str, day: date, *, name: str = "Tansy Moor", side: Side = Side.RIGHT, phone: str = "+91 012 345",
    only_eye: Side | None = None, event: EventKind | None = None, outcome: Outcome = Outcome.DONE, unit: str = UNIT,
    which: str = "1",
) -> Operation:  # fmt: skip
    """A person who was operated on a day."""
    person, operation = subject(SubjectKind.PERSON, number), subject(SubjectKind.OPERATION, f"{number}-{which}")
    at = datetime(day.year, day.month, day.day, 9, tzinfo=UTC)
    who = Person(number, name, (), 67.0, Sex.FEMALE, phone, "Heron Point", only_eye=only_eye)
    say(Kind.PERSON_REGISTERED, person, who, unit=unit)
    say(Kind.OPERATION_STARTED, operation,
        OperationStarted(number, side, day, Technique.MSICS, "Wren Hollis", at), unit=unit)  # fmt: skip
    if event:
        say(Kind.OPERATION_EVENT, operation, OperationEvent(event, at + timedelta(minutes=4)), unit=unit)
    if outcome is not Outcome.ABANDONED:
        lens = LensImplanted(number, side, "Rigid A", 21.0, Placement.BAG, at + timedelta(minutes=6))
        say(Kind.LENS_IMPLANTED, operation, lens, unit=unit)
    say(Kind.OPERATION_ENDED, operation, OperationEnded(number, side, outcome, at + timedelta(minutes=9)), unit=unit)
    return Operation.objects.get(pk=root_of(unit, operation))


def seen(operation: Operation, day: date, unaided: str = "6/9", *, due: str = "", **found: object) -> Visit:
    """A visit of an operated eye."""
    said = VisitRecorded(
        operation.person_id, Side(operation.side), day, operation.operation_id, due, parse_acuity(unaided),
        **found,  # type: ignore[arg-type]
    )  # fmt: skip
    entry = services.record(operation=operation, said=said, actor=AUTHOR, now=NOON)
    return Visit.objects.get(pk=entry.entry_id)


def contacted(operation: Operation, day: date, due: str, next_try: date | None = None, minute: int = 0) -> None:
    """A try to reach the patient that did not help."""
    said = VisitContacted(
        operation.person_id, Side(operation.side), day, operation.operation_id, due, "telephone", "no answer", next_try
    )
    services.record(operation=operation, said=said, actor=AUTHOR, now=NOON + timedelta(minutes=minute))
