"""What writes about patients: each call is one transaction, and everything it says goes through the journal."""

from collections.abc import Iterable, Sequence
from dataclasses import fields, replace
from datetime import date, datetime

from django.core.exceptions import ValidationError
from django.db import transaction

from ...eye.measurement import Measurement as Reading
from ...eye.person import EyeRecord
from ...eye.person import Person as PersonFacts
from ...optics.side import Side
from ...record.doubles import Alike, Card
from ...record.entry import Entry
from ...record.identity_said import PersonAlike, PersonSame
from ...record.kinds import Kind, payload_of
from ...record.stock_said import EyeListed, Listing
from ...record.subject import SubjectKind, root_of, subject
from ...record.visit_said import FactWithdrawn
from ..record.models import Eye, JournalEntry, ListedEye, Mention, Operation, Person, Task
from ..record.queries import person_facts
from ..record.services import Draft, append, append_many, settle
from .queries import MAYBE_SAME, lookalikes, pairs_among, same_number

__all__ = [
    "TAKEN_BACK", "ask_about_doubles", "correct_person", "join_people", "list_eye", "record_findings",
    "record_readings", "register", "take_back",
]  # fmt: skip

TAKEN_BACK = frozenset({
    Kind.PERSON_REGISTERED, Kind.PERSON_CORRECTED, Kind.PERSON_SAME, Kind.EYE_FOUND, Kind.EYE_LISTED,
    Kind.MEASUREMENT_TAKEN,
})  # fmt: skip
"""What may be taken back here; what happened in theatre or at a visit is taken back where it was recorded."""
FINDINGS = tuple(field.name for field in fields(EyeRecord) if field.name not in {"side", "listed", "measurements"})


def name_of(person_id: str) -> str:
    """The person as entries carry it."""
    return subject(SubjectKind.PERSON, person_id)


def register(*, unit: str, person: PersonFacts, told_apart: bool, actor: str, now: datetime) -> Entry:
    """Puts a person on the register.

    Parameters
    ----------
    unit : str
        Whose register.
    person : Person
        Without eyes.
    told_apart : bool
        Whether whoever registers says that the people who look alike are others; else a task asks somebody.
    actor, now
        Who and when.

    Returns
    -------
    Entry
        The registration.

    Raises
    ------
    ValidationError
        When the number is taken.
    """
    with transaction.atomic():
        taken = same_number(unit=unit, number=person.person_id)
        if taken is not None:
            raise ValidationError(
                f"Number {taken.person_id} is taken already. Give this person another, or open that one."
            )
        card = Card(person.person_id, person.name, person.age_years, person.sex, person.phone, person.place)
        pairs = [pair for _, pair in lookalikes(unit=unit, card=card)]
        entry = append(kind=Kind.PERSON_REGISTERED, subject=name_of(person.person_id), payload=person, actor=actor,
                       now=now, unit=unit)  # fmt: skip
        note_pairs(unit=unit, pairs=pairs, actor=actor, now=now)
        if told_apart:
            for task in Task.objects.filter(unit=unit, code=MAYBE_SAME, settled_by="", subject__in=names_in(pairs)):
                if pair_in(task, pairs):
                    settle(task=task, keep=None, words="Told apart when registering.", actor=actor, now=now)
    return entry


def names_in(pairs: Iterable[Alike]) -> list[str]:
    """The subjects that the tasks about pairs stand on."""
    return [name_of(pair.person_id) for pair in pairs]


def pair_in(task: Task, pairs: Iterable[Alike]) -> bool:
    """Whether a task asks about one of the pairs."""
    others = {payload_of(row.entry()).person_id for row in JournalEntry.objects.filter(pk__in=task.entries)}
    return any(task.subject == name_of(pair.person_id) and pair.other in others for pair in pairs)


def note_pairs(*, unit: str, pairs: Iterable[Alike], actor: str, now: datetime) -> None:
    """Writes down who looks like whom; each becomes a task by itself."""
    drafts = [Draft(Kind.PERSON_ALIKE, name_of(pair.person_id), PersonAlike(pair.other, pair.why)) for pair in pairs]
    if drafts:
        append_many(drafts=drafts, actor=actor, now=now, unit=unit)


