"""The eyes that are due or late, in the order in which they are called.

A busy unit has tens of thousands of operations within the time that is followed, so the whole of what is known is read
only of the few that are shown: dates and rights to a place in the order come first, by columns alone.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import lru_cache
from typing import Any, TypeVar

from django.db.models import Q

from ...eye.result import ResultClass
from ...knowledge import load_published
from ...optics.side import Side
from ...record.kinds import Kind
from ...record.plain import read_plain
from ...record.visit_said import VisitContacted, VisitMissed, VisitRecorded
from ..record.models import Device, OperationEvent, Person, Visit
from ..record.project import batches
from ..record.queries import person_facts
from .contact import Absent, Call, call_of
from .findings import acuity_classes
from .queries import COMPLICATING, Heard, dues_since, followed, note, rows_by_key
from .schedule import Due, DueState, open_visit

__all__ = ["Waiting", "Waitlist", "waiting"]

Said = TypeVar("Said")
EyeKey = tuple[str, str]
"""Key of the person, and side."""
LOOKED_AT = 200
"""Eyes whose last visit is read together."""
KEPT_IN_MEMORY = 8
"""Lists of different units, days and states of the journal."""


@dataclass(frozen=True, slots=True)
class Waiting:
    """An operated eye whose visit is due now or late."""

    key: str
    """Of the operation."""
    person_id: str
    name: str
    phone: str
    """As written: a plus in front matters to whoever dials."""
    place: str
    side: Side
    operated: date
    due: Due
    tries: int
    next_try: date | None
    """When somebody said to try again."""
    call: Call


@dataclass(frozen=True, slots=True)
class Waitlist:
    """Everybody who waits, as far as they are shown."""

    late: tuple[Waiting, ...]
    """To be called now, the one whose call brings most first."""
    late_count: int
    later: tuple[Waiting, ...]
    """Late, and to be tried again on a later day; the nearest day first."""
    later_count: int
    due: tuple[Waiting, ...]
    """Their time is not over; the one whose time ends first comes first."""
    due_count: int


@dataclass(frozen=True, slots=True)
class Opened:
    """An eye with an open visit, as far as its place in the order needs it."""

    eye: EyeKey
    key: str
    person_id: str
    operated: date
    due: Due
    tries: tuple[str, ...]
    """Rows of the attempts about this visit, oldest first."""
    last_seen: str


def waiting(*, unit: str, today: date, most: int) -> Waitlist:
    """Every eye that is due now or late.

    Parameters
    ----------
    unit : str
        Whose.
    today : date
        The day that is asked about.
    most : int
        How many of each kind are told in full; all are counted.

    Returns
    -------
    Waitlist
        Of each eye the follow-up of its last operation.
    """
    return worked_out(unit, today, most, tuple(Device.objects.order_by("device").values_list("device", "digest")))


@lru_cache(maxsize=KEPT_IN_MEMORY)
def worked_out(unit: str, today: date, most: int, heads: tuple[tuple[str, str], ...]) -> Waitlist:
    """The list, once for each state of the journal, which the heads of all devices' chains tell apart."""
    del heads
    opened = opened_eyes(unit, today)
    due = [each for each in opened if each.due.state is DueState.DUE]
    late = [each for each in opened if each.due.state is DueState.LATE]
    last_try = said_in(VisitContacted, [each.tries[-1] for each in late if each.tries])
    again = {each.eye: said.next_try for each in late if each.tries and (said := last_try.get(each.tries[-1]))}
    later = [each for each in late if (again.get(each.eye) or today) > today]
    now = [each for each in late if (again.get(each.eye) or today) <= today]
    later.sort(key=lambda each: (again[each.eye] or today, each.person_id))
    due.sort(key=lambda each: (each.due.closes, each.person_id, each.eye))
    return Waitlist(
        first_called(now, most), len(now), tuple(described(later[:most])), len(later), tuple(described(due[:most])),
        len(due),
    )  # fmt: skip


def opened_eyes(unit: str, today: date) -> list[Opened]:
    """Every eye with a visit that is due now or late."""
    since = today - timedelta(load_published().value("followup.contact.listed"))
    rows = followed(unit=unit).filter(day__gte=since, day__lte=today).order_by("day", "first")
    operated = {(row[1], row[2]): row for row in rows.values_list("key", "person_key", "side", "person_id", "day")}
    heard = heard_since(unit, since, {eye: row[4] for eye, row in operated.items()})
    nothing, unheard, found = Heard(), dict[date, Due | None](), []
    for eye, (key, _, _, person_id, day) in operated.items():
        told = heard.get(eye, nothing)
        if day not in unheard:
            unheard[day] = open_visit(dues_since(day, today, nothing))
        due = unheard[day]
        if due is None or kept(due, told):
            continue
        due = due if told is nothing else open_visit(dues_since(day, today, told))
        if due is not None:
            tries = (row for tried, name, row in told.tries if tried >= due.opens or name == due.window.name)
            found.append(Opened(eye, key, person_id, day, due, tuple(tries), told.last_seen))
    return found


def kept(due: Due, told: Heard) -> bool:
    """Whether the newest visit that has opened was kept; no other can be due or late."""
    return any(name == due.window.name or (not name and day >= due.opens) for day, name in told.seen)


