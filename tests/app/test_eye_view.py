"""The eye page: whose eye, which side, what to settle, which lens, why."""

from dataclasses import replace

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from sideport.app.planning.models import StoredPlan
from sideport.app.planning.pages import eye_page, matters_of
from sideport.day.plan import DayPlan, TonightItem


def page_of(client: Client, stored: StoredPlan, key: str) -> str:
    """The page of one eye."""
    response = client.get(reverse("eye", args=[stored.pk, key]))
    assert response.status_code == 200
    return response.content.decode()


def test_every_eye_has_a_page(client: Client, stored: StoredPlan, plan: DayPlan) -> None:
    for eye in plan.eyes:
        page = page_of(client, stored, eye.key)
        assert f'side-{eye.side.value} big">' in page
        assert f'side-{eye.side.other.value} big">' not in page


@pytest.mark.parametrize("key", ["QI-101-left", "nobody", "QI-101-right'--"])
def test_an_unknown_eye_is_not_found(client: Client, stored: StoredPlan, key: str) -> None:
    assert client.get(reverse("eye", args=[stored.pk, key])).status_code == 404


def test_flags_come_before_the_lens_with_action_and_source(client: Client, stored: StoredPlan) -> None:
    page = page_of(client, stored, "QI-107-right")
    settle = page[page.index('id="settle"') : page.index('id="lens"')]
    assert "24.90 and 22.10 mm" in settle
    assert "a second observer reads the side aloud" in settle
    assert reverse("source", args=["practice"]) in settle


def test_bag_sulcus_and_chamber_stand_in_frames_of_their_own(client: Client, stored: StoredPlan) -> None:
    page = page_of(client, stored, "QI-104-right")
    plates = page[page.index('class="plates"') : page.index("<figure")]
    for place, power in (("bag", "−2.0"), ("sulcus", "−3.0"), ("chamber", "−5.5")):
        plate = plates[plates.index(f'class="plate at-{place}"') :]
        plate = plate[: plate.index("</div>")]
        assert place.upper() in plate
        assert f"{power}\xa0D" in plate


def test_what_the_shelf_lacks_is_named(client: Client, stored: StoredPlan) -> None:
    page = page_of(client, stored, "QI-105-right")
    assert "None given: nothing acceptable is on the shelf." in page
    assert "nearest on the shelf misses by 1.62 D" in page


def test_readings_stand_as_they_were_written(client: Client, stored: StoredPlan) -> None:
    page = page_of(client, stored, "QI-101-right")
    for written in ("23,24", "43.50 @ 175", "7.54 mm"):
        assert written in page


def test_belief_says_where_it_comes_from(client: Client, stored: StoredPlan) -> None:
    assert "3 contact ultrasound readings</a>" in page_of(client, stored, "QI-101-right")
    assert "population only" in page_of(client, stored, "QI-106-left")


def test_odds_name_their_source_and_what_was_not_recorded(client: Client, stored: StoredPlan) -> None:
    page = page_of(client, stored, "QI-101-right")
    risk = page[page.index('id="risk"') : page.index('id="operation"')]
    assert reverse("source", args=["narendran2009"]) in risk
    assert "×2.99" in risk
    assert "Not recorded, so counted as absent: axial length over 26 mm" in risk


def test_both_drawings_have_words_for_those_who_do_not_see_them(client: Client, stored: StoredPlan) -> None:
    page = page_of(client, stored, "QI-101-right")
    assert page.count('role="img"') == 2
    assert page.count("<desc ") == 2


def test_a_referred_eye_shows_no_cut_and_no_strip(client: Client, stored: StoredPlan) -> None:
    page = page_of(client, stored, "QI-108-left")
    assert "No cut is planned." in page
    assert "<figure" not in page


def test_text_from_the_register_cannot_act(client: Client, stored: StoredPlan) -> None:
    page = page_of(client, stored, "QI-101-right")
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert" in page


def test_neighbours_follow_the_list(client: Client, stored: StoredPlan, plan: DayPlan) -> None:
    for before, eye in zip(plan.eyes, plan.eyes[1:], strict=False):
        page = eye_page(stored, eye.key)
        assert page is not None
        assert page.before == before
    first, last = eye_page(stored, plan.eyes[0].key), eye_page(stored, plan.eyes[-1].key)
    assert first is not None
    assert first.before is None
    assert last is not None
    assert last.after is None


def test_an_eye_takes_three_queries_and_four_for_its_reader(
    client: Client, stored: StoredPlan, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    page_of(client, stored, "QI-101-right")
    with django_assert_num_queries(7):
        page_of(client, stored, "QI-102-left")


def test_what_the_day_found_stands_first_and_nothing_stands_twice(stored: StoredPlan, plan: DayPlan) -> None:
    stop = TonightItem("stop", "QI-105-right", "The shelf is bare.", "Fetch.")
    again = TonightItem("warn", "QI-105-right", plan.eyes[4].flags[0].message, "Fetch.")
    found = matters_of(replace(plan, tonight=(again, stop)), plan.eyes[4])
    assert [(matter.message, matter.flag is None) for matter in found] == [
        ("The shelf is bare.", True), (plan.eyes[4].flags[0].message, False)]  # fmt: skip