def ask_about_doubles(*, unit: str, of: Iterable[str] | None, actor: str, now: datetime) -> int:
    """Looks through the register for people registered twice; returns how many new questions there are.

    Parameters
    ----------
    unit : str
        Whose register.
    of : iterable of str or None
        Numbers to look for; ``None`` looks at everybody.
    actor, now
        Who and when.
    """
    with transaction.atomic():
        pairs = pairs_among(unit=unit, of=of)
        note_pairs(unit=unit, pairs=pairs, actor=actor, now=now)
    return len(pairs)


def correct_person(*, person: Person, said: PersonFacts, actor: str, now: datetime) -> Entry | None:
    """Corrects who somebody is; ``None`` when nothing differs.

    Parameters
    ----------
    person : Person
        The row.
    said : Person
        Right, without eyes, under the same number.
    actor, now
        Who and when.
    """
    before = replace(person_facts(person), eyes=())
    if said == before:
        return None
    return append(kind=Kind.PERSON_CORRECTED, subject=name_of(person.person_id), payload=said, actor=actor, now=now,
                  corrects=person.entry_id, unit=person.unit)  # fmt: skip


def record_findings(*, person: Person, said: EyeRecord, actor: str, now: datetime) -> Entry | None:
    """Writes down what was found of an eye; only what is new or different. ``None`` when that is nothing."""
    before = person_facts(person).eye(said.side)
    new = {
        name: getattr(said, name)
        for name in FINDINGS
        if getattr(said, name) not in (None, "") and (before is None or getattr(before, name) != getattr(said, name))
    }
    if not new:
        return None
    payload = replace(EyeRecord(said.side, listed=False), **new)
    return append(kind=Kind.EYE_FOUND, subject=name_of(person.person_id), payload=payload, actor=actor, now=now,
                  unit=person.unit)  # fmt: skip


def record_readings(
    *, person: Person, readings: Sequence[Reading], actor: str, now: datetime, corrects: str | None = None
) -> tuple[Entry, ...]:
    """Writes down readings of an eye, all or none; with ``corrects`` the one reading that mends that entry."""
    name = name_of(person.person_id)
    drafts = [Draft(Kind.MEASUREMENT_TAKEN, name, reading, corrects) for reading in readings]
    return append_many(drafts=drafts, actor=actor, now=now, unit=person.unit) if drafts else ()


def list_eye(*, person: Person, side: Side, day: date, on: bool, actor: str, now: datetime) -> Entry:
    """Puts an eye on a day's list, last, or takes it off; the latest word holds.

    Raises
    ------
    ValidationError
        When the person is a second registration of somebody else.
    """
    if on and person.same_as:
        raise ValidationError("This number is a second registration. Put the eye on the list under the number kept.")
    with transaction.atomic():
        last = ListedEye.objects.filter(unit=person.unit, day=day).order_by("-position").first()
        own = ListedEye.objects.filter(person=person, day=day).first()
        position = own.position if own else last.position + 1 if last else 0
        listing = Listing.LISTED if on else Listing.OFF
        said = EyeListed(side, day, listing, position if on else 0)
        return append(kind=Kind.EYE_LISTED, subject=name_of(person.person_id), payload=said, actor=actor, now=now,
                      unit=person.unit)  # fmt: skip


def take_back(*, person: Person, entry_ids: Sequence[str], reason: str, actor: str, now: datetime) -> tuple[Entry, ...]:
    """Takes back what was written about a person by mistake: an entry is withdrawn, a correction is undone.

    Raises
    ------
    ValidationError
        When an entry cannot be taken back here, or no longer holds, or more stands on it.
    """
    root = root_of(person.unit, name_of(person.person_id))
    mentioned = Mention.objects.filter(root=root, entry_id__in=entry_ids).select_related("entry")
    rows = [mention.entry for mention in mentioned]
    if len(rows) != len(set(entry_ids)) or any(row.kind not in {*TAKEN_BACK} for row in rows):
        raise ValidationError("This cannot be taken back here. Open it where it was recorded.")
    if JournalEntry.objects.filter(corrects__in=entry_ids).exists():
        raise ValidationError("This was corrected or taken back since. Open the history to see what stands now.")
    registering = Kind.PERSON_REGISTERED in {row.kind for row in rows}
    if registering and (Eye.objects.filter(person=person).exists() or Operation.objects.filter(person_key=person.key)):
        raise ValidationError("Eyes are on the record under this number. Take their entries back first.")
    drafts = [undoing(row.entry(), reason) for row in rows]
    return append_many(drafts=drafts, actor=actor, now=now, unit=person.unit)


