"""What follow-up writes: each call is one transaction, and everything it says goes through the journal."""

from datetime import datetime, timedelta

from django.db import transaction

from ...errors import ImpossibleInputError
from ...record.entry import Entry
from ...record.kinds import Kind, payload_text
from ...record.subject import SubjectKind, root_of, subject
from ...record.visit_said import VisitContacted, VisitMissed, VisitRecorded
from ..record.models import JournalEntry, Operation, Visit
from ..record.services import append, own_device, withdraw

__all__ = ["correct_visit", "record", "take_back", "visit_subject"]

Said = VisitRecorded | VisitMissed | VisitContacted
KINDS = {
    VisitRecorded: Kind.VISIT_RECORDED, VisitMissed: Kind.VISIT_MISSED, VisitContacted: Kind.VISIT_CONTACTED,
}  # fmt: skip
SENT_TWICE = timedelta(minutes=5)
"""The same words within this time are one entry: a form that was sent again when no answer came."""
UNSCHEDULED = "unscheduled"


def visit_subject(*, operation_id: str, due: str) -> str:
    """A visit as entries carry it: the same on every device for one operation and one visit of the schedule."""
    return subject(SubjectKind.VISIT, f"{operation_id}/{due.replace(' ', '-') or UNSCHEDULED}")


def record(*, operation: Operation, said: Said, actor: str, now: datetime) -> Entry:
    """Writes down a visit, an attempt to reach the patient, or that a visit does not take place.

    Parameters
    ----------
    operation : Operation
        Whose follow-up it is.
    said : VisitRecorded, VisitMissed or VisitContacted
        What is said.
    actor, now
        Who and when.

    Returns
    -------
    Entry
        The new entry; where the same was said a moment ago, that one, and nothing is written.

    Raises
    ------
    ImpossibleInputError
        When it speaks of another eye than the operation.
    """
    refuse_strangers(operation, said)
    kind, name = KINDS[type(said)], visit_subject(operation_id=operation.operation_id, due=said.due)
    with transaction.atomic():
        own_device(now=now, lock=True)
        again = said_a_moment_ago(unit=operation.unit, name=name, kind=kind, said=said, actor=actor, now=now)
        if again is not None:
            return again
        return append(kind=kind, subject=name, payload=said, actor=actor, now=now, unit=operation.unit)


def refuse_strangers(operation: Operation, said: Said) -> None:
    """Refuses what speaks of another person, side or operation."""
    of = (said.person_id, said.side.value, said.operation_id)
    if of != (operation.person_id, operation.side, operation.operation_id):
        raise ImpossibleInputError("A visit belongs to the person, side and operation that it is recorded under.")


def said_a_moment_ago(
    *, unit: str, name: str, kind: Kind, said: Said, actor: str, now: datetime
) -> Entry | None:  # fmt: skip
    """The same words of the same person, if they were sent a moment ago and still stand."""
    standing = Visit.objects.filter(root=root_of(unit, name)).values_list("entry_id", flat=True)
    same = JournalEntry.objects.filter(
        pk__in=list(standing), kind=kind.value, author=actor, payload=payload_text(kind, said), at__gte=now - SENT_TWICE
    )
    row = same.order_by("stamp").last()
    return row.entry() if row else None


def correct_visit(*, visit: Visit, operation: Operation, said: VisitRecorded, actor: str, now: datetime) -> Entry:
    """Corrects a recorded visit; what was said before stays in its history.

    Parameters
    ----------
    visit : Visit
        As it stands.
    operation : Operation
        Whose follow-up it is.
    said : VisitRecorded
        What should stand.
    actor, now
        Who and when.

    Returns
    -------
    Entry
        The correction; the entry that stands where nothing differs.
    """
    refuse_strangers(operation, said)
    stands = JournalEntry.objects.get(pk=visit.entry_id)
    if stands.payload == payload_text(Kind.VISIT_RECORDED, said):
        return stands.entry()
    return append(
        kind=Kind.VISIT_RECORDED, subject=stands.subject, payload=said, actor=actor, now=now, corrects=visit.entry_id,
        unit=visit.unit,
    )  # fmt: skip


def take_back(*, visit: Visit, reason: str, actor: str, now: datetime) -> Entry:
    """Says that a visit, a try or a closed visit was written down by mistake.

    Raises
    ------
    ImpossibleInputError
        When no reason is given.
    """
    if not reason.strip():
        raise ImpossibleInputError("Say in a few words why it is taken back.")
    return withdraw(entry_id=visit.entry_id, reason=reason.strip(), actor=actor, now=now)
