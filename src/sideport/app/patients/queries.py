"""Finding patients: by name, number and telephone, in any script's letters and digits."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Q

from ...eye.person import Sex
from ...record.doubles import Alike, Card, alike, alike_among, comparable, phone_tail
from ...record.entry import Entry
from ...record.kinds import payload_of
from ...record.stock_said import Listing
from ..record.models import JournalEntry, ListedEye, Person, Task
from ..record.projections import digits, folded

__all__ = ["MAYBE_SAME", "Found", "lookalikes", "pair_of", "pairs_among", "people_listed", "same_number", "search"]

MAYBE_SAME = "maybe-same-person"
"""Code of the conflict that asks whether two numbers are one person."""
MOST_SHOWN = 50
FEWEST_DIGITS = 4
"""Digits from which a search looks among telephone numbers."""
PREFIX = 3


@dataclass(frozen=True, slots=True)
class Found:
    """What a search found."""

    people: tuple[Person, ...]
    more: bool
    """True when there are more than are shown."""


def search(*, unit: str, asked: str) -> Found:
    """People whose number, name or telephone fits; numbers that fit exactly come first.

    Parameters
    ----------
    unit : str
        Whose register.
    asked : str
        As typed: words of a name in any order, a number, a part of a telephone number, digits of any script.

    Returns
    -------
    Found
    """
    words = folded(asked).split()
    if not words:
        return Found((), False)
    by_name = Q()
    for word in words:
        by_name &= Q(folded__contains=word)
    number = plain_digits(asked.strip())
    fits = Q(person_id__startswith=asked.strip()) | Q(person_id__iexact=number)
    typed = digits(asked)
    if len(typed) >= FEWEST_DIGITS:
        fits |= Q(phone__contains=typed)
    if len(typed) < FEWEST_DIGITS or any(sign.isalpha() for sign in asked):
        fits |= by_name
    # The keys alone are found in an index; whole people are read only to be shown.
    found = Person.objects.filter(Q(unit=unit) & fits).order_by("folded", "person_id").values_list("pk", flat=True)
    keys = list(found[: MOST_SHOWN + 1])
    rows = Person.objects.in_bulk(keys[:MOST_SHOWN])
    exact = number.casefold()
    shown = sorted((rows[key] for key in keys[:MOST_SHOWN]), key=lambda row: row.person_id.casefold() != exact)
    return Found(tuple(shown), len(keys) > MOST_SHOWN)


def plain_digits(text: str) -> str:
    """The text with the digits of every script as 0 to 9."""
    return "".join(str(int(sign)) if sign.isdecimal() else sign for sign in text)


def people_listed(*, unit: str, day: date) -> tuple[ListedEye, ...]:
    """The eyes listed for a day in the order of the register, each with its person."""
    rows = ListedEye.objects.filter(unit=unit, day=day, listing=Listing.LISTED.value)
    return tuple(rows.select_related("person").order_by("position", "first"))


def same_number(*, unit: str, number: str) -> Person | None:
    """Who has a number already, whatever its case and spacing."""
    wanted = "".join(number.casefold().split())
    near = Person.objects.filter(unit=unit).filter(Q(person_id=number) | Q(person_id__iexact=number.strip()))
    return next((row for row in near if "".join(row.person_id.casefold().split()) == wanted), None)


def card_of(row: Person) -> Card:
    """What a row is compared by."""
    return Card(
        row.person_id, row.name, row.age_years, Sex(row.sex) if row.sex else None, row.phone, row.place
    )  # fmt: skip


def lookalikes(*, unit: str, card: Card) -> tuple[tuple[Person, Alike], ...]:
    """People on the register who may be the one on the card, likeliest first."""
    near = Q()
    for word in comparable(card.name).split():
        near |= Q(folded__startswith=word[:PREFIX]) | Q(folded__contains=f" {word[:PREFIX]}")
    if phone_tail(card.phone):
        near |= Q(phone__endswith=phone_tail(card.phone))
    if not near:
        return ()
    rows = Person.objects.filter(Q(unit=unit, same_as="") & near).exclude(person_id=card.person_id)
    found = [(row, pair) for row in rows.defer("facts") if (pair := alike(card, card_of(row))) is not None]
    return tuple(sorted(found, key=lambda each: (-each[1].points, each[0].person_id)))


def pairs_among(*, unit: str, of: Iterable[str] | None = None) -> tuple[Alike, ...]:
    """Pairs of numbers that nobody has been asked about yet; with ``of`` only those with one of these numbers."""
    rows = Person.objects.filter(unit=unit, same_as="").defer("facts").iterator(chunk_size=2000)
    found = alike_among((card_of(row) for row in rows), None if of is None else set(of))
    asked = asked_pairs(unit)
    return tuple(pair for pair in found if (pair.person_id, pair.other) not in asked)


def asked_pairs(unit: str) -> set[tuple[str, str]]:
    """Pairs that a person was asked about, whatever was answered."""
    tasks = Task.objects.filter(unit=unit, code=MAYBE_SAME).values_list("entries", flat=True)
    rows = JournalEntry.objects.filter(pk__in=[entry for entries in tasks for entry in entries])
    return {pair_of(row.entry()) for row in rows}


def pair_of(entry: Entry) -> tuple[str, str]:
    """The two numbers of an entry about a pair: the later and the earlier."""
    return entry.subject.partition("/")[2], str(payload_of(entry).person_id)
