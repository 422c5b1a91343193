"""Giving bundles to other devices and taking theirs: a union of journals, whichever way they travel."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import BinaryIO

from django.db import DatabaseError, transaction
from django.db.models import Q

from ...errors import SideportError
from ...exchange.bundle import Bundle, BundleError, BundleHeader, BundleLimits, read_bundle, write_bundle
from ...record.entry import Entry, Head, JournalError, follow
from ...record.kinds import check_entry
from .device import this_device
from .models import Device, JournalEntry, Task
from .services import milliseconds, own_device, store_entries

__all__ = ["BundleReport", "entries_since", "give_bundle", "take_bundle"]

CHUNK = 500
AHEAD_MS = 5 * 60 * 1000
"""A clock that runs this far ahead of ours is worth a word."""


@dataclass(frozen=True, slots=True)
class BundleReport:
    """What a bundle brought."""

    sender: str
    unit: str
    first_time: bool
    """The sender was not known before: read its name out to whoever gave you the bundle."""
    brought: int
    """Entries that were not here."""
    known: int
    """Entries that were."""
    open_tasks: int
    """Contradictions that now wait for a person."""
    clock_ahead_min: int
    """How far the newest entry is ahead of this device's clock; 0 unless one of the two is set wrong."""


def entries_since(has: Mapping[str, int]) -> Iterator[Entry]:
    """The entries that a device lacks that has so much, in the order of their stamps."""
    lacking = ~Q(device__in=list(has))
    for device, last in has.items():
        lacking |= Q(device=device, sequence__gt=last)
    for row in JournalEntry.objects.filter(lacking).order_by("stamp").iterator(chunk_size=500):
        yield row.entry()


def give_bundle(*, out: BinaryIO, to: str, now: datetime, everything: bool = False) -> int:
    """Writes a bundle for a device, of what it is not known to have.

    Parameters
    ----------
    out : binary file
        Where it goes.
    to : str
        The other device's address.
    now : datetime
        The device's clock.
    everything : bool
        True sends the whole journal, for a device that lost some of it.

    Returns
    -------
    int
        How many entries it holds.

    Raises
    ------
    WrongKeyError
        When ``to`` is not an address.
    """
    own = own_device(now=now)
    other = Device.objects.filter(address=to.strip()).exclude(address="").first()
    known: Mapping[str, int] = {} if other is None or everything else other.has
    has = dict(Device.objects.filter(sequence__gt=0).order_by("device").values_list("device", "sequence"))
    # What the other claims to have is no reason to leave a gap in what is sent.
    since = {device: min(last, has[device]) for device, last in known.items() if device in has}
    return write_bundle(out=out, entries=entries_since(since), sender=this_device(), unit=own.unit, to=to, has=has)


def take_bundle(*, source: BinaryIO, now: datetime, limits: BundleLimits | None = None) -> BundleReport:
    """Takes in a bundle: first reads all of it and checks it, then writes what is new.

    Parameters
    ----------
    source : binary file
        The bundle; it is read twice.
    now : datetime
        The device's clock.
    limits : BundleLimits or None
        What it may grow to.

    Returns
    -------
    BundleReport

    Raises
    ------
    BundleError, JournalError
        When it cannot be taken; nothing was changed.

    Notes
    -----
    What is new is written in pieces, each in one transaction and each leaving every device's chain whole. When the
    power fails in between, taking the same bundle again goes on where it stopped.
    """
    check = Checking()
    bundle = read_bundle(
        source=source, keys=this_device(), on_header=check.header, on_entry=check.entry, limits=limits
    )  # fmt: skip
    check.flush()
    source.seek(0)
    first_time = not Device.objects.filter(pk=bundle.header.device).exclude(verifying="").exists()
    writing = Writing(now)
    try:
        again = read_bundle(
            source=source, keys=this_device(), on_header=lambda _: None, on_entry=writing.entry, limits=limits
        )  # fmt: skip
        writing.flush()
    except (DatabaseError, OverflowError) as error:
        raise BundleError(
            f"The database refused an entry of the bundle ({type(error).__name__}). Tell the sender's administrator."
        ) from None
    if again != bundle:
        raise BundleError("The bundle was exchanged while it was read; take it in again.")
    remember_sender(bundle, now)
    return BundleReport(
        sender=bundle.header.device,
        unit=bundle.header.unit,
        first_time=first_time,
        brought=writing.written,
        known=bundle.entries - writing.written,
        open_tasks=Task.objects.filter(settled_by="").count(),
        clock_ahead_min=max(0, check.newest_ms - milliseconds(now) - AHEAD_MS) // 60_000,
    )