def heard_since(unit: str, since: date, operated: Mapping[EyeKey, date]) -> dict[EyeKey, Heard]:
    """Examinations, closed visits and tries of the eyes since their operations."""
    heard: defaultdict[EyeKey, Heard] = defaultdict(Heard)
    missed = []
    rows = Visit.objects.filter(unit=unit, day__gte=since).order_by("day", "first")
    for person_key, side, kind, day, due, key in rows.values_list("person_key", "side", "kind", "day", "due", "key"):
        eye = (person_key, side)
        if eye in operated and day >= operated[eye]:
            note(heard[eye], kind, day, due, key)
            if kind == "missed":
                missed.append(key)
    for row in rows_by_key(Visit.objects.all(), missed):
        said = read_plain(VisitMissed, row.facts)
        heard[row.person_key, row.side].closed[said.due] = said.reason
    return dict(heard)


def first_called(late: list[Opened], most: int) -> tuple[Waiting, ...]:
    """The first of those to call, in their order.

    Notes
    -----
    Each eye is given the most that its call can be worth, as if its last acuity had not been good; visits are read in
    that order, until no eye that is left can come before those that are found.
    """
    flags = flags_of(late)
    memo: dict[Absent, Call] = {}
    bounds = [(call_once(replace(flags[each.eye], not_good=bool(each.last_seen)), memo).value, each) for each in late]
    bounds.sort(key=lambda pair: (-pair[0], pair[1].person_id, pair[1].eye))
    found: list[tuple[float, Opened]] = []
    for some in batches(bounds, LOOKED_AT):
        if len(found) >= most and sorted((value for value, _ in found), reverse=True)[most - 1] > some[0][0]:
            break
        exact = with_acuity([each for _, each in some], flags)
        found += [(call_once(exact[each.eye], memo).value, each) for _, each in some]
    found.sort(key=lambda pair: (-pair[0], pair[1].person_id, pair[1].eye))
    return tuple(described([each for _, each in found[:most]], flags=flags))


def call_once(absent: Absent, memo: dict[Absent, Call]) -> Call:
    """What a call is worth, worked out once for all who are alike."""
    if absent not in memo:
        memo[absent] = call_of(absent=absent, knowledge=load_published())
    return memo[absent]


def flags_of(opened: Collection[Opened]) -> dict[EyeKey, Absent]:
    """What columns tell of those who did not come; the acuity is not among it."""
    people = {row["key"]: row for row in people_by_key({each.eye[0] for each in opened})}
    wrong = complicated_operations(opened) | complicated_visits(opened)
    return {
        each.eye: Absent(
            late_d=each.due.late_d, tries=len(each.tries), has_phone=bool(people.get(each.eye[0], {}).get("phone")),
            only_eye=bool(people.get(each.eye[0], {}).get(f"only_{each.eye[1]}")), complication=each.eye in wrong,
            not_good=False,
        )
        for each in opened
    }  # fmt: skip


def people_by_key(keys: Collection[str]) -> Iterator[dict[str, Any]]:
    """Which people have a telephone, and which eye is their only one."""
    # The facts are canonical JSON: no spaces, and a quotation mark inside a text is escaped, so the pattern is exact.
    only = {f"only_{side.value}": Q(facts__contains=f'"only_eye":"{side.value}"') for side in Side}
    yield from rows_by_key(Person.objects.annotate(**only).values("key", "phone", *only), sorted(keys))


def complicated_operations(opened: Iterable[Opened]) -> set[EyeKey]:
    """Eyes in whose operation something went wrong."""
    eyes = {each.key: each.eye for each in opened}
    events = OperationEvent.objects.filter(kind=Kind.OPERATION_EVENT.value, name__in=COMPLICATING)
    found: set[EyeKey] = set()
    for some in batches(eyes, LOOKED_AT):
        found |= {eyes[key] for key in events.filter(operation_id__in=some).values_list("operation_id", flat=True)}
    return found


def complicated_visits(opened: Iterable[Opened]) -> set[EyeKey]:
    """Eyes at whose last visit a complication was found."""
    eyes = {each.last_seen: each.eye for each in opened if each.last_seen}
    none = Visit.objects.exclude(facts__contains='"complications":[]').values_list("key", flat=True)
    return {eyes[key] for key in rows_by_key(none, eyes)}


def with_acuity(opened: Collection[Opened], flags: Mapping[EyeKey, Absent]) -> dict[EyeKey, Absent]:
    """The flags, with whether the last acuity was not good."""
    knowledge = load_published()
    seen = said_in(VisitRecorded, [each.last_seen for each in opened if each.last_seen])
    dim = {ResultClass.BORDERLINE, ResultClass.POOR}
    return {
        each.eye: replace(
            flags[each.eye],
            not_good=each.last_seen in seen and acuity_classes(seen[each.last_seen], knowledge)[0] in dim,
        )
        for each in opened
    }


def described(opened: Collection[Opened], flags: Mapping[EyeKey, Absent] | None = None) -> Iterator[Waiting]:
    """The few that are shown, with who they are and what calling them is worth."""
    exact = with_acuity(opened, flags or flags_of(opened))
    rows = rows_by_key(Person.objects.all(), sorted({each.eye[0] for each in opened}))
    people = {row.key: person_facts(row) for row in rows}
    tried = said_in(VisitContacted, [each.tries[-1] for each in opened if each.tries])
    for each in opened:
        person = people.get(each.eye[0])
        yield Waiting(
            key=each.key, person_id=each.person_id, name=person.name if person else "",
            phone=person.phone if person else "", place=person.place if person else "", side=Side(each.eye[1]),
            operated=each.operated, due=each.due, tries=len(each.tries),
            next_try=tried[each.tries[-1]].next_try if each.tries else None,
            call=call_of(absent=exact[each.eye], knowledge=load_published()),
        )  # fmt: skip


def said_in(kind: type[Said], keys: Iterable[str]) -> dict[str, Said]:
    """What visits of one kind say, by their keys."""
    return {row.key: read_plain(kind, row.facts) for row in rows_by_key(Visit.objects.all(), keys)}
