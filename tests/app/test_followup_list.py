"""The list of those who are late: who is on it, in which order, and for whom it opens."""

from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse

from sideport.app.followup import services
from sideport.app.followup.waiting import Waiting, waiting, worked_out
from sideport.app.people.models import ReadLog
from sideport.app.people.roles import Role
from sideport.app.record.services import rebuild
from sideport.optics.side import Side
from sideport.record.theatre_said import EventKind, Outcome

from .cast import OTHER_UNIT, UNIT, as_role
from .operated import AUTHOR, NOON, contacted, operated, seen

pytestmark = pytest.mark.django_db
TODAY = date(2031, 3, 4)


def ago(days: int) -> date:
    return TODAY - timedelta(days)


def everybody(today: date = TODAY) -> list[Waiting]:
    """Those to call now, then those to call later, then those whose time is not over."""
    found = waiting(unit=UNIT, today=today, most=1000)
    return [*found.late, *found.later, *found.due]


def numbers(today: date = TODAY) -> list[str]:
    return [each.person_id for each in everybody(today)]


def test_who_was_seen_is_not_waited_for_and_who_was_not_is() -> None:
    operated("A", ago(16))
    seen(operated("B", ago(16)), ago(6))
    operated("C", ago(16), outcome=Outcome.ABANDONED)
    operated("D", ago(16), unit=OTHER_UNIT)
    operated("E", ago(5))
    operated("F", ago(2))
    found = everybody()
    assert {each.person_id: (each.due.window.name, each.due.late_d > 0) for each in found} == {
        "A": ("week 1 to 2", True), "E": ("day 1", True), "F": ("day 1", False),
    }  # fmt: skip


def test_the_visits_start_anew_after_a_second_operation_on_the_eye() -> None:
    seen(operated("A", ago(40)), ago(39))
    operated("A", ago(2), which="2")
    (only,) = everybody()
    assert (only.operated, only.due.window.name) == (ago(2), "day 1")


def test_both_eyes_of_a_person_are_followed_by_themselves() -> None:
    operated("A", ago(16))
    operated("A", ago(9), side=Side.LEFT, which="2")
    assert {(each.side, each.due.window.name) for each in everybody()} == {
        (Side.RIGHT, "week 1 to 2"), (Side.LEFT, "week 1 to 2"),
    }  # fmt: skip


def test_the_only_eye_the_torn_capsule_and_the_dim_eye_come_before_the_others() -> None:
    operated("A", ago(16))
    operated("B", ago(16), only_eye=Side.RIGHT)
    operated("C", ago(16), event=EventKind.CAPSULE_TEAR)
    seen(operated("D", ago(16)), ago(15), "6/36")
    operated("E", ago(16), phone="")
    operated("F", ago(16), only_eye=Side.LEFT)
    operated("G", ago(16), event=EventKind.SUTURE)
    assert numbers() == ["B", "C", "D", "A", "F", "G", "E"]


def test_every_try_that_did_not_help_puts_somebody_further_down() -> None:
    tried, fresh = operated("A", ago(17)), operated("B", ago(17))
    contacted(tried, ago(2), "week 1 to 2")
    contacted(tried, ago(1), "week 1 to 2", minute=20)
    found = {each.person_id: each for each in everybody()}
    assert numbers() == ["B", "A"]
    assert (found["A"].tries, found["B"].tries) == (2, 0)
    assert fresh.person_id == "B"


def test_after_more_than_a_year_nobody_is_called_any_more() -> None:
    operated("A", ago(390))
    operated("B", ago(410))
    assert numbers() == ["A"]


def test_the_list_is_the_same_after_the_tables_are_made_anew() -> None:
    contacted(operated("A", ago(16), only_eye=Side.RIGHT), ago(1), "week 1 to 2", ago(-3))
    seen(operated("B", ago(20)), ago(19))
    before = everybody()
    rebuild()
    worked_out.cache_clear()
    assert everybody() == before
    assert before[0].next_try == ago(-3) or before[1].next_try == ago(-3)


@pytest.fixture
def three(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sideport.app.followup.views.timezone.localdate", lambda: TODAY)
    operated("QI-301", ago(16), name="শিউলি নদী", only_eye=Side.RIGHT)
    contacted(operated("QI-302", ago(16), name="Pip Arden", phone=""), ago(1), "week 1 to 2", ago(-4))
    operated("QI-303", ago(8), name="मीरा घाट")


def test_the_page_says_whom_to_call_why_and_who_waits(three: None) -> None:
    page = as_role(Role.NURSE).get(reverse("follow-up")).content.decode()
    call, later, due = page.index('id="late"'), page.index('id="later"'), page.index('id="due"')
    assert call < page.index("শিউলি নদী") < later < page.index("Pip Arden") < due < page.rindex("QI-303")
    assert "Only seeing eye." in page
    assert "no telephone" in page
    assert "+91 012 345" in page
    assert "try again on 8 Mar 2031" in page
    assert "judgement, not a published score" in page
    assert '<use href="#shape-stop"/></svg>late' in page


def test_looking_at_the_list_is_logged(three: None) -> None:
    as_role(Role.NURSE).get(reverse("follow-up"))
    row = ReadLog.objects.get()
    assert (row.kind, row.subject) == (ReadLog.Kind.LIST, "follow-up")


def test_another_unit_sees_its_own_list_alone(three: None) -> None:
    page = as_role(Role.NURSE, unit=OTHER_UNIT).get(reverse("follow-up")).content.decode()
    assert "Pip Arden" not in page
    assert "Nobody is late." in page


def test_the_store_is_refused(three: None) -> None:
    assert as_role(Role.STORE).get(reverse("follow-up")).status_code == 403
    assert Client().get(reverse("follow-up")).status_code == 302


def test_the_list_asks_the_database_as_often_for_many_as_for_few() -> None:
    for number in range(3):
        seen(operated(f"A{number}", ago(40)), ago(30))
    few = counted()
    for number in range(12):
        seen(operated(f"B{number}", ago(40)), ago(30))
    assert counted() == few


def counted() -> int:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    worked_out.cache_clear()
    with CaptureQueriesContext(connection) as queries:
        everybody()
    return len(queries)


def test_a_list_that_is_kept_in_memory_is_made_anew_after_every_entry() -> None:
    found = operated("A", ago(16))
    assert everybody() == everybody()
    assert numbers() == ["A"]
    row = seen(found, ago(1), due="week 1 to 2")
    assert numbers() == []
    services.take_back(visit=row, reason="the other eye", actor=AUTHOR, now=NOON)
    assert numbers() == ["A"]


@pytest.mark.parametrize("most", [1, 2, 3, 5])
def test_the_few_that_are_shown_are_the_first_of_all(most: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sideport.app.followup.waiting.LOOKED_AT", 2)
    for number in range(12):
        found = operated(f"P{number:02}", ago(16 + number % 5), phone="" if number % 4 == 0 else "1")
        if number % 3:
            seen(found, ago(15), "6/60" if number % 3 == 1 else "6/6")
    every, few = (waiting(unit=UNIT, today=TODAY, most=each) for each in (1000, most))
    assert few.late == every.late[:most]
    assert few.late_count == len(every.late) == 12
    values = [each.call.value for each in every.late]
    assert values == sorted(values, reverse=True)
