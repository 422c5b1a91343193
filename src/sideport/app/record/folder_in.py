"""A folder's day into the journal: only what is new or different becomes an entry."""

import hashlib
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields, replace
from datetime import datetime
from typing import Any

from django.db import transaction

from ...day.settings import DayRequest
from ...eye.measurement import Measurement as Reading
from ...eye.measurement import Method, Quantity
from ...eye.person import EyeRecord
from ...eye.person import Person as PersonFacts
from ...lens.model import LensModel as LensFacts
from ...optics.side import Side
from ...record.canonical import canonical
from ...record.kinds import Kind, payload_of
from ...record.persons import FINDINGS
from ...record.plain import plain_of, read_plain
from ...record.stock_said import BoxMoved, BoxReceived, DaySet, EyeListed, FolderRead, Listing, Move
from ...record.subject import SubjectKind, root_of, subject
from ...risk.team import Surgeon as SurgeonFacts
from ...shelf.box import Box as BoxFacts
from .models import Box, Day, JournalEntry, LensModel, ListedEye, Measurement, Mention, Person, Surgeon
from .project import batches
from .queries import person_facts
from .services import Draft, append_many

__all__ = ["ImportReport", "import_request", "request_digest"]

BATCH = 200
LABEL = tuple(field.name for field in fields(BoxFacts) if field.name != "count")


@dataclass(frozen=True, slots=True)
class ImportReport:
    """What reading in a folder added."""

    added: dict[str, int]
    """Entries by kind; empty when the folder was read in before."""
    boxes_not_listed: int
    """Boxes with lenses on the record that the folder's shelf does not hold; they stay until they are counted."""


def request_digest(request: DayRequest) -> str:
    """A digest of all that a plan is made from; equal for equal requests."""
    plain = plain_of(DayRequest, request)
    for lens in plain["lenses"]:
        lens["placements"].sort()
    for surgeon in plain["team"]:
        surgeon["techniques"].sort()
    return hashlib.sha256(canonical(plain).encode()).hexdigest()


def import_request(*, request: DayRequest, actor: str, now: datetime) -> ImportReport:
    """Writes what a folder says as entries.

    Parameters
    ----------
    request : DayRequest
        As read from a folder.
    actor : str
        Who reads it in.
    now : datetime
        The device's clock.

    Returns
    -------
    ImportReport

    Raises
    ------
    ImpossibleInputError
        When something in it cannot be kept; nothing is written.

    Notes
    -----
    The same folder twice adds nothing. A folder that was mended adds corrections: of a person's details, of a reading
    with the same method and number, of a label. What a box holds is counted anew only when the folder's count changed
    since it was last read in, because lenses that were used since are already on the record. A cell that is now empty
    takes nothing back.
    """
    unit, name = request.settings.unit, subject(SubjectKind.FOLDER, request_digest(request))
    with transaction.atomic():
        if Mention.objects.filter(root=root_of(unit, name)).exists():
            return ImportReport({}, not_listed(unit, request))
        drafts = [
            *unit_drafts(unit, request),
            *people_drafts(unit, request),
            *listing_drafts(unit, request),
            Draft(Kind.FOLDER_READ, name, FolderRead(name.partition("/")[2], len(request.people), len(request.boxes))),
        ]
        append_many(drafts=drafts, actor=actor, now=now, unit=unit)
    added = Counter(draft.kind.value for draft in drafts)
    return ImportReport(dict(sorted(added.items())), not_listed(unit, request))


def not_listed(unit: str, request: DayRequest) -> int:
    """Boxes on the record that the folder does not name."""
    listed = {box.box_id for box in request.boxes}
    there = Box.objects.filter(unit=unit, count__gt=0).values_list("box_id", flat=True)
    return sum(box_id not in listed for box_id in there)


def unit_drafts(unit: str, request: DayRequest) -> Iterator[Draft]:
    """The team, the lens models, the shelf and the day."""
    team = {row.name: read_plain(SurgeonFacts, row.facts) for row in Surgeon.objects.filter(unit=unit)}
    for surgeon in request.team:
        if team.get(surgeon.name) != surgeon:
            yield Draft(Kind.SURGEON_LISTED, subject(SubjectKind.SURGEON, surgeon.name), surgeon)
    lenses = {row.name: read_plain(LensFacts, row.facts) for row in LensModel.objects.filter(unit=unit)}
    for lens in request.lenses:
        if lenses.get(lens.name) != lens:
            yield Draft(Kind.LENS_LISTED, subject(SubjectKind.LENS, lens.name), lens)
    yield from box_drafts(unit, request.boxes)
    said = DaySet(
        request.settings, tuple(each.name for each in request.team), tuple(each.name for each in request.lenses)
    )  # fmt: skip
    day = Day.objects.filter(unit=unit, day=request.settings.day).first()
    if day is None or read_plain(DaySet, day.facts) != said:
        yield Draft(Kind.DAY_SET, subject(SubjectKind.DAY, request.settings.day), said)


