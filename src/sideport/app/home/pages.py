"""What the first page shows each role. Every part is work that exists, or says that there is none."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby, islice
from types import MappingProxyType

from django.db.models import Count, QuerySet, Sum
from django.http import HttpRequest
from django.utils import timezone

from ...day.plan import EyePlan, PowerNeed, TonightItem
from ...record.stock_said import Listing
from ..access import account_of
from ..followup.waiting import Waitlist, waiting
from ..patients.models import FolderImport
from ..people.models import Account, ReadLog
from ..people.pages import plain_page
from ..people.roles import Role
from ..planning.day_pages import ListedLine, listed_lines
from ..planning.documents import plan_of
from ..planning.frames import Frame
from ..planning.models import StoredPlan
from ..record.models import Box, Day, ListedEye, Operation, Task, Visit

__all__ = ["PARTS", "HomePage", "Part", "home_page"]

SHOWN = 8
SOON = timedelta(days=90)
MONTHS = 6


@dataclass(frozen=True, slots=True)
class Part:
    """One part of the page: its template, and what it shows."""

    name: str
    template: str
    shows: object


@dataclass(frozen=True, slots=True)
class HomePage:
    """The first page."""

    frame: Frame
    account: Account
    parts: tuple[Part, ...]
    looks: bool
    """Whether the person may look for patients."""
    named: tuple[str, ...]
    """Numbers of the patients whose names are shown, for the log of reads."""


@dataclass(frozen=True, slots=True)
class TonightLine:
    """One thing to sort out, with its eye."""

    item: TonightItem
    eye: EyePlan | None


@dataclass(frozen=True, slots=True)
class Tonight:
    """What to sort out before the newest plan's day."""

    stored: StoredPlan | None
    lines: tuple[TonightLine, ...]
    more: int


@dataclass(frozen=True, slots=True)
class Theatre:
    """The list of the newest plan, in the order of operating."""

    stored: StoredPlan | None
    eyes: tuple[EyePlan, ...]


@dataclass(frozen=True, slots=True)
class DayLine:
    """A day that comes."""

    day: date
    listed: int
    is_set: bool
    plan_id: int | None


@dataclass(frozen=True, slots=True)
class Lacking:
    """The eyes of a coming list that lack readings."""

    day: date
    lines: tuple[ListedLine, ...]
    complete: int


@dataclass(frozen=True, slots=True)
class Questions:
    """What waits for an answer."""

    tasks: int
    imports: tuple[FolderImport, ...]


@dataclass(frozen=True, slots=True)
class ShelfPart:
    """The shelf in short; nobody's name."""

    stored: StoredPlan | None
    boxes: int
    lenses: int
    expired: tuple[Box, ...]
    soon: tuple[Box, ...]
    needs: tuple[PowerNeed, ...]
    """What the newest plan asks for and the shelf does not hold."""


@dataclass(frozen=True, slots=True)
class Month:
    """What was recorded in a month."""

    month: date
    operations: int


@dataclass(frozen=True, slots=True)
class Recorded:
    """How much is on the record."""

    plans: int
    operations: int
    visits: int
    months: tuple[Month, ...]


@dataclass(frozen=True, slots=True)
class Accounts:
    """The people of the unit."""

    people: int
    waiting: tuple[Account, ...]
    """Accounts that nobody has signed in to yet."""
    reads: int
    """Looks at patients in the last day."""


def newest(unit: str) -> StoredPlan | None:
    """The unit's newest plan."""
    return StoredPlan.objects.light().filter(unit=unit).newest_first().first()


def tonight(unit: str, today: date) -> Tonight:
    """What to sort out, worst first."""
    del today
    stored = newest(unit)
    if stored is None:
        return Tonight(None, (), 0)
    plan = plan_of(stored)
    by_key = {eye.key: eye for eye in plan.eyes}
    lines = tuple(TonightLine(item, by_key.get(item.eye_key or "")) for item in plan.tonight[:SHOWN])
    return Tonight(stored, lines, len(plan.tonight) - len(lines))


def theatre(unit: str, today: date) -> Theatre:
    """The list in the order of operating."""
    del today
    stored = newest(unit)
    if stored is None:
        return Theatre(None, ())
    return Theatre(stored, tuple(eye for eye in plan_of(stored).eyes if eye.slot is not None))


def coming(unit: str, today: date) -> tuple[DayLine, ...]:
    """The days that come, whether set, listed or planned."""
    listed = ListedEye.objects.filter(unit=unit, listing=Listing.LISTED.value, day__gte=today)
    counts = dict(listed.values_list("day").annotate(eyes=Count("key")))
    days = set(Day.objects.filter(unit=unit, day__gte=today).values_list("day", flat=True))
    plans = dict(
        StoredPlan.objects.filter(unit=unit, day__gte=today).order_by("created", "pk").values_list("day", "pk")
    )  # fmt: skip
    return tuple(
        DayLine(day, counts.get(day, 0), day in days, plans.get(day)) for day in sorted({*counts, *days, *plans})
    )  # fmt: skip


