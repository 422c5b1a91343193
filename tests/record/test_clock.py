"""The hybrid clock: always forward, near the wall clock, the same order as text and as numbers."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sideport.errors import ImpossibleInputError
from sideport.record.clock import Stamp, parse_stamp, tick

WALL = st.integers(0, 2**48 - 1)
STAMPS = st.builds(
    Stamp, WALL, st.integers(0, 2**24 - 2), st.text("abcdefghijklmnopqrstuvwxyz0123456789", min_size=1, max_size=9)
)


@given(STAMPS, WALL)
def test_a_new_stamp_is_greater_than_all_that_was_seen_wherever_the_clock_stands(last: Stamp, now_ms: int) -> None:
    assert tick(last, device="ward", now_ms=now_ms) > last


@given(STAMPS, WALL)
def test_the_stamp_never_runs_ahead_of_both_clocks(last: Stamp, now_ms: int) -> None:
    assert tick(last, device="ward", now_ms=now_ms).wall_ms == max(last.wall_ms, now_ms)


@given(st.integers(1, 2**40), st.integers(1, 10))
def test_the_count_starts_anew_when_the_wall_clock_moves_on(now_ms: int, later: int) -> None:
    first = tick(None, device="ward", now_ms=now_ms)
    second = tick(first, device="ward", now_ms=now_ms)
    assert (first.count, second.count) == (0, 1)
    assert tick(second, device="ward", now_ms=now_ms + later).count == 0


@given(STAMPS, STAMPS)
def test_texts_sort_as_stamps_do_and_read_back(one: Stamp, other: Stamp) -> None:
    assert parse_stamp(str(one)) == one
    assert (str(one) < str(other)) == (one < other)


@pytest.mark.parametrize(
    "written", ["", "1.2.a", "0000000003e8.000001.", "0000000003e8.000001.Ward", "0000000003E8.000001.w"]
)
def test_what_is_no_stamp_is_refused(written: str) -> None:
    with pytest.raises(ImpossibleInputError):
        parse_stamp(written)


@pytest.mark.parametrize("now_ms", [-1, 2**48])
def test_a_clock_outside_the_calendar_is_refused(now_ms: int) -> None:
    with pytest.raises(ImpossibleInputError, match="date and time"):
        tick(None, device="ward", now_ms=now_ms)


def test_a_full_count_is_refused_and_not_wrapped() -> None:
    with pytest.raises(ImpossibleInputError, match="one millisecond"):
        tick(Stamp(5, 2**24 - 1, "a"), device="a", now_ms=5)