def box_drafts(unit: str, boxes: Iterable[BoxFacts]) -> Iterator[Draft]:
    """New boxes, mended labels, changed counts."""
    rows = {row.box_id: row for row in Box.objects.filter(unit=unit)}
    for box in boxes:
        name, row = subject(SubjectKind.BOX, box.box_id), rows.get(box.box_id)
        if row is None:
            receipt = "list " + hashlib.sha256(canonical(plain_of(BoxFacts, box)).encode()).hexdigest()[:16]
            yield Draft(Kind.BOX_RECEIVED, name, BoxReceived(box, receipt))
            continue
        if any(getattr(row, field) != getattr(box, field) for field in LABEL):
            received: BoxReceived = payload_of(JournalEntry.objects.get(pk=row.entry_id).entry())
            mended = replace(received, box=replace(box, count=received.box.count))
            yield Draft(Kind.BOX_RECEIVED, name, mended, corrects=row.entry_id)
        if row.stated != box.count:
            yield Draft(Kind.BOX_MOVED, name, BoxMoved(Move.COUNTED, box.count, reason="the shelf's list says so"))


def people_drafts(unit: str, request: DayRequest) -> Iterator[Draft]:
    """Everybody on the register, with both eyes and all readings."""
    for batch in batches(request.people, BATCH):
        roots = [root_of(unit, subject(SubjectKind.PERSON, person.person_id)) for person in batch]
        rows = Person.objects.in_bulk(roots)
        readings: dict[str, list[Measurement]] = defaultdict(list)
        for row in Measurement.objects.filter(root__in=roots).select_related("eye").order_by("first"):
            readings[row.root].append(row)
        for person, root in zip(batch, roots, strict=True):
            yield from person_drafts(person, rows.get(root), readings[root])


def person_drafts(person: PersonFacts, row: Person | None, readings: list[Measurement]) -> Iterator[Draft]:
    """What is new about one person."""
    name = subject(SubjectKind.PERSON, person.person_id)
    details = replace(person, eyes=())
    there = person_facts(row) if row else None
    if row is None or there is None:
        yield Draft(Kind.PERSON_REGISTERED, name, details)
    elif replace(there, eyes=()) != details:
        yield Draft(Kind.PERSON_CORRECTED, name, details, corrects=row.entry_id)
    for eye in person.eyes:
        before = there.eye(eye.side) if there else None
        changed = findings_changed(eye, before)
        if before is None or changed:
            yield Draft(Kind.EYE_FOUND, name, replace(EyeRecord(eye.side, listed=False), **changed))
        own = [reading for reading in readings if reading.eye.side == eye.side.value]
        yield from reading_drafts(name, eye, own)


def findings_changed(eye: EyeRecord, before: EyeRecord | None) -> dict[str, Any]:
    """What the folder says of an eye that the record does not."""
    said = {name: getattr(eye, name) for name in FINDINGS}
    return {
        name: value
        for name, value in said.items()
        if value not in (None, "") and (before is None or getattr(before, name) != value)
    }


def reading_drafts(name: str, eye: EyeRecord, rows: list[Measurement]) -> Iterator[Draft]:
    """Readings that are new, or that correct one with the same quantity, method and number."""
    left = [(reading_of(row), row.entry_id) for row in rows]
    new = []
    for reading in eye.measurements:
        found = next((pair for pair in left if pair[0] == reading), None)
        if found:
            left.remove(found)
        else:
            new.append(reading)
    for reading in new:
        same = next((pair for pair in left if slot(pair[0]) == slot(reading)), None)
        if same:
            left.remove(same)
        yield Draft(Kind.MEASUREMENT_TAKEN, name, reading, corrects=same[1] if same else None)


def slot(reading: Reading) -> tuple[object, ...]:
    """What two readings share of which one mends the other."""
    return reading.quantity, reading.method, reading.reading


def reading_of(row: Measurement) -> Reading:
    """A reading as the eye's room knows it."""
    return Reading(
        Side(row.eye.side), Quantity(row.quantity), row.value, Method(row.method), row.axis_deg, row.reading,
        row.taken_on, row.as_written,
    )  # fmt: skip


def listing_drafts(unit: str, request: DayRequest) -> Iterator[Draft]:
    """Who is on the day's register and list, and who no longer is."""
    day = request.settings.day
    there = {
        (row.person.person_id, row.side): (row.listing, row.position)
        for row in ListedEye.objects.filter(unit=unit, day=day).select_related("person")
    }
    wanted = {
        (person.person_id, eye.side.value): (Listing.LISTED if eye.listed else Listing.REGISTER, position)
        for position, person in enumerate(request.people)
        for eye in person.eyes
    }
    gone = {key: (Listing.OFF, 0) for key, (was, _) in there.items() if key not in wanted and was != Listing.OFF.value}
    for (person_id, side), (listing, position) in (wanted | gone).items():
        if there.get((person_id, side)) != (listing.value, position):
            said = EyeListed(Side(side), day, listing, position)
            yield Draft(Kind.EYE_LISTED, subject(SubjectKind.PERSON, person_id), said)
