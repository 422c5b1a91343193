"""The eye page: whose eye, which side, what to settle, which lens, why."""

from dataclasses import replace

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from sideport.app.planning.models import StoredPlan
from sideport.app.planning.pages import eye_page, matters_of
from sideport.app.planning.services import store_plan
from sideport.day.plan import DayPlan, DoseLine, EyeMoney, ReadinessItem, ReadyState, TonightItem
from sideport.knowledge import Basis
from sideport.risk.advice import TechniqueOption, TrolleyItem, WaterfallStep
from sideport.wound.technique import Technique

from .conftest import NOW


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


def test_a_chamber_lens_on_the_shelf_stands_by_and_is_not_to_be_fetched(client: Client, stored: StoredPlan) -> None:
    page = page_of(client, stored, "QI-102-left")
    plates = page[page.index('class="plates"') : page.index("<figure")]
    chamber = plates[plates.index('class="plate at-chamber"') :]
    assert "CHAMBER · shared" in chamber
    assert "+18.0\xa0D" in chamber
    assert "promised to none" in chamber
    assert "To fetch" not in chamber
    sulcus = plates[plates.index('class="plate at-sulcus"') : plates.index('class="plate at-chamber"')]
    assert "SULCUS · shared" in sulcus
    assert "promised to none" in sulcus


def test_each_lens_says_how_many_see_and_how_many_land_far_out(client: Client, stored: StoredPlan) -> None:
    page = page_of(client, stored, "QI-101-right")
    table = page[page.index("lens-table") : page.index('id="cut"')]
    for head, value in (("Over 2 D out", "0.4%"), ("Sees 6/12", "74%"), ("Sees 6/18", "88%")):
        assert f'data-label="{head}" class="number"><span>{value}</span>' in table


def test_the_cut_stands_beside_its_runner_up_with_passage_seal_and_ways_to_more_room(
    client: Client, stored: StoredPlan
) -> None:
    page = page_of(client, stored, "QI-101-right")
    cut = page[page.index('id="cut"') : page.index('id="try"')]
    for words in ("Second best", "94%", "98%", "Seals without a suture", "6.50\xa0mm to 7.00\xa0mm",
                  "Lengthen both ends.", "12 own eyes of this surgeon carry 30%"):  # fmt: skip
        assert words in cut, words


def test_readiness_trolley_money_doses_and_every_operation_stand_on_the_page(
    client: Client, plan: DayPlan, db: None
) -> None:
    eye = plan.eyes[0]
    practice = ("practice", Basis.COMMON_PRACTICE)
    stop = ReadinessItem("sugar", "Blood sugar", ReadyState.STOP, "19 mmol/L.", "Bring it down first.", *practice)
    done = ReadinessItem("consent", "Consent", ReadyState.DONE, "Signed.", "", *practice)
    told = replace(
        eye,
        readiness=(done, stop),
        trolley=(TrolleyItem("Vitrectomy set", "a tear", 0.021, False, *practice),),
        money=EyeMoney(120.0, 3.5, (), 90.0, 0.5, 45.0, 78.5, Technique.ECCE, 110.0, None),
        doses=(DoseLine("Lidocaine", "block", "6 mL", 154.69, 7.79, "20 mg/mL", "3 mg/kg", *practice, "No order."),),
        technique=replace(
            eye.technique,
            options=(TechniqueOption(Technique.PHACO, False, (), ("Ines Calder",), 0.77, 2.7),),
        ),
        risk=replace(
            eye.risk,
            waterfall=(WaterfallStep("No factor", 1.0, 0.01, 0.01, *practice),
                       WaterfallStep("Brown", 2.99, 0.035, 0.025, *practice)),
        ),
    )  # fmt: skip
    stored = store_plan(plan=replace(plan, eyes=(told, *plan.eyes[1:])), now=NOW)
    page = page_of(client, stored, eye.key)
    ready = page[page.index('id="ready"') :]
    assert ready.index("Bring it down first.") < ready.index("Done: 1")
    assert "2.1%" in page[page.index('id="kit"') : page.index('id="cost"')]
    assert "45.00\xa0QID" in page[page.index('id="cost"') : page.index('id="ready"')]
    doses = page[page.index('id="doses"') :]
    assert "154.6\xa0mg, 7.7\xa0mL of 20 mg/mL" in doses
    assert doses.index("No order.") < doses.index("154.6")
    assert "Phacoemulsification (not possible here)" in page
    assert "1.0%" in page[page.index('id="risk"') : page.index('id="operation"')]


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


def test_every_drawing_has_words_for_those_who_do_not_see_it(client: Client, stored: StoredPlan) -> None:
    """The lenses, the planned cut, and the cut that is tried."""
    page = page_of(client, stored, "QI-101-right")
    assert page.count('role="img"') == 3
    assert page.count("<desc ") == 3


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