def remember_sender(bundle: Bundle, now: datetime) -> None:
    """Notes who sent it, and what that device has."""
    header = bundle.header
    with transaction.atomic():
        own_device(now=now, lock=True)
        sender, _ = Device.objects.get_or_create(pk=header.device, defaults={"first_seen": now})
        sender.verifying, sender.address, sender.unit = header.verifying, header.address, header.unit
        sender.has = dict(sorted(header.has.items()))
        sender.save(update_fields=["verifying", "address", "unit", "has"])


@dataclass(slots=True)
class Checking:
    """The first reading: every chain, every correction, nothing written."""

    heads: dict[str, Head] = field(default_factory=dict)
    seen: dict[str, Entry] = field(default_factory=dict)
    """Entries of the bundle without what they say, for those that correct them."""
    waiting: list[Entry] = field(default_factory=list)
    last_stamp: str = ""
    newest_ms: int = 0

    def header(self, header: BundleHeader) -> None:
        """Refuses a bundle from this very device: its folder was copied."""
        if header.device == this_device().device:
            raise BundleError("This bundle was made by this device itself; there is nothing to take from it.")

    def entry(self, entry: Entry) -> None:
        """Notes an entry for checking."""
        if entry.order <= self.last_stamp:
            raise BundleError("The bundle's entries are out of order; ask the sender to make it again.")
        self.last_stamp, self.newest_ms = entry.order, entry.stamp.wall_ms
        self.waiting.append(entry)
        if len(self.waiting) >= CHUNK:
            self.flush()

    def flush(self) -> None:
        """Checks what waits."""
        known = known_digests(self.waiting)
        wanted = {entry.corrects for entry in self.waiting if entry.corrects} - self.seen.keys()
        stored = {row.entry_id: row.entry() for row in JournalEntry.objects.filter(pk__in=wanted)}
        for entry in self.waiting:
            self.heads[entry.device] = next_head(self.heads.get(entry.device), entry, known)
            corrected = self.seen.get(entry.corrects or "") or stored.get(entry.corrects or "")
            if entry.corrects and corrected is None:
                raise BundleError("An entry corrects one that is not here. Ask for a bundle of everything.")
            try:
                check_entry(entry=entry, corrected=corrected)
            except SideportError as error:
                raise BundleError(f"Entry {entry.entry_id} cannot be taken: {error}") from None
            self.seen[entry.entry_id] = replace(entry, payload="")
        self.waiting = []


def known_digests(entries: list[Entry]) -> dict[str, str]:
    """Which of some entries are here, with their digests."""
    ids = [entry.entry_id for entry in entries]
    return dict(JournalEntry.objects.filter(pk__in=ids).values_list("entry_id", "digest"))


def next_head(head: Head | None, entry: Entry, known: Mapping[str, str]) -> Head:
    """The head of a device after an entry that is here already, or follows on what is here.

    Raises
    ------
    JournalError
        When it does neither.
    """
    if entry.entry_id in known:
        if known[entry.entry_id] != entry.digest:
            raise JournalError(f"Entry {entry.entry_id} is here with other words; nothing was taken.")
        return Head(entry.sequence, entry.digest)
    if head is None:
        there = Device.objects.filter(pk=entry.device).first()
        head = Head(there.sequence, there.digest) if there else Head()
        if entry.sequence <= head.sequence:
            # The place is taken by another entry: the message of `follow` about a copied folder says what to do.
            raise JournalError(
                f"Device {entry.device} wrote two different entries {entry.sequence}: its data folder was copied and "
                "both copies wrote on. Give one of them a new identity before it writes again."
            )
    return follow(head, entry)


@dataclass(slots=True)
class Writing:
    """The second reading: writes what is new."""

    now: datetime
    waiting: list[Entry] = field(default_factory=list)
    written: int = 0

    def entry(self, entry: Entry) -> None:
        """Takes an entry."""
        self.waiting.append(entry)
        if len(self.waiting) >= CHUNK:
            self.flush()

    def flush(self) -> None:
        """Writes what waits and is new, in one transaction with the tables made from it."""
        with transaction.atomic():
            own_device(now=self.now, lock=True)
            known = known_digests(self.waiting)
            new = [entry for entry in self.waiting if entry.entry_id not in known]
            for device in {entry.device for entry in new}:
                there, _ = Device.objects.get_or_create(pk=device, defaults={"first_seen": self.now})
                head = Head(there.sequence, there.digest)
                for entry in (entry for entry in new if entry.device == device):
                    head = follow(head, entry)
            if new:
                store_entries(new)
        self.written += len(new)
        self.waiting = []
