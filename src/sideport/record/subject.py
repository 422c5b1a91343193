"""What an entry speaks of: a kind of thing and its name within one unit."""

import hashlib
from datetime import date
from enum import StrEnum

from ..errors import ImpossibleInputError

__all__ = ["SubjectKind", "root_of", "split_subject", "subject"]

LONGEST = 300


class SubjectKind(StrEnum):
    """The things that have a history of their own."""

    PERSON = "person"
    """By the number on the unit's register; both eyes, their findings and readings belong to it."""
    BOX = "box"
    SURGEON = "surgeon"
    LENS = "lens"
    """A lens model."""
    DAY = "day"
    """By the date."""
    PLAN = "plan"
    """By the digest of its document."""
    OPERATION = "operation"
    VISIT = "visit"
    FOLDER = "folder"
    """A folder that was read in, by the digest of what it held."""


def subject(kind: SubjectKind, name: str | date) -> str:
    """The subject as entries carry it: ``person/P-017``.

    Raises
    ------
    ImpossibleInputError
        When the name is empty, too long, or has spaces at an end.
    """
    written = name.isoformat() if isinstance(name, date) else name
    if not written or written != written.strip() or len(written) > LONGEST:
        raise ImpossibleInputError(
            f"A {kind.value} needs a name of 1 to {LONGEST} characters without spaces at its ends."
        )
    return f"{kind.value}/{written}"


def split_subject(written: str) -> tuple[SubjectKind, str]:
    """Kind and name of a subject, the inverse of ``subject``.

    Raises
    ------
    ImpossibleInputError
        When the text is not a subject of a kind that is known.
    """
    kind, _, name = written.partition("/")
    try:
        known = SubjectKind(kind)
    except ValueError:
        raise ImpossibleInputError(f"{written[:60]!r} is not a subject of the record.") from None
    subject(known, name)
    return known, name


def root_of(unit: str, written: str) -> str:
    """A short name for a unit's subject that is the same on every device and says nothing about the patient.

    Returns
    -------
    str
        32 hexadecimal digits, safe in an address.
    """
    return hashlib.sha256(f"{unit}\0{written}".encode()).hexdigest()[:32]
