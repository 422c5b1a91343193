"""One entry of the journal, and the chain that the entries of a device form."""

import hashlib
import re
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from ..errors import SideportError
from .canonical import canonical, parse_json
from .clock import Stamp, parse_stamp

__all__ = ["Entry", "Head", "JournalError", "entry_from_line", "entry_id_at", "follow", "seal", "verify_chain"]

DIGEST = re.compile(r"[0-9a-f]{64}")
ENTRY_ID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}")
NAMES = ("unit", "device", "author", "kind", "subject")
LONGEST_NAME = 400


class JournalError(SideportError):
    """An entry or a chain that was changed, cut or forged; nothing was taken from it."""


@dataclass(frozen=True, slots=True)
class Entry:
    """A fact as it was written down: never changed, never removed."""

    entry_id: str
    """UUID version 7, so that ids sort by time."""
    unit: str
    device: str
    sequence: int
    """1 for the device's first entry, then without a gap."""
    author: str
    stamp: Stamp
    """Its place in the order of everything."""
    at: datetime
    """What the device's own clock said, in UTC."""
    kind: str
    version: int
    """Of the payload's form, by kind."""
    subject: str
    payload: str
    """Canonical JSON."""
    corrects: str | None
    """The entry that this one corrects or withdraws."""
    previous: str
    """Digest of the device's previous entry; zeros for its first."""
    digest: str
    """SHA-256 of all of the above as canonical JSON."""

    @property
    def order(self) -> str:
        """The stamp as text; sorts as the stamp does."""
        return str(self.stamp)

    def line(self) -> str:
        """The entry as one line of JSON, without the line end."""
        return canonical(body_of(self) | {"digest": self.digest})


@dataclass(frozen=True, slots=True)
class Head:
    """How far a device's chain is known."""

    sequence: int = 0
    digest: str = "0" * 64


def entry_id_at(*, wall_ms: int, random: bytes) -> str:
    """A UUID version 7 (RFC 9562, section 5.7).

    Parameters
    ----------
    wall_ms : int
        Milliseconds since 1970.
    random : bytes
        Ten random bytes.

    Returns
    -------
    str
        36 characters, lower case.

    Example
    -------
    >>> entry_id_at(wall_ms=0x017F22E279B0, random=bytes.fromhex("0cc318c4dc0c0c07398f"))
    '017f22e2-79b0-7cc3-98c4-dc0c0c07398f'
    """
    value = (wall_ms << 80) | int.from_bytes(random, "big")
    value = value & ~(0xF << 76) | (0x7 << 76)
    value = value & ~(0x3 << 62) | (0x2 << 62)
    digits = f"{value:032x}"
    return "-".join((digits[:8], digits[8:12], digits[12:16], digits[16:20], digits[20:]))


def seal(
    *, head: Head, stamp: Stamp, entry_id: str, unit: str, author: str, at: datetime, kind: str, version: int,
    subject: str, payload: str, corrects: str | None,
) -> Entry:  # fmt: skip
    """The next entry of a device's chain, closed with its digest.

    Parameters
    ----------
    head : Head
        The device's last entry.
    stamp : Stamp
        Of the new entry; carries the device.
    entry_id : str
        From `entry_id_at`.
    unit, author : str
        Where and who.
    at : datetime
        What the device's clock says; with a time zone.
    kind, version, subject, payload
        What is said, of what, in which form.
    corrects : str or None
        The entry that it corrects.

    Returns
    -------
    Entry
    """
    open_entry = Entry(
        entry_id=entry_id, unit=unit, device=stamp.device, sequence=head.sequence + 1, author=author, stamp=stamp,
        at=at.astimezone(UTC), kind=kind, version=version, subject=subject, payload=payload, corrects=corrects,
        previous=head.digest, digest="",
    )  # fmt: skip
    return Entry(**{name: getattr(open_entry, name) for name in Entry.__slots__} | {"digest": digest_of(open_entry)})


