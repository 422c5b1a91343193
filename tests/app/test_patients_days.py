"""A day is set and planned from what is recorded; each plan is a new one beside the earlier."""

from dataclasses import replace
from datetime import date

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import Settings

from sideport.app.people.roles import Role
from sideport.app.planning.days import plan_recorded
from sideport.app.planning.documents import plan_of
from sideport.app.planning.models import StoredPlan
from sideport.app.record.models import Day, JournalEntry
from sideport.app.record.models import Plan as PlanRow
from sideport.app.record.queries import request_for
from sideport.day import plan_day
from sideport.knowledge import load_published
from sideport.optics.side import Side

from .cast import OTHER_UNIT, UNIT, as_role
from .register import DAY, NOW, SHIULI, WRITER, examined, listed, on_register, unit_is_set

pytestmark = pytest.mark.django_db


def day_address(name: str) -> str:
    return reverse(name, args=[DAY.isoformat()])


def test_a_listed_eye_is_planned_as_the_pure_plan_of_the_records_request(client: Client) -> None:
    unit_is_set()
    listed(examined(on_register()))
    response = client.post(day_address("plan-now"))
    stored = StoredPlan.objects.get()
    assert response.headers["Location"] == reverse("day", args=[stored.pk])
    plan, request = plan_of(stored), request_for(unit=UNIT, day=DAY)
    pure = plan_day(request, load_published(), seed=0, inputs_sha256=plan.inputs_sha256)
    assert plan == pure
    (eye,) = plan.eyes
    assert eye.slot is not None
    assert (eye.person_id, eye.side, eye.lens is not None) == ("QR-1", Side.RIGHT, True)
    assert PlanRow.objects.get().digest == stored.digest


def test_an_eye_without_any_finding_or_reading_is_in_the_plan_all_the_same(client: Client) -> None:
    """Nothing vanishes: what was put on the list is planned, or said to be off it with the reason."""
    unit_is_set()
    listed(on_register(SHIULI), side=Side.LEFT)
    client.post(day_address("plan-now"))
    (eye,) = plan_of(StoredPlan.objects.get()).eyes
    assert (eye.person_id, eye.side) == ("QR-2", Side.LEFT)
    assert eye.flags


def test_planning_again_after_a_change_stores_another_plan_and_the_first_stays(client: Client) -> None:
    unit_is_set()
    listed(examined(on_register()))
    client.post(day_address("plan-now"))
    listed(examined(on_register(SHIULI), Side.LEFT), Side.LEFT)
    client.post(day_address("plan-now"))
    assert [len(plan_of(stored).eyes) for stored in StoredPlan.objects.order_by("pk")] == [1, 2]
    page = client.get(day_address("day-list")).content.decode()
    assert page.index("newest") < page.index("earlier")


def test_the_story_shows_the_newest_plan_of_the_eye(client: Client) -> None:
    unit_is_set()
    row = listed(examined(on_register()))
    client.post(day_address("plan-now"))
    page = client.get(reverse("story", args=[row.key, "right"])).content.decode()
    eye = plan_of(StoredPlan.objects.get()).eyes[0]
    assert eye.lens is not None
    assert eye.lens.model in page[page.index('id="planned"') :]
    assert reverse("eye", args=[StoredPlan.objects.get().pk, eye.key]) in page


@pytest.mark.parametrize(("is_set", "said"), [(False, "Set the day first"), (True, "Nobody is listed")])
def test_what_cannot_be_planned_says_what_to_do_and_stores_nothing(client: Client, is_set: bool, said: str) -> None:
    if is_set:
        unit_is_set()
    response = client.post(day_address("plan-now"))
    assert response.status_code == 409
    assert said in response.content.decode()
    assert not StoredPlan.objects.exists()


def test_a_day_is_set_from_what_the_last_day_had(client: Client) -> None:
    unit_is_set(day=date(2031, 2, 25))
    page = client.get(day_address("day-list")).content.decode()
    assert 'value="08:00"' in page
    assert "Rigid A" in page
    sent = {
        "starts": "8.30 am",
        "ends": "15:00",
        "tables": "2",
        "turnover_min": "7",
        "team": ["Wren Hollis"],
        "lenses": ["Rigid A"],
    }
    client.post(day_address("day-set"), sent)
    assert Day.objects.filter(day=DAY).exists()
    listed(examined(on_register()))
    request = request_for(unit=UNIT, day=DAY)
    assert (request.settings.tables, f"{request.settings.starts:%H:%M}", len(request.lenses)) == (2, "08:30", 1)


@pytest.mark.parametrize(
    ("cell", "value", "said"),
    [("ends", "07:00", "not after its start"), ("tables", "0", "one operating table"),
     ("starts", "early", "is not a time"), ("team", "Nobody Known", "not one of the available")],
)  # fmt: skip
def test_a_day_that_cannot_be_is_not_set(client: Client, cell: str, value: str, said: str) -> None:
    unit_is_set(day=date(2031, 2, 25))
    sent = {
        "starts": "08:00",
        "ends": "16:00",
        "tables": "1",
        "team": ["Wren Hollis"],
        "lenses": ["Rigid A"],
        cell: value,
    }
    response = client.post(day_address("day-set"), sent)
    assert said in response.content.decode()
    assert not Day.objects.filter(day=DAY).exists()


def test_the_days_lead_to_each_other(client: Client) -> None:
    unit_is_set()
    assert day_address("day-list") in client.get(reverse("days")).content.decode()
    assert client.post(reverse("days"), {"day": "4/3/2031"}).headers["Location"] == day_address("day-list")
    assert client.get(reverse("day-list", args=["someday"])).status_code == 404


def test_a_days_list_says_what_is_still_to_measure_and_stays_in_its_unit(client: Client) -> None:
    listed(on_register())
    assert "axial length, k1, k2" in client.get(day_address("day-list")).content.decode()
    assert "Tansy" not in as_role(Role.NURSE, unit=OTHER_UNIT).get(day_address("day-list")).content.decode()


def test_a_plan_made_in_the_demo_keeps_the_demo_open(settings: Settings) -> None:
    settings.DEMO_DIGESTS = frozenset()
    unit_is_set()
    listed(examined(on_register()))
    stored = plan_recorded(unit=UNIT, day=DAY, actor=WRITER, now=NOW, invented=True)
    assert stored.digest in settings.DEMO_DIGESTS
    listed(examined(on_register(SHIULI)))
    real = plan_recorded(unit=UNIT, day=DAY, actor=WRITER, now=NOW)
    assert real.digest not in settings.DEMO_DIGESTS


def test_the_same_record_gives_the_same_plan() -> None:
    unit_is_set()
    listed(examined(on_register()))
    one = plan_recorded(unit=UNIT, day=DAY, actor=WRITER, now=NOW)
    entries = JournalEntry.objects.count()
    two = plan_recorded(unit=UNIT, day=DAY, actor=WRITER, now=NOW)
    assert (one.pk, entries) == (two.pk, JournalEntry.objects.count())
    assert replace(plan_of(one)) == plan_of(two)