def lacking(unit: str, today: date) -> tuple[Lacking, ...]:
    """By coming day, the eyes that still have to be measured."""
    listed = ListedEye.objects.filter(unit=unit, listing=Listing.LISTED.value, day__gte=today)
    found = []
    for day in listed.values_list("day", flat=True).distinct().order_by("day")[:3]:
        lines = listed_lines(unit, day)
        short = tuple(line for line in lines if line.lacks)
        found.append(Lacking(day, short, len(lines) - len(short)))
    return tuple(found)


def questions(unit: str, today: date) -> Questions:
    """What waits for an answer."""
    del today
    imports = FolderImport.objects.filter(unit=unit, closed_by="")
    return Questions(
        tasks=Task.objects.filter(unit=unit, settled_by="").count(),
        imports=tuple(row for row in imports if row.open),
    )


def calls(unit: str, today: date) -> Waitlist:
    """Who is late for a visit, the first to call first."""
    return waiting(unit=unit, today=today, most=SHOWN)


def shelf(unit: str, today: date) -> ShelfPart:
    """The shelf in short."""
    boxes = Box.objects.filter(unit=unit, count__gt=0)
    stored = newest(unit)
    needs = {
        (need.power_d, need.model, need.placement): need
        for eye in (plan_of(stored).eyes if stored else ())
        for need in eye.needs
    }
    dated = boxes.exclude(expires=None).order_by("expires", "box_id")
    return ShelfPart(
        stored=stored,
        boxes=boxes.count(),
        lenses=boxes.aggregate(all=Sum("count"))["all"] or 0,
        expired=tuple(dated.filter(expires__lt=today)),
        soon=tuple(dated.filter(expires__gte=today, expires__lte=today + SOON)[:SHOWN]),
        needs=tuple(needs[key] for key in sorted(needs, key=str)),
    )


def recorded(unit: str, today: date) -> Recorded:
    """How much is on the record."""
    del today
    operations = Operation.objects.filter(unit=unit)
    return Recorded(
        plans=StoredPlan.objects.filter(unit=unit).count(),
        operations=operations.count(),
        visits=Visit.objects.filter(unit=unit, kind="recorded").count(),
        months=last_months(operations),
    )


def last_months(operations: QuerySet[Operation]) -> tuple[Month, ...]:
    """The last months in which somebody was operated on, newest first; counted by day, which an index holds."""
    days = operations.values_list("day").annotate(done=Count("*")).order_by("-day").iterator()
    months = groupby(days, lambda each: each[0].replace(day=1))
    return tuple(Month(month, sum(done for _, done in each)) for month, each in islice(months, MONTHS))


def accounts(unit: str, today: date) -> Accounts:
    """The people of the unit."""
    del today
    people = Account.objects.of_unit(unit)
    since = timezone.now() - timedelta(days=1)
    return Accounts(
        people=people.filter(is_active=True).count(),
        waiting=tuple(person for person in people.filter(is_active=True, password__startswith="!", invented=False)),  # noqa: S106
        reads=ReadLog.objects.filter(unit=unit, at__gte=since).count(),
    )


MAKERS: Mapping[str, Callable[[str, date], object]] = MappingProxyType({
    "tonight": tonight, "theatre": theatre, "coming": coming, "lacking": lacking, "questions": questions,
    "shelf": shelf, "calls": calls, "recorded": recorded, "accounts": accounts,
})  # fmt: skip
PARTS: Mapping[Role, tuple[str, ...]] = MappingProxyType({
    Role.LEAD_SURGEON: ("tonight", "questions", "coming", "recorded"),
    Role.SURGEON: ("theatre", "tonight", "questions", "coming"),
    Role.TRAINEE: ("theatre", "coming"),
    Role.NURSE: ("theatre", "calls", "coming"),
    Role.TECHNICIAN: ("lacking", "coming"),
    Role.STORE: ("shelf",),
    Role.AUDITOR: ("recorded", "accounts"),
    Role.ADMINISTRATOR: ("accounts", "recorded", "coming"),
})  # fmt: skip
"""What each role sees first, in this order. The store's part names nobody."""


def home_page(request: HttpRequest) -> HomePage:
    """The first page of the signed-in person."""
    account = account_of(request)
    today = timezone.localdate()
    parts = tuple(
        Part(name, f"home/{name}.html", MAKERS[name](account.unit, today)) for name in PARTS[Role(account.role)]
    )  # fmt: skip
    named = [number for part in parts for number in numbers_in(part.shows)]
    looks = account.role != Role.STORE
    return HomePage(plain_page(request, "home"), account, parts, looks, tuple(dict.fromkeys(named)))


def numbers_in(shows: object) -> list[str]:
    """The numbers of the patients whose names a part shows."""
    if isinstance(shows, Tonight):
        return [line.eye.person_id for line in shows.lines if line.eye]
    if isinstance(shows, Theatre):
        return [eye.person_id for eye in shows.eyes]
    if isinstance(shows, Waitlist):
        return [each.person_id for each in shows.late]
    if isinstance(shows, tuple):
        return [line.person.person_id for part in shows if isinstance(part, Lacking) for line in part.lines]
    return []