def body_of(entry: Entry) -> dict[str, Any]:
    """Everything but the digest, as plain values."""
    return {
        "entry_id": entry.entry_id,
        "unit": entry.unit,
        "device": entry.device,
        "sequence": entry.sequence,
        "author": entry.author,
        "stamp": str(entry.stamp),
        "at": entry.at.isoformat(timespec="microseconds"),
        "kind": entry.kind,
        "version": entry.version,
        "subject": entry.subject,
        "payload": parse_json(entry.payload),
        "corrects": entry.corrects,
        "previous": entry.previous,
    }


def digest_of(entry: Entry) -> str:
    """The digest that the entry must carry."""
    return hashlib.sha256(canonical(body_of(entry)).encode()).hexdigest()


def entry_from_line(line: str | bytes) -> Entry:
    """An entry from its line, checked against its digest.

    Raises
    ------
    JournalError
        When the line is not an entry, or one that was changed.
    """
    try:
        value = parse_json(line)
        entry = read_body(value)
    except (SideportError, LookupError, TypeError, ValueError, OverflowError):
        raise JournalError("A line is not an entry of the journal; ask for the bundle again.") from None
    if digest_of(entry) != entry.digest:
        raise JournalError(f"Entry {entry.entry_id} was changed after it was written; ask for the bundle again.")
    return entry


def read_body(value: dict[str, Any]) -> Entry:
    """The entry of plain values; anything odd raises."""
    entry = Entry(
        **{name: value[name] for name in Entry.__slots__ if name not in {"stamp", "at", "payload"}},
        stamp=parse_stamp(value["stamp"]),
        at=datetime.fromisoformat(value["at"]).astimezone(UTC),
        payload=canonical(value["payload"]),
    )
    texts_fit = all(type(text) is str and 0 < len(text) <= LONGEST_NAME for text in (getattr(entry, n) for n in NAMES))
    numbers_fit = type(entry.sequence) is int and 0 < entry.sequence < 1 << 53 and type(entry.version) is int
    digests_fit = DIGEST.fullmatch(entry.digest) and DIGEST.fullmatch(entry.previous)
    ids_fit = ENTRY_ID.fullmatch(entry.entry_id) and (entry.corrects is None or ENTRY_ID.fullmatch(entry.corrects))
    small = 0 < entry.version < 1 << 15
    if not (texts_fit and numbers_fit and digests_fit and ids_fit and small) or entry.device != entry.stamp.device:
        raise ValueError(entry.entry_id)
    return entry


def follow(head: Head, entry: Entry) -> Head:
    """The head after an entry that must be the next of its device.

    Raises
    ------
    JournalError
        When an entry is missing between them, or two different ones claim the same place.
    """
    if entry.sequence != head.sequence + 1:
        raise JournalError(
            f"Device {entry.device}: entry {head.sequence + 1} should come next, but {entry.sequence} was found. "
            "Ask for a bundle that begins earlier."
        )
    if entry.previous != head.digest:
        raise JournalError(
            f"Device {entry.device} wrote two different entries {entry.sequence - 1}: its data folder was copied and "
            "both copies wrote on. Give one of them a new identity before it writes again."
        )
    return Head(entry.sequence, entry.digest)


def verify_chain(entries: list[Entry], head: Head | None = None) -> Head:
    """Checks the digests and links of one device's entries, in their order.

    Parameters
    ----------
    entries : list of Entry
        By rising sequence.
    head : Head or None
        What comes before them; ``None`` from the device's first entry on.

    Returns
    -------
    Head
        After the last of them.

    Raises
    ------
    JournalError
        At the first entry that was changed or does not follow.
    """
    at = head or Head()
    for entry in entries:
        if digest_of(entry) != entry.digest:
            raise JournalError(f"Entry {entry.sequence} of device {entry.device} was changed after it was written.")
        at = follow(at, entry)
    return at
