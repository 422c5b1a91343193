"""The day page answers: what must I sort out tonight, and what happens tomorrow?"""

from dataclasses import replace

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from sideport.app.planning.models import StoredPlan
from sideport.app.planning.services import store_plan
from sideport.day.plan import DayPlan, Taught
from sideport.risk.team import Grade

from .conftest import NOW


@pytest.fixture
def page(client: Client, stored: StoredPlan) -> str:
    response = client.get(reverse("day", args=[stored.pk]))
    assert response.status_code == 200
    return response.content.decode()


def test_the_start_leads_to_the_newest_day(client: Client, stored: StoredPlan) -> None:
    assert reverse("day", args=[stored.pk]) in client.get("/").content.decode()


def test_a_missing_plan_is_not_found(client: Client, stored: StoredPlan) -> None:
    response = client.get(reverse("day", args=[stored.pk + 1]))
    assert response.status_code == 404
    assert "Nothing stands at this address" in response.content.decode()


def test_tonight_stands_before_the_list_worst_first(page: str, plan: DayPlan) -> None:
    places = [page.index(item.message.replace("'", "&#x27;")) for item in plan.tonight]
    assert places == sorted(places)
    assert page.index('id="tonight"') < places[0]
    assert places[-1] < page.index('id="list"')


def test_each_thing_to_sort_out_leads_to_its_eye(page: str, stored: StoredPlan, plan: DayPlan) -> None:
    tonight = page[page.index('id="tonight"') : page.index('id="facts"')]
    for item in plan.tonight:
        if item.eye_key:
            assert reverse("eye", args=[stored.pk, item.eye_key]) in tonight


def test_every_eye_stands_on_the_page_once_as_a_row(page: str, plan: DayPlan) -> None:
    for eye in plan.eyes:
        assert page.count(f'<tr id="{eye.key}">') == 1


def test_a_row_says_side_signed_power_and_place(page: str) -> None:
    row = page[page.index('<tr id="QI-104-right">') :]
    row = row[: row.index("</tr>")]
    assert "RIGHT" in row
    assert "LEFT" not in row
    assert '−2.0\xa0D</span> <span class="place place-bag">BAG' in row
    assert '−3.0\xa0D</span> <span class="place place-sulcus">SULCUS' in row


def test_an_eye_without_a_lens_says_so(page: str) -> None:
    row = page[page.index('<tr id="QI-105-right">') :]
    assert row[: row.index("</tr>")].count("None given") == 2


def test_eyes_off_the_list_say_why(page: str) -> None:
    assert "Referred: the lens lies in the vitreous" in page[page.index('id="off-list"') :]


def test_a_missing_price_is_said_and_not_summed(page: str) -> None:
    cost = page[page.index('id="cost"') :]
    assert "no price" in cost
    assert "85.50\xa0QID" in cost


def test_what_is_worth_measuring_again_tonight_leads_to_its_eye_with_the_gain(page: str, stored: StoredPlan) -> None:
    worth = page[page.index('id="worth"') : page.index('id="facts"')]
    assert "39 → 76" in worth
    assert "of 100 at 6/12 or better" in worth
    assert f"{reverse('eye', args=[stored.pk, 'QI-106-left'])}#measurements" in worth
    assert "raise the chance of 6/12 from 39 to 76 in 100" in worth


@pytest.mark.django_db
def test_a_day_with_nothing_to_measure_again_has_no_such_panel(client: Client, plan: DayPlan) -> None:
    stored = store_plan(plan=replace(plan, remeasure=()), now=NOW)
    assert "Worth measuring" not in client.get(reverse("day", args=[stored.pk])).content.decode()


def test_a_shared_backup_says_so(page: str) -> None:
    row = page[page.index('<tr id="QI-102-left">') :]
    assert "SULCUS · shared" in row[: row.index("</tr>")]


@pytest.mark.django_db
def test_teaching_says_whom_at_what_cost_and_within_what_margin(client: Client, plan: DayPlan) -> None:
    eye = plan.eyes[0]
    taught = Taught("Pip Arden", Grade.TRAINEE, 2, (eye.key,), ("Ines Calder",), 0.004,
                    "Pip Arden operates on 1 of 2 wanted.")  # fmt: skip
    teaching = replace(plan, taught=(taught,), all_senior_tears=0.206, training_cost_tears=0.004, harm_margin=0.25)
    stored = store_plan(plan=teaching, now=NOW)
    page = client.get(reverse("day", args=[stored.pk])).content.decode()
    part = page[page.index('id="teaching"') : page.index('id="kit"')]
    assert "0.206" in part
    assert "teaching adds 0.004" in part
    assert "25%" in part
    assert "Pip Arden operates on 1 of 2 wanted. With Ines Calder." in part
    assert reverse("eye", args=[stored.pk, eye.key]) in part


def test_what_is_short_of_stock_is_said_beside_what_to_lay_out(client: Client, plan: DayPlan, db: None) -> None:
    short = replace(plan.kit[0], in_stock=0.0, short=1.0)
    stored = store_plan(plan=replace(plan, kit=(short, *plan.kit[1:])), now=NOW)
    page = client.get(reverse("day", args=[stored.pk])).content.decode()
    assert "1 short" in page[page.index('id="kit"') :]


def test_names_carry_their_language(page: str) -> None:
    assert '<bdi lang="bn">রুক্মিণী বিশ্বাস</bdi>' in page
    assert '<bdi lang="hi">कृष्णा विश्वकर्मा</bdi>' in page


def test_the_caution_and_the_versions_stand_on_the_page(page: str, plan: DayPlan) -> None:
    assert "Decision support for licensed staff" in page
    assert plan.knowledge_version in page


def test_an_older_plan_says_that_a_newer_one_is_stored(client: Client, stored: StoredPlan, plan: DayPlan) -> None:
    newer = store_plan(plan=replace(plan, seed=2), now=NOW)
    assert "A newer plan is stored" in client.get(reverse("day", args=[stored.pk])).content.decode()
    assert "A newer plan is stored" not in client.get(reverse("day", args=[newer.pk])).content.decode()


def test_the_plan_is_parsed_once_and_a_page_asks_for_session_person_second_step_plan_and_log(
    client: Client, stored: StoredPlan, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    address = reverse("day", args=[stored.pk])
    with django_assert_num_queries(7):
        client.get(address)
    with django_assert_num_queries(6):
        client.get(address)
