"""What a person's entries add up to: who it is, both eyes, every reading, every day they were listed for."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from datetime import date

from ..eye.measurement import Measurement
from ..eye.person import EyeRecord, Person
from ..optics.side import Side
from .facts import Fact
from .kinds import Kind
from .stock_said import Listing

__all__ = ["EyeState", "PersonState", "person_state"]

FINDINGS = tuple(field.name for field in fields(EyeRecord) if field.name not in {"side", "listed", "measurements"})
ABOUT_PERSON = frozenset({Kind.PERSON_REGISTERED, Kind.PERSON_CORRECTED})


@dataclass(frozen=True, slots=True)
class EyeState:
    """One eye as the record has it."""

    record: EyeRecord
    """Findings alone: neither listed nor with measurements."""
    found: tuple[Fact, ...]
    """The findings behind it, oldest first."""
    readings: tuple[Fact, ...]
    """Measurements in the order in which they were taken down."""


@dataclass(frozen=True, slots=True)
class PersonState:
    """A person as the record has them."""

    registered: Fact
    """The registration that holds; ``said`` is the person without eyes."""
    others: tuple[Fact, ...]
    """Registrations of the same number on devices that had not met."""
    eyes: dict[Side, EyeState]
    listings: dict[tuple[date, Side], Fact]
    """The latest word for each day and eye."""
    same_as: str = ""
    """The number that is kept, where this one was found to be a second registration; empty otherwise."""

    @property
    def details(self) -> Person:
        """Who it is, without the eyes."""
        said: Person = self.registered.said
        return said

    def person(self, listed_on: date | None = None) -> Person:
        """The whole person, eyes with their measurements; an eye is listed where it is on that day's list."""
        eyes = tuple(
            replace(
                eye.record,
                listed=listed_on is not None and is_listed(self.listings.get((listed_on, side))),
                measurements=tuple(fact.said for fact in eye.readings),
            )
            for side, eye in self.eyes.items()
        )
        return replace(self.details, eyes=eyes)


def is_listed(word: Fact | None) -> bool:
    """Whether the latest word about the list puts the eye on it."""
    return word is not None and word.said.listing is Listing.LISTED


def person_state(facts: Sequence[Fact]) -> PersonState | None:
    """The state that a person's facts add up to.

    Parameters
    ----------
    facts : sequence of Fact
        Those of one person, in their order.

    Returns
    -------
    PersonState or None
        ``None`` when nobody is registered under the number, or the registration was withdrawn.

    Notes
    -----
    Findings are laid over each other field by field, later over earlier, so that two people who each found something
    lose neither. Readings that are equal in everything and came from different devices count as often as the device
    that has most of them says: a list read in on two laptops is not measured twice. A registration that repeats what
    was corrected elsewhere does not bring the mistake back.
    """
    registrations = [fact for fact in facts if fact.kind in ABOUT_PERSON]
    if not registrations:
        return None
    outdated = {entry.payload for fact in registrations for entry in fact.before}
    current = [fact for fact in registrations if fact.entry.payload not in outdated] or registrations
    holds = max(current, key=lambda fact: fact.entry.order)
    found: dict[Side, list[Fact]] = defaultdict(list)
    readings: dict[Side, list[Fact]] = defaultdict(list)
    listings: dict[tuple[date, Side], Fact] = {}
    for fact in facts:
        if fact.kind is Kind.EYE_FOUND:
            found[fact.said.side].append(fact)
        elif fact.kind is Kind.MEASUREMENT_TAKEN:
            readings[fact.said.side].append(fact)
        elif fact.kind is Kind.EYE_LISTED:
            listings[fact.said.day, fact.said.side] = latest(fact, listings.get((fact.said.day, fact.said.side)))
    eyes = {
        side: EyeState(laid_over(side, found[side]), tuple(found[side]), counted_once(readings[side]))
        for side in Side
        if found[side] or readings[side]
    }
    others = tuple(fact for fact in current if fact is not holds)
    same = [fact for fact in facts if fact.kind is Kind.PERSON_SAME and fact.first.subject == holds.first.subject]
    same_as = max(same, key=lambda fact: fact.entry.order).said.person_id if same else ""
    return PersonState(holds, others, eyes, listings, same_as)


def latest(fact: Fact, before: Fact | None) -> Fact:
    """The one whose present wording is younger."""
    return fact if before is None or fact.entry.order > before.entry.order else before


def laid_over(side: Side, found: Sequence[Fact]) -> EyeRecord:
    """Findings laid over each other, each adding only what it says."""
    record = EyeRecord(side, listed=False)
    for fact in sorted(found, key=lambda fact: fact.entry.order):
        said = {name: getattr(fact.said, name) for name in FINDINGS}
        record = replace(record, **{name: value for name, value in said.items() if value not in (None, "")})
    return record


def counted_once(readings: Sequence[Fact]) -> tuple[Fact, ...]:
    """Readings without the copies that come from the same list having been read in on several devices."""
    alike: dict[Measurement, dict[str, list[Fact]]] = defaultdict(lambda: defaultdict(list))
    for fact in readings:
        alike[fact.said][fact.first.device].append(fact)
    kept = [
        min(by_device.values(), key=lambda facts: (-len(facts), facts[0].first.order)) for by_device in alike.values()
    ]
    return tuple(sorted((fact for facts in kept for fact in facts), key=lambda fact: fact.first.order))
