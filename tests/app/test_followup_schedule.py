"""When an operated eye is due, and in which order those who did not come are called."""

from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sideport.app.followup.contact import Absent, call_of
from sideport.app.followup.schedule import DueState, dues_of, next_visit, open_visit, window_on, windows
from sideport.errors import ImpossibleInputError
from sideport.knowledge import load_published

KNOWLEDGE = load_published()
SCHEDULE = windows(KNOWLEDGE)
OPERATED = date(2031, 3, 4)
NOT_YET, DUE, LATE, MISSED, SEEN, CLOSED = (
    DueState.NOT_YET, DueState.DUE, DueState.LATE, DueState.MISSED, DueState.SEEN, DueState.CLOSED,
)  # fmt: skip
PLAIN = Absent(late_d=10, tries=0, has_phone=True, only_eye=False, complication=False, not_good=False)


def after(days: int) -> date:
    return OPERATED + timedelta(days)


def states(today: int, seen: tuple[tuple[int, str], ...] = (), **closed: str) -> list[DueState]:
    said = {name.replace("_", " "): reason for name, reason in closed.items()}
    found = dues_of(
        operated=OPERATED, today=after(today), seen={(after(day), name) for day, name in seen}, closed=said,
        schedule=SCHEDULE,
    )  # fmt: skip
    return [due.state for due in found]


def test_the_schedule_is_day_1_week_1_to_2_week_4_to_8_month_6() -> None:
    """The visits that the unit's follow-up is built on; weeks are seven days."""
    assert [window.name for window in SCHEDULE] == ["day 1", "week 1 to 2", "week 4 to 8", "month 6"]
    assert [(window.opens_d, window.closes_d) for window in SCHEDULE[1:3]] == [(7, 14), (28, 56)]
    assert all(one.closes_d < other.opens_d for one, other in pairwise(SCHEDULE))


@pytest.mark.parametrize(
    ("today", "expected"),
    [
        (0, [NOT_YET, NOT_YET, NOT_YET, NOT_YET]),
        (1, [DUE, NOT_YET, NOT_YET, NOT_YET]),
        (3, [DUE, NOT_YET, NOT_YET, NOT_YET]),
        (4, [LATE, NOT_YET, NOT_YET, NOT_YET]),
        (7, [MISSED, DUE, NOT_YET, NOT_YET]),
        (15, [MISSED, LATE, NOT_YET, NOT_YET]),
        (56, [MISSED, MISSED, DUE, NOT_YET]),
        (57, [MISSED, MISSED, LATE, NOT_YET]),
    ],
)
def test_a_visit_is_due_then_late_then_missed(today: int, expected: list[DueState]) -> None:
    assert states(today) == expected


def test_an_examination_keeps_the_visit_that_its_day_falls_to_or_that_it_names() -> None:
    assert states(20, ((1, ""),)) == [SEEN, LATE, NOT_YET, NOT_YET]
    assert states(20, ((0, ""), (16, ""))) == [SEEN, SEEN, NOT_YET, NOT_YET]
    assert states(30, ((20, "week 4 to 8"),)) == [MISSED, MISSED, SEEN, NOT_YET]


def test_who_was_seen_later_is_not_called_for_what_was_missed() -> None:
    assert states(6, ((5, "week 1 to 2"),)) == [MISSED, SEEN, NOT_YET, NOT_YET]


def test_a_closed_visit_is_not_late_and_after_a_death_nothing_is_due() -> None:
    assert states(60, (), week_4_to_8="cannot come") == [MISSED, MISSED, CLOSED, NOT_YET]
    assert states(300, (), week_1_to_2="died") == [MISSED, CLOSED, CLOSED, CLOSED]


@given(st.integers(0, 500), st.sets(st.integers(0, 500)))
def test_at_most_one_visit_waits_and_late_days_are_counted_from_its_close(today: int, seen: set[int]) -> None:
    found = dues_of(
        operated=OPERATED, today=after(today), seen={(after(day), "") for day in seen if day <= today}, closed={},
        schedule=SCHEDULE,
    )  # fmt: skip
    waiting = [due for due in found if due.state in {DUE, LATE}]
    assert len(waiting) <= 1
    assert open_visit(found) == (waiting[0] if waiting else None)
    assert all((due.late_d > 0) == (due.state is LATE) for due in found)
    assert all(due.closes + timedelta(due.late_d) == after(today) for due in found if due.state is LATE)


def test_the_next_visit_is_the_first_that_can_still_be_kept() -> None:
    found = dues_of(operated=OPERATED, today=after(9), seen={(after(8), "")}, closed={}, schedule=SCHEDULE)
    coming = next_visit(found)
    assert coming is not None
    assert coming.opens == after(28)
    assert window_on(operated=OPERATED, day=after(200), schedule=SCHEDULE).name == "month 6"


def test_of_those_who_do_not_come_six_in_seven_are_seen_when_looked_for() -> None:
    """Congdon 2013, abstract: 51 % came unprompted, 93 % were seen in the end: 42 of the 49 in a hundred."""
    chance = call_of(absent=replace(PLAIN, late_d=0), knowledge=KNOWLEDGE).chance
    assert chance == pytest.approx(42 / 49)


@pytest.mark.parametrize("name", ["only_eye", "complication", "not_good"])
def test_what_makes_a_visit_worth_more_comes_first(name: str) -> None:
    more = replace(PLAIN, **{name: True})  # type: ignore[arg-type]
    assert call_of(absent=more, knowledge=KNOWLEDGE).value > call_of(absent=PLAIN, knowledge=KNOWLEDGE).value


@given(st.integers(0, 400), st.integers(0, 10), st.booleans())
def test_time_tries_and_a_missing_telephone_lower_the_chance(late: int, tries: int, phone: bool) -> None:
    absent = replace(PLAIN, late_d=late, tries=tries, has_phone=phone)
    base = call_of(absent=absent, knowledge=KNOWLEDGE)
    assert 0 < base.chance <= 1
    for worse in (replace(absent, late_d=late + 1), replace(absent, tries=tries + 1)):
        assert call_of(absent=worse, knowledge=KNOWLEDGE).chance < base.chance
    if phone:
        assert call_of(absent=replace(absent, has_phone=False), knowledge=KNOWLEDGE).chance < base.chance


@given(st.integers(0, 400), st.integers(0, 10), st.booleans(), st.booleans())
def test_the_reasons_multiply_to_the_value(late: int, tries: int, phone: bool, only: bool) -> None:
    call = call_of(absent=replace(PLAIN, late_d=late, tries=tries, has_phone=phone, only_eye=only), knowledge=KNOWLEDGE)
    product = 42 / 49
    for reason in call.reasons:
        assert reason.weight is not None
        product *= reason.weight
    assert call.value == pytest.approx(product)


def test_days_and_tries_below_zero_are_refused() -> None:
    for wrong in (replace(PLAIN, late_d=-1), replace(PLAIN, tries=-1)):
        with pytest.raises(ImpossibleInputError, match="counted from 0"):
            call_of(absent=wrong, knowledge=KNOWLEDGE)