def undoing(entry: Entry, reason: str) -> Draft:
    """What undoes an entry: what it corrected is said again, or it is withdrawn where it corrected nothing."""
    if entry.corrects is None:
        return Draft(Kind.FACT_WITHDRAWN, entry.subject, FactWithdrawn(reason), entry.entry_id)
    before = JournalEntry.objects.get(pk=entry.corrects).entry()
    return Draft(Kind(entry.kind), entry.subject, payload_of(before), entry.entry_id)


def join_people(*, task: Task, kept: Person, other: Person, words: str, actor: str, now: datetime) -> tuple[Entry, ...]:
    """Says that two numbers are one person: what is known goes on under the number that is kept.

    Parameters
    ----------
    task : Task
        The open question.
    kept, other : Person
        The number that is kept, and the one that was given a second time.
    words : str
        How it was found out.
    actor, now
        Who and when.

    Raises
    ------
    ValidationError
        When one of the two is joined to somebody already.

    Notes
    -----
    Findings and readings of the other number are said again under the kept one where that one lacks them; the other
    number gives its places on lists still to come to the kept one. Its operations and visits stay where they are and
    are shown with both. Nothing is removed: taking the answer back parts the two again, and leaves the copies to be
    taken back one by one, since somebody may have built on them.
    """
    if kept.same_as or other.same_as:
        raise ValidationError("One of the two is joined to somebody already. Open it first.")
    with transaction.atomic():
        settle(task=task, keep=None, words=words, actor=actor, now=now)
        drafts = [
            Draft(Kind.PERSON_SAME, name_of(other.person_id), PersonSame(kept.person_id, words)),
            *carried_over(kept, other),
            *moved_lists(kept, other, now.date()),
        ]
        return append_many(drafts=drafts, actor=actor, now=now, unit=kept.unit)


def carried_over(kept: Person, other: Person) -> list[Draft]:
    """Findings and readings that only the other number has."""
    there, name = person_facts(kept), name_of(kept.person_id)
    drafts = []
    for eye in person_facts(other).eyes:
        own = there.eye(eye.side)
        lacking = [field for field in FINDINGS if own is None or getattr(own, field) in (None, "")]
        new = {field: getattr(eye, field) for field in lacking if getattr(eye, field) not in (None, "")}
        if new:
            drafts.append(Draft(Kind.EYE_FOUND, name, replace(EyeRecord(eye.side, listed=False), **new)))
        known = own.measurements if own else ()
        drafts += [Draft(Kind.MEASUREMENT_TAKEN, name, reading) for reading in eye.measurements if reading not in known]
    return drafts


def moved_lists(kept: Person, other: Person, today: date) -> list[Draft]:
    """Takes the second number off every list still to come, and puts the kept one on where it was not."""
    drafts = []
    own = {(row.day, row.side) for row in listed_from(kept, today)}
    for row in listed_from(other, today):
        side = Side(row.side)
        drafts.append(Draft(Kind.EYE_LISTED, name_of(other.person_id), EyeListed(side, row.day, Listing.OFF)))
        if (row.day, row.side) not in own:
            said = EyeListed(side, row.day, Listing(row.listing), row.position)
            drafts.append(Draft(Kind.EYE_LISTED, name_of(kept.person_id), said))
    return drafts


def listed_from(person: Person, today: date) -> list[ListedEye]:
    """Where a person stands on the lists of today and later."""
    rows = ListedEye.objects.filter(person=person, day__gte=today).exclude(listing=Listing.OFF.value)
    return list(rows.order_by("day", "side"))
