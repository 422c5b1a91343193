"""What the pages of days before their plan show."""

from collections import Counter
from dataclasses import dataclass
from datetime import date

from django.forms import Form
from django.http import HttpRequest

from ...eye.measurement import Quantity
from ...optics.side import Side
from ...record.stock_said import Listing
from ..people.pages import plain_page
from ..record.models import Day, ListedEye, Measurement, Person
from .frames import Frame
from .models import StoredPlan

__all__ = ["DayListPage", "DaysPage", "ListedLine", "day_list_page", "days_page", "lacking", "listed_lines"]

NEEDED = (Quantity.AXIAL_LENGTH, Quantity.K1, Quantity.K2)
"""Without these an eye is planned on what eyes are like in general."""


@dataclass(frozen=True, slots=True)
class DayLine:
    """One day."""

    day: date
    listed: int
    is_set: bool
    plan_id: int | None


@dataclass(frozen=True, slots=True)
class DaysPage:
    """Days to come, and those before."""

    frame: Frame
    form: Form
    coming: tuple[DayLine, ...]
    past: tuple[DayLine, ...]


@dataclass(frozen=True, slots=True)
class ListedLine:
    """One eye on a day's list."""

    person: Person
    side: Side
    lacks: tuple[str, ...]
    """Readings that nobody has taken."""


@dataclass(frozen=True, slots=True)
class DayListPage:
    """A day before its plan: its eyes, its settings, and the button that plans it."""

    frame: Frame
    day: date
    is_set: bool
    form: Form
    lines: tuple[ListedLine, ...]
    plans: tuple[StoredPlan, ...]
    wrong: str


def days_page(request: HttpRequest, unit: str, today: date, form: Form) -> DaysPage:
    """Every day that is set, listed or planned."""
    listed = Counter(
        ListedEye.objects.filter(unit=unit, listing=Listing.LISTED.value).values_list("day", flat=True)
    )  # fmt: skip
    days = set(Day.objects.filter(unit=unit).values_list("day", flat=True))
    plans = dict(StoredPlan.objects.filter(unit=unit).order_by("created", "pk").values_list("day", "pk"))
    lines = [DayLine(day, listed[day], day in days, plans.get(day)) for day in sorted({*listed, *days, *plans})]
    return DaysPage(
        frame=plain_page(request, "days"),
        form=form,
        coming=tuple(line for line in lines if line.day >= today),
        past=tuple(reversed([line for line in lines if line.day < today])),
    )


def listed_lines(unit: str, day: date) -> tuple[ListedLine, ...]:
    """The eyes on a day's list, in the order of the register."""
    rows = ListedEye.objects.filter(unit=unit, day=day, listing=Listing.LISTED.value)
    rows = rows.select_related("person").order_by("position", "first", "side")
    found = lacking([row.person_id for row in rows])
    return tuple(ListedLine(row.person, Side(row.side), found.get((row.person_id, row.side), WORDS)) for row in rows)


WORDS = tuple(quantity.value for quantity in NEEDED)


def lacking(person_keys: list[str]) -> dict[tuple[str, str], tuple[str, ...]]:
    """By person and side, which of the needed readings nobody has taken; eyes without any reading are left out."""
    rows = Measurement.objects.filter(eye__person__in=person_keys).values_list("eye__person", "eye__side", "quantity")
    there: dict[tuple[str, str], set[str]] = {}
    for person, side, quantity in rows:
        there.setdefault((person, side), set()).add(quantity)
    return {key: tuple(word for word in WORDS if word not in found) for key, found in there.items()}


def day_list_page(request: HttpRequest, unit: str, day: date, form: Form, wrong: str = "") -> DayListPage:
    """One day before its plan."""
    return DayListPage(
        frame=plain_page(request, "days"),
        day=day,
        is_set=Day.objects.filter(unit=unit, day=day).exists(),
        form=form,
        lines=listed_lines(unit, day),
        plans=tuple(StoredPlan.objects.light().filter(unit=unit, day=day).newest_first()),
        wrong=wrong,
    )
