"""Entries: ids by RFC 9562, digests that notice any change, chains without gaps or forks."""

import json
import uuid
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sideport.errors import ImpossibleInputError
from sideport.record.canonical import canonical, parse_json
from sideport.record.entry import Entry, Head, JournalError, entry_from_line, entry_id_at, verify_chain
from sideport.record.kinds import Kind

from .said import PERSON, Writer, length, person

PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53), 2**53) | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0")),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text("abcé", max_size=3), inner, max_size=3),
    max_leaves=8,
)  # fmt: skip


def chain(count: int = 4) -> list[Entry]:
    ward = Writer("ward")
    first = ward.says(Kind.PERSON_REGISTERED, PERSON, person())
    return [first, *(ward.says(Kind.MEASUREMENT_TAKEN, PERSON, length(23 + step / 10)) for step in range(count - 1))]


def test_an_id_is_the_example_of_the_standard() -> None:
    """RFC 9562, appendix A.6: unix_ts_ms 0x017F22E279B0, rand_a 0xCC3, rand_b 0x18C4DC0C0C07398F."""
    random = (0xCC3 << 64 | 0x18C4DC0C0C07398F).to_bytes(10, "big")
    assert entry_id_at(wall_ms=0x017F22E279B0, random=random).upper() == "017F22E2-79B0-7CC3-98C4-DC0C0C07398F"


@given(st.integers(0, 2**48 - 1), st.binary(min_size=10, max_size=10))
def test_an_id_is_a_uuid_of_version_7_whose_time_comes_first(wall_ms: int, random: bytes) -> None:
    made = uuid.UUID(entry_id_at(wall_ms=wall_ms, random=random))
    assert (made.version, made.variant, made.int >> 80) == (7, uuid.RFC_4122, wall_ms)


@given(PLAIN)
def test_canonical_json_reads_back_and_is_one_text_for_one_value(value: object) -> None:
    text = canonical(value)
    assert parse_json(text) == value
    assert canonical(json.loads(json.dumps(value))) == text


@pytest.mark.parametrize("value", [float("nan"), float("inf"), "a\0b", "\ud800", {"a": ["\0"]}, 2**60])
def test_what_cannot_be_kept_is_refused_without_repeating_it(value: object) -> None:
    with pytest.raises(ImpossibleInputError, match="cannot keep"):
        canonical(value)


def test_a_nest_too_deep_is_refused_on_the_way_in_and_out() -> None:
    deep: list[object] = []
    for _ in range(60):
        deep = [deep]
    with pytest.raises(ImpossibleInputError):
        canonical(deep)
    with pytest.raises(ImpossibleInputError):
        parse_json("[" * 100_000)


def test_a_line_gives_the_entry_back() -> None:
    for entry in chain():
        assert entry_from_line(entry.line()) == entry


@pytest.mark.parametrize(
    ("name", "value"),
    [("author", "Somebody else"), ("unit", "Elsewhere"), ("sequence", 7), ("kind", "eye.found"), ("corrects", None),
     ("previous", "1" * 64), ("payload", {"x": 1}), ("at", "2031-03-04T12:00:09+00:00"), ("subject", "person/QI-002")],
)  # fmt: skip
def test_any_change_of_an_entry_is_noticed(name: str, value: object) -> None:
    ward = Writer("ward")
    first = ward.says(Kind.PERSON_REGISTERED, PERSON, person())
    second = ward.says(Kind.PERSON_CORRECTED, PERSON, person(age=68.0), corrects=first)
    line = json.loads(second.line()) | {name: value}
    with pytest.raises(JournalError, match=r"changed|not an entry"):
        entry_from_line(json.dumps(line))


@given(st.binary(max_size=60) | st.text(max_size=60))
def test_any_other_line_is_a_clear_error(line: bytes | str) -> None:
    with pytest.raises(JournalError):
        entry_from_line(line)


def test_a_whole_chain_is_verified_from_the_start_or_from_a_head() -> None:
    entries = chain()
    assert verify_chain(entries) == Head(4, entries[3].digest)
    assert verify_chain(entries[2:], Head(2, entries[1].digest)).sequence == 4


def test_a_gap_a_swap_and_a_changed_entry_break_the_chain() -> None:
    one, two, three, four = chain()
    for broken in ([one, three], [two, one], [one, two, replace(three, author="x"), four]):
        with pytest.raises(JournalError):
            verify_chain(broken)


def test_a_copied_folder_that_wrote_on_is_named_as_such() -> None:
    one, two, *_ = chain()
    copy = Writer("ward", head=Head(1, "5" * 64))
    with pytest.raises(JournalError, match="was copied"):
        verify_chain([one, copy.says(Kind.MEASUREMENT_TAKEN, PERSON, length(22.0)), two])
