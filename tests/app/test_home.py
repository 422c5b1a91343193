"""The first page shows each role what it needs first, and nothing that it may not see."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from sideport.app.home.pages import MAKERS, PARTS
from sideport.app.people.models import ReadLog
from sideport.app.people.roles import RIGHTS, Permission, Role
from sideport.app.planning.models import StoredPlan

from .cast import OTHER_UNIT, as_role
from .register import SHIULI, TANSY, examined, listed, on_register, unit_is_set

pytestmark = pytest.mark.django_db

SEES_NAMES = {role for role in Role if Permission.SEE_PATIENTS in RIGHTS[role].permissions}


def home(role: Role, unit: str | None = None) -> str:
    client = as_role(role, unit=unit) if unit else as_role(role)
    response = client.get(reverse("home"))
    assert response.status_code == 200
    return response.content.decode()


def test_every_role_has_parts_that_exist() -> None:
    assert set(PARTS) == set(Role)
    assert {name for names in PARTS.values() for name in names} == set(MAKERS)


@pytest.mark.parametrize("role", Role)
def test_the_first_page_of_an_empty_unit_says_what_to_do_and_holds_no_hole(role: Role) -> None:
    page = home(role)
    assert "None" not in page
    if role is Role.LEAD_SURGEON:
        assert "sideport plan FOLDER" in page
        assert reverse("import") in page


def test_the_lead_surgeon_sees_what_to_sort_out_tonight_worst_first(stored: StoredPlan) -> None:
    page = home(Role.LEAD_SURGEON)
    assert reverse("day", args=[stored.pk]) in page
    assert page.index("Tonight") < page.index("Stop") < page.index("Waiting for an answer")
    assert reverse("eye", args=[stored.pk, "QI-107-right"]) in page


@pytest.mark.parametrize("role", [Role.NURSE, Role.TRAINEE, Role.SURGEON])
def test_theatre_sees_its_list_in_the_order_of_operating(stored: StoredPlan, role: Role) -> None:
    page = home(role)
    assert "Theatre list" in page
    assert page.index("No. 1,") < page.index("No. 2,")


def test_the_technician_sees_the_eyes_that_lack_readings() -> None:
    day = timezone.localdate() + timedelta(days=3)
    listed(examined(on_register()), day=day)
    row = listed(on_register(SHIULI), day=day)
    page = home(Role.TECHNICIAN)
    assert "axial length, k1, k2" in page
    assert reverse("readings", args=[row.key, "right"]) in page
    assert "Tansy" not in page
    assert "1 eye with length and both K readings" in page


def test_the_store_sees_boxes_and_what_to_fetch_and_nobodys_name(stored: StoredPlan) -> None:
    unit_is_set()
    page = home(Role.STORE)
    assert reverse("shelf", args=[stored.pk]) in page
    assert "21" in page
    for name in ("Tansy", "Juniper", 'name="q"'):
        assert name not in page


def test_an_auditor_sees_what_is_on_the_record(stored: StoredPlan) -> None:
    page = home(Role.AUDITOR)
    assert "On the record" in page
    assert "No operation is recorded yet" in page
    assert reverse("reads") in page


@pytest.mark.parametrize("role", Role)
def test_names_on_the_first_page_are_noted_as_read(stored: StoredPlan, role: Role) -> None:
    page = home(role)
    named = "Tansy" in page or "Juniper" in page
    assert ReadLog.objects.filter(subject="home").exists() == named
    assert not named or role in SEES_NAMES


@pytest.mark.parametrize("role", Role)
def test_another_units_first_page_holds_nothing_of_this_one(stored: StoredPlan, role: Role) -> None:
    listed(examined(on_register(TANSY)), day=timezone.localdate())
    page = home(role, OTHER_UNIT)
    for word in ("Tansy", "Juniper", "Quill Island", f"/plans/{stored.pk}/"):
        assert word not in page


def test_the_navigation_leads_only_where_a_role_may_go(stored: StoredPlan) -> None:
    for role in Role:
        client, page = as_role(role), home(role)
        for name in ("patients", "days", "tasks", "import", "people", "reads"):
            may = client.get(reverse(name)).status_code == 200
            assert (f'href="{reverse(name)}"' in page.split("</nav>")[0]) == may, (role, name)


def test_the_anonymous_are_asked_who_they_are() -> None:
    assert Client().get("/").headers["Location"].startswith("/sign-in/")
