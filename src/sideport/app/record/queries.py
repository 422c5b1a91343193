"""What other slices ask of the record."""

from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from ...day.settings import DayRequest
from ...errors import NothingToPlanError
from ...eye.person import EyeRecord as EyeFacts
from ...eye.person import Person as PersonFacts
from ...lens.model import LensModel as LensFacts
from ...optics.side import Side
from ...record.entry import Entry
from ...record.facts import facts_of
from ...record.kinds import known, payload_of
from ...record.plain import read_plain
from ...record.stock_said import DaySet, Listing
from ...record.subject import root_of
from ...risk.team import Surgeon as SurgeonFacts
from ...shelf.box import Box as BoxFacts
from .models import Box, Day, LensModel, ListedEye, Mention, Person, Surgeon, Task

__all__ = ["Told", "entries_about", "history", "open_tasks", "person_facts", "request_for"]


@dataclass(frozen=True, slots=True)
class Told:
    """One entry of a subject's history."""

    entry: Entry
    said: Any
    """What it says; ``None`` when a newer program wrote it."""
    before: Any
    """What the entry that it corrects said; ``None`` where it corrects none."""
    holds: bool
    """Whether it stands today: neither corrected, nor withdrawn, nor decided against."""


def entries_about(*, unit: str, subject: str) -> list[Entry]:
    """Every entry that bears on a subject, its own and those that mention it, in the order of their stamps."""
    bearing = Mention.objects.filter(root=root_of(unit, subject)).select_related("entry").order_by("entry__stamp")
    return [mention.entry.entry() for mention in bearing]


def history(*, unit: str, subject: str) -> tuple[Told, ...]:
    """Everything that was ever said of a subject: who, when, and what stood before.

    Parameters
    ----------
    unit, subject : str
        Whose and what, as entries carry it.

    Returns
    -------
    tuple of Told
        In the order of the stamps; empty when nothing was said.
    """
    entries = entries_about(unit=unit, subject=subject)
    said = {entry.entry_id: payload_of(entry) if known(entry) else None for entry in entries}
    standing = {leaf.entry_id for fact in facts_of(entries) for leaf in (fact.entry, *fact.rivals)}
    return tuple(
        Told(entry, said[entry.entry_id], said.get(entry.corrects or ""), entry.entry_id in standing)
        for entry in entries
    )  # fmt: skip


def open_tasks(*, unit: str) -> list[Task]:
    """The contradictions that wait for a person."""
    return list(Task.objects.filter(unit=unit, settled_by="").order_by("code", "key"))


def person_facts(row: Person) -> PersonFacts:
    """A person with eyes and measurements."""
    return read_plain(PersonFacts, row.facts)


def request_for(*, unit: str, day: date) -> DayRequest:
    """All that a day's plan is made from, as the record has it now.

    Parameters
    ----------
    unit : str
        The unit.
    day : date
        The operating day.

    Returns
    -------
    DayRequest
        People in the order of the register, boxes that are not empty, the team and the lens models that the day names.

    Raises
    ------
    NothingToPlanError
        When the day has no settings, or nobody is listed for it.
    """
    row = Day.objects.filter(unit=unit, day=day).first()
    if row is None:
        raise NothingToPlanError(f"{unit} has no settings for {day:%d %B %Y}. Set the day first.")
    people = listed_people(unit, day)
    if not people:
        raise NothingToPlanError(f"Nobody is listed for {day:%d %B %Y}. Put eyes on the list first.")
    said = read_plain(DaySet, row.facts)
    team = {each.name: read_plain(SurgeonFacts, each.facts) for each in ordered(Surgeon, unit)}
    lenses = {each.name: read_plain(LensFacts, each.facts) for each in ordered(LensModel, unit)}
    return DayRequest(
        settings=said.settings,
        people=people,
        lenses=tuple(lenses[name] for name in said.lenses or lenses if name in lenses),
        boxes=tuple(box_facts(box) for box in Box.objects.filter(unit=unit, count__gt=0).order_by("first")),
        team=tuple(team[name] for name in said.team or team if name in team),
    )


def ordered(model: Any, unit: str) -> Any:
    """A unit's rows in the order in which they were first said."""
    return model.objects.filter(unit=unit).order_by("first")


def listed_people(unit: str, day: date) -> tuple[PersonFacts, ...]:
    """Who is on a day's register, each eye knowing whether it is to be operated on."""
    rows = ListedEye.objects.filter(unit=unit, day=day).exclude(listing=Listing.OFF.value)
    sides: dict[str, set[Side]] = defaultdict(set)
    people: dict[str, Person] = {}
    for row in rows.select_related("person").order_by("position", "first"):
        people[row.person_id] = row.person
        if row.listing == Listing.LISTED.value:
            sides[row.person_id].add(Side(row.side))
    return tuple(on_register(person_facts(person), sides[key]) for key, person in people.items())


def on_register(person: PersonFacts, listed: set[Side]) -> PersonFacts:
    """A person whose eyes know whether they are listed; a listed eye without any finding is there too."""
    known = {eye.side: eye for eye in person.eyes}
    sides = [side for side in Side if side in known or side in listed]
    eyes = tuple(replace(known.get(side, EyeFacts(side, listed=False)), listed=side in listed) for side in sides)
    return replace(person, eyes=eyes)


def box_facts(row: Box) -> BoxFacts:
    """A box as the shelf's room knows it."""
    return BoxFacts(
        box_id=row.box_id, model=row.model, power_d=row.power_d, count=row.count, expires=row.expires, lot=row.lot,
        serial=row.serial, price=row.price, location=row.location,
    )  # fmt: skip
