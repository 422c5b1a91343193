"""Accounts in a real browser: the first run from the printed code to the day, and the curtain over an idle page."""

import time
from typing import TYPE_CHECKING

import pytest
from django.urls import reverse
from django.utils import timezone
from django_otp.oath import TOTP
from playwright.sync_api import expect
from pytest_django import Settings
from pytest_django.live_server_helper import LiveServer

from sideport.app.people.codes import new_code
from sideport.app.people.models import CodePurpose
from sideport.app.people.roles import Role
from sideport.app.people.services import set_pin
from sideport.app.planning.models import StoredPlan
from sideport.app.planning.services import store_plan
from sideport.day.plan import DayPlan

from .cast import PASSWORD, person, session_of
from .conftest import NOW
from .test_browser import OVERFLOW, SMALL_TARGETS, SMALLEST_TARGET, opened

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PIN = "271828"


@pytest.fixture
def shown(db: None, transactional_db: None, plan: DayPlan) -> StoredPlan:
    return store_plan(plan=plan, now=NOW)


def looked_at(page: "Page") -> None:
    """The page is of one width with the screen, has one heading, and can be hit with a thumb."""
    assert page.locator("h1").count() == 1
    assert page.evaluate(OVERFLOW) <= 0
    assert page.evaluate(SMALL_TARGETS, SMALLEST_TARGET) == []


def test_a_phone_goes_from_the_printed_code_to_the_day(
    chromium: "Browser", live_server: LiveServer, shown: StoredPlan
) -> None:
    code = new_code(purpose=CodePurpose.FIRST, account=None, now=timezone.now())
    with opened(chromium, 360, signs_in=False) as (page, said):
        page.goto(live_server.url + reverse("day", args=[shown.pk]))
        looked_at(page)
        page.get_by_role("link", name="Make one with the code").click()
        looked_at(page)
        for label, text in (("One-time code", code), ("Your name", "Ivo Marsh"), ("Sign-in name", "ivo"),
                            ("New password", PASSWORD), ("The same again", PASSWORD)):  # fmt: skip
            page.get_by_label(label).fill(text)
        page.get_by_role("button", name="Make the administrator").click()
        page.wait_for_url("**/me/second/")
        looked_at(page)
        assert page.locator(".qr-frame svg").bounding_box() is not None
        key = bytes.fromhex(_hex_of(page.locator(".key").inner_text()))
        clock = TOTP(key)
        clock.time = time.time()
        page.get_by_label("Code", exact=True).fill(f"{clock.token():06d}")
        page.get_by_role("button", name="Use this authenticator").click()
        expect(page.locator(".codes li")).to_have_count(8)
        looked_at(page)
        page.goto(live_server.url + reverse("day", args=[shown.pk]))
        expect(page.locator("h1")).to_contain_text("2031")
        for name in ("people", "person-add", "reads", "own", "own-pin", "own-password"):
            page.goto(live_server.url + reverse(name))
            looked_at(page)
        page.get_by_role("button", name="Sign out").click()
        page.wait_for_url("**/sign-in/")
        assert said == []


def _hex_of(typed: str) -> str:
    """A base 32 key in groups, as hexadecimal."""
    from base64 import b32decode

    letters = typed.replace(" ", "")
    return b32decode(letters + "=" * (-len(letters) % 8)).hex()


def test_an_idle_page_is_covered_and_the_pin_uncovers_it_with_what_was_being_written(
    chromium: "Browser", live_server: LiveServer, shown: StoredPlan, settings: Settings
) -> None:
    settings.IDLE_LOCK_S = 3.0
    nurse = person(Role.NURSE, password=PASSWORD)
    set_pin(account=nurse, pin=PIN, now=timezone.now())
    with opened(chromium, 360, signs_in=False) as (page, said):
        page.context.add_cookies([{"name": "sessionid", "value": session_of(nurse), "url": "http://localhost"}])
        page.goto(live_server.url + reverse("own-password"))
        page.get_by_label("New password").fill("half a thought")
        curtain = page.locator("#curtain")
        expect(curtain).to_be_visible(timeout=10_000)
        box = curtain.bounding_box()
        assert box is not None
        assert (box["x"], box["y"], box["width"], box["height"]) == (0, 0, 360, 800)
        page.keyboard.press("Escape")
        expect(curtain).to_be_visible()
        curtain.get_by_label("PIN").fill("000001")
        curtain.get_by_role("button", name="Unlock").click()
        expect(curtain.get_by_role("alert")).to_be_visible()
        curtain.get_by_label("PIN").fill(PIN)
        curtain.get_by_role("button", name="Unlock").click()
        expect(curtain).to_be_hidden()
        expect(page.get_by_label("New password")).to_have_value("half a thought")
        assert [line for line in said if "422" not in line] == []


def test_the_demo_is_one_click_away(
    chromium: "Browser", live_server: LiveServer, shown: StoredPlan, settings: Settings
) -> None:
    settings.DEMO_DIGESTS = frozenset({shown.digest})
    with opened(chromium, 360, signs_in=False) as (page, said):
        page.goto(live_server.url)
        looked_at(page)
        page.get_by_role("button", name="Walk in as lead surgeon").click()
        expect(page.locator("h1")).to_have_text(shown.unit)
        expect(page.get_by_role("heading", name="Tonight")).to_be_visible()
        expect(page.locator(".demo-band")).to_be_visible()
        looked_at(page)
        page.get_by_role("button", name="Lock").click()
        looked_at(page)
        assert said == []
