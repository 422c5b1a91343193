"""The demo unit lets one walk in, and nothing that is not the demo unit does."""

import hashlib
from dataclasses import replace
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import Settings

from sideport.app.demo_marker import demo_digests, mark_demo
from sideport.app.people.models import Account
from sideport.app.people.roles import Role
from sideport.app.people.services import close_demo_accounts
from sideport.app.planning.models import StoredPlan
from sideport.app.planning.services import store_plan
from sideport.day.plan import DayPlan

from .conftest import NOW


@pytest.fixture
def demo(stored: StoredPlan, settings: Settings) -> StoredPlan:
    """The sample day, marked as invented."""
    settings.DEMO_DIGESTS = frozenset({stored.digest})
    return stored


def walk_in(role: str = "lead-surgeon", **more: str) -> tuple[Client, int]:
    """A browser that tried to walk in, and the answer."""
    browser = Client(**more)
    return browser, browser.post(reverse("walk-in"), {"role": role}).status_code


@pytest.mark.parametrize("role", Role)
def test_one_click_walks_in_as_anybody(demo: StoredPlan, role: Role) -> None:
    browser, status = walk_in(role.value)
    assert status == 302
    page = browser.get("/", follow=True).content.decode()
    assert "Demo unit: everybody in it is invented" in page
    assert not Account.objects.get().has_usable_password()


def test_a_unit_that_is_not_the_demo_has_no_such_door(stored: StoredPlan) -> None:
    assert walk_in()[1] == 404
    assert "Walk in" not in Client().get(reverse("sign-in")).content.decode()
    assert not Account.objects.exists()


def test_one_real_plan_in_the_database_closes_the_door_and_those_who_are_in_are_out(
    demo: StoredPlan, plan: DayPlan
) -> None:
    browser, _ = walk_in()
    day = reverse("day", args=[demo.pk])
    assert browser.get(day).status_code == 200
    store_plan(plan=replace(plan, seed=77), now=NOW)
    assert browser.get(day).headers["Location"].startswith("/sign-in/")
    assert walk_in()[1] == 404


def test_nobody_walks_in_from_another_machine(demo: StoredPlan, settings: Settings) -> None:
    assert walk_in(REMOTE_ADDR="192.168.1.20")[1] == 403
    settings.HTTPS = True
    assert walk_in(REMOTE_ADDR="192.168.1.20")[1] == 404
    assert walk_in()[1] == 404, "nor at all where other machines may connect"


def test_people_made_in_the_demo_end_with_it(demo: StoredPlan) -> None:
    browser, _ = walk_in("administrator")
    browser.post(reverse("person-add"), {"name": "Later", "username": "later", "role": "administrator"})
    later = Account.objects.get(username="later")
    assert later.invented
    assert close_demo_accounts() == 2
    later.refresh_from_db()
    assert not later.is_active


def test_an_invented_person_can_choose_no_password_and_no_second_step(demo: StoredPlan) -> None:
    browser, _ = walk_in()
    new = {"old_password": "", "password": "nine herons on a wall", "again": "nine herons on a wall"}
    assert browser.post(reverse("own-password"), new).status_code == 200
    assert browser.get(reverse("second-enrol")).status_code == 403
    assert not Account.objects.get().has_usable_password()


def test_the_marker_names_plans_and_a_real_plan_is_not_among_them(tmp_path: Path) -> None:
    plan = tmp_path / "plan.json"
    plan.write_text("invented", encoding="utf-8")
    assert demo_digests(tmp_path) == frozenset()
    mark_demo(tmp_path)
    assert demo_digests(tmp_path) == {hashlib.sha256(b"invented").hexdigest()}
    plan.write_text("real", encoding="utf-8")
    assert demo_digests(tmp_path) == frozenset()


@pytest.mark.parametrize("written", ["", "{}", "[1]", '{"plans": 7}', "not json"])
def test_a_broken_marker_marks_nothing(tmp_path: Path, written: str) -> None:
    (tmp_path / "plan.json").write_text("invented", encoding="utf-8")
    (tmp_path / "demo.json").write_text(written, encoding="utf-8")
    assert demo_digests(tmp_path) == frozenset()
    assert demo_digests(None) == frozenset()
