"""Who is asked about, and who is not: people registered twice."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sideport.eye.person import Sex
from sideport.record.doubles import Card, alike, alike_among, comparable, phone_tail

TANSY = Card("Q-1", "Tansy Weir", 61.0, Sex.FEMALE, "0155-000 1234", "Lantern Bay")

SAME = {
    "the words of the name in another order": replace(TANSY, person_id="Q-2", name="WEIR, Tansy", phone="", place=""),
    "a slip of the pen": replace(TANSY, person_id="Q-2", name="Tansi Weir", age_years=60.0, phone=""),
    "another script, one telephone": Card("Q-2", "টানসি ওয়্যার", 61.0, Sex.FEMALE, "+99 155 000 1234"),
    "digits of another script": replace(TANSY, person_id="Q-2", name="तांसी", phone="०१५५ ००० १२३४", place=""),
    "a name alone": Card("Q-2", "Tansy Weir"),
}
OTHER = {
    "husband and wife with one telephone": Card("Q-2", "Bram Weir", 63.0, Sex.MALE, "01550001234", "Lantern Bay"),
    "mother and daughter": Card("Q-2", "Tamsin Weir-Oake", 35.0, Sex.FEMALE, "01550001234", "Lantern Bay"),
    "a namesake thirty years younger": replace(TANSY, person_id="Q-2", age_years=31.0, phone="", place=""),
    "a namesake of the other sex": replace(TANSY, person_id="Q-2", sex=Sex.MALE, phone="", place=""),
    "nothing in common": Card("Q-2", "Odo Finch", 61.0, Sex.FEMALE),
}


@pytest.mark.parametrize("case", SAME)
def test_what_may_be_one_person_is_asked_about(case: str) -> None:
    found = alike(TANSY, SAME[case])
    assert found is not None
    assert (found.person_id, found.other) == ("Q-2", "Q-1")
    assert not any("Tansy" in words for words in found.why)


@pytest.mark.parametrize("case", OTHER)
def test_relatives_and_namesakes_are_not_asked_about(case: str) -> None:
    assert alike(TANSY, OTHER[case]) is None


cards = st.builds(
    Card,
    person_id=st.uuids().map(str),
    name=st.sampled_from(["Tansy Weir", "Tansi Weir", "weir tansy", "Odo Finch", "শিউলি নদী", "मीरा घाट"]),
    age_years=st.none() | st.integers(0, 100).map(float),
    sex=st.none() | st.sampled_from(Sex),
    phone=st.sampled_from(["", "01550001234", "1550001234", "999"]),
    place=st.sampled_from(["", "Lantern Bay"]),
)


@given(one=cards, other=cards)
def test_the_order_of_two_people_does_not_matter(one: Card, other: Card) -> None:
    assert alike(one, other) == alike(other, one)


@given(register=st.lists(cards, max_size=12, unique_by=lambda card: card.person_id))
def test_comparing_only_neighbours_finds_all_that_share_a_name_or_a_telephone(register: list[Card]) -> None:
    every = {
        (found.person_id, found.other)
        for at, one in enumerate(register)
        for other in register[:at]
        if (found := alike(one, other)) is not None
    }
    assert {(found.person_id, found.other) for found in alike_among(register)} == every


@given(register=st.lists(cards, max_size=12, unique_by=lambda card: card.person_id))
def test_asking_about_new_people_gives_their_pairs_of_the_whole(register: list[Card]) -> None:
    new = {card.person_id for card in register[:3]}
    whole = [pair for pair in alike_among(register) if {pair.person_id, pair.other} & new]
    assert list(alike_among(register, new)) == whole


def test_names_are_compared_in_one_form_of_each_letter() -> None:
    """Unicode 15, section 12.2: two encodings of one Bengali vowel sign."""
    assert comparable("কো") == comparable("ক\u09c7\u09be")


def test_short_numbers_tell_nobody_apart() -> None:
    assert phone_tail("999") == ""
    assert phone_tail("+880 ১৫৫-০০০ ১২৩৪") == "50001234"
