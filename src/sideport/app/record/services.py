"""What writes the journal. Each call is one transaction with the tables that are made from it."""

import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from django.db import transaction
from django.db.models import Max

from ...errors import ImpossibleInputError
from ...record.clock import Stamp, parse_stamp, tick
from ...record.entry import Entry, Head, JournalError, entry_id_at, seal, verify_chain
from ...record.kinds import CATALOGUE, Kind, check_entry, payload_text
from ...record.subject import split_subject
from ...record.visit_said import ConflictSettled, FactWithdrawn
from .device import this_device
from .models import Device, JournalEntry, Task
from .project import batches, clear_projections, mention_all, note_mentions, project

__all__ = [
    "Draft", "append", "append_many", "own_device", "rebuild", "settle", "store_entries", "verify_journal", "withdraw",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Draft:
    """An entry that is still to be written."""

    kind: Kind
    subject: str
    payload: object
    """Of the class that the catalogue names for the kind."""
    corrects: str | None = None


def append(
    *, kind: Kind, subject: str, payload: object, actor: str, now: datetime, corrects: str | None = None,
    unit: str | None = None,
) -> Entry:  # fmt: skip
    """Writes one entry, and with it the tables that are made from the journal.

    Parameters
    ----------
    kind : Kind
        What is said.
    subject : str
        Of what; from `sideport.record.subject`.
    payload : object
        Of the class that the catalogue names for the kind.
    actor : str
        Who says it.
    now : datetime
        The device's clock, with a time zone.
    corrects : str or None
        The entry that this one corrects.
    unit : str or None
        Where it belongs; ``None`` for this device's own unit.

    Returns
    -------
    Entry
        As it stands in the journal. When this returns outside any other transaction, the entry is on the disk.

    Raises
    ------
    ImpossibleInputError
        When it cannot be kept, with what to do; nothing is written.
    """
    return append_many(drafts=[Draft(kind, subject, payload, corrects)], actor=actor, now=now, unit=unit)[0]


def append_many(*, drafts: Sequence[Draft], actor: str, now: datetime, unit: str | None = None) -> tuple[Entry, ...]:
    """Writes several entries in one transaction: all of them or none.

    Parameters
    ----------
    drafts : sequence of Draft
        In the order in which they are said.
    actor, now, unit
        As for `append`.

    Returns
    -------
    tuple of Entry

    Raises
    ------
    ImpossibleInputError
        When one of them cannot be kept; none is written.
    """
    if now.tzinfo is None:
        raise ImpossibleInputError("The time of an entry needs a time zone.")
    if not actor.strip():
        raise ImpossibleInputError("An entry needs somebody who says it.")
    with transaction.atomic():
        device = own_device(now=now, lock=True)
        belongs = unit or device.unit
        if not belongs:
            raise ImpossibleInputError("This device belongs to no unit yet. Read in the unit's folder first.")
        head, stamp = Head(device.sequence, device.digest), newest_stamp()
        entries: list[Entry] = []
        for draft in drafts:
            stamp = tick(stamp, device=device.device, now_ms=milliseconds(now))
            entry = seal(
                head=head, stamp=stamp, entry_id=entry_id_at(wall_ms=stamp.wall_ms, random=secrets.token_bytes(10)),
                unit=belongs, author=actor, at=now, kind=draft.kind.value, version=CATALOGUE[draft.kind].version,
                subject=draft.subject, payload=payload_text(draft.kind, draft.payload), corrects=draft.corrects,
            )  # fmt: skip
            split_subject(entry.subject)
            head = Head(entry.sequence, entry.digest)
            entries.append(entry)
        store_entries(entries)
        Device.objects.filter(pk=device.pk).update(unit=belongs if not device.unit else device.unit)
    return tuple(entries)


def milliseconds(now: datetime) -> int:
    """Since 1970, in UTC."""
    return int(now.timestamp() * 1000)


def own_device(*, now: datetime, lock: bool = False) -> Device:
    """This device's row; locked, everything that writes the journal waits for each other."""
    keys = this_device()
    made = {"verifying": keys.verifying, "address": keys.address, "first_seen": now}
    Device.objects.get_or_create(pk=keys.device, defaults=made)
    rows = Device.objects.select_for_update() if lock else Device.objects.all()
    return rows.get(pk=keys.device)


def newest_stamp() -> Stamp | None:
    """The greatest stamp in the journal."""
    newest = JournalEntry.objects.aggregate(newest=Max("stamp"))["newest"]
    return parse_stamp(newest) if newest else None


def store_entries(entries: Sequence[Entry]) -> None:
    """Puts sealed entries into the journal and works out what they touch; inside the caller's transaction.

    Raises
    ------
    ImpossibleInputError, JournalError
        When an entry says what it may not, or corrects one that is not here.
    """
    check_entries(entries)
    JournalEntry.objects.bulk_create([JournalEntry.of(entry) for entry in entries], batch_size=500)
    heads = {entry.device: entry for entry in entries}
    for name, last in heads.items():
        Device.objects.filter(pk=name).update(sequence=last.sequence, digest=last.digest)
    project(sorted(note_mentions(entries).items()))


def check_entries(entries: Sequence[Entry]) -> None:
    """Refuses what says something of the wrong thing, or corrects an entry that is not here."""
    wanted = {entry.corrects for entry in entries if entry.corrects}
    known = {row.entry_id: row.entry() for row in JournalEntry.objects.filter(pk__in=wanted)}
    for entry in entries:
        corrected = known.get(entry.corrects or "")
        if entry.corrects and corrected is None:
            raise JournalError(
                f"Entry {entry.entry_id} corrects entry {entry.corrects}, which is not here. "
                "Ask for a bundle of everything."
            )
        check_entry(entry=entry, corrected=corrected)
        known[entry.entry_id] = entry


def withdraw(*, entry_id: str, reason: str, actor: str, now: datetime) -> Entry:
    """Says that what an entry says did not happen.

    Raises
    ------
    ImpossibleInputError
        When there is no such entry.
    """
    row = JournalEntry.objects.filter(pk=entry_id).first()
    if row is None:
        raise ImpossibleInputError(f"The journal has no entry {entry_id[:60]!r}.")
    return append(
        kind=Kind.FACT_WITHDRAWN, subject=row.subject, payload=FactWithdrawn(reason), actor=actor, now=now,
        corrects=entry_id, unit=row.unit,
    )  # fmt: skip


def settle(*, task: Task, keep: str | None, words: str, actor: str, now: datetime) -> Entry:
    """Settles a contradiction.

    Parameters
    ----------
    task : Task
        The open task.
    keep : str or None
        The entry that holds; ``None`` when all of them stand.
    words : str
        What was found out.
    actor, now
        As for `append`.

    Returns
    -------
    Entry

    Raises
    ------
    ImpossibleInputError
        When ``keep`` is none of the task's entries, or nothing is said.
    """
    if keep is not None and keep not in task.entries:
        raise ImpossibleInputError("Choose one of the entries that contradict each other, or let all of them stand.")
    if not words.strip():
        raise ImpossibleInputError("Say in a few words what was found out.")
    said = ConflictSettled(conflict=task.key, code=task.code, entries=tuple(task.entries), keep=keep, words=words)
    return append(
        kind=Kind.CONFLICT_SETTLED, subject=task.subject, payload=said, actor=actor, now=now, unit=task.unit
    )  # fmt: skip


def rebuild() -> int:
    """Makes every table that is made from the journal anew; returns how many subjects there are.

    Raises
    ------
    JournalError
        When the journal itself was damaged; nothing is changed then.
    """
    with transaction.atomic():
        own_device(now=datetime.now(UTC), lock=True)
        verify_journal()
        clear_projections()
        touched = mention_all()
        project(touched)
    return len(touched)


def verify_journal() -> int:
    """Checks every digest and link of every device's chain; returns the number of entries.

    Raises
    ------
    JournalError
        At the first entry that was changed, or is missing.
    """
    count = 0
    for name in JournalEntry.objects.order_by("device").values_list("device", flat=True).distinct():
        head = Head()
        stored = JournalEntry.objects.filter(device=name).order_by("sequence").iterator(chunk_size=1000)
        for batch in batches(stored, 1000):
            head = verify_chain([row.entry() for row in batch], head)
        count += head.sequence
    return count
