"""Another cut in a real browser: it answers while it is moved, and works all the same without scripts."""

from typing import TYPE_CHECKING

import pytest
from django.urls import reverse
from pytest_django.live_server_helper import LiveServer

from sideport.app.planning.models import StoredPlan
from sideport.app.planning.services import store_plan
from sideport.day.plan import DayPlan

from .conftest import NOW
from .test_browser import OVERFLOW, opened

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def address(db: None, transactional_db: None, plan: DayPlan, live_server: LiveServer) -> str:
    stored: StoredPlan = store_plan(plan=plan, now=NOW)
    return live_server.url + reverse("eye", args=[stored.pk, "QI-101-right"])


@pytest.mark.parametrize("width", [360, 1024])
def test_the_answer_follows_number_slider_and_site_at_once(chromium: "Browser", address: str, width: int) -> None:
    from playwright.sync_api import expect

    with opened(chromium, width) as (page, said):
        page.goto(address)
        answer, told = page.locator("#try-answer"), page.locator("#try-said")
        assert not page.get_by_role("button", name="Work it out").is_visible()
        page.get_by_label("Length [mm]", exact=True).fill("7.2")
        expect(page.locator("#try-said")).to_contain_text("7.20")
        assert "What if" in told.inner_text()
        assert answer.locator("svg[role=img]").count() == 1
        page.get_by_label("Length [mm], slider").fill("5.5")
        expect(page.locator("#try-said")).to_contain_text("5.50")
        assert page.get_by_label("Length [mm]", exact=True).input_value() == "5.5"
        page.get_by_label("Site").select_option("temporal")
        expect(page.locator("#try-said")).to_contain_text("temporal")
        assert "Not the planned cut" in answer.inner_text()
        assert page.evaluate(OVERFLOW) <= 0
        assert said == []


def test_moving_a_knob_keeps_the_focus(chromium: "Browser", address: str) -> None:
    from playwright.sync_api import expect

    with opened(chromium, 1024) as (page, _):
        page.goto(address)
        page.get_by_label("Length [mm], slider").focus()
        page.keyboard.press("ArrowRight")
        expect(page.locator("#try-said")).to_contain_text("6.60")
        assert page.evaluate("document.activeElement.type") == "range"


def test_without_scripts_the_form_brings_the_page_with_the_answer(chromium: "Browser", address: str) -> None:
    with opened(chromium, 800, java_script_enabled=False) as (page, _):
        page.goto(address)
        assert page.locator("input[type=range]").count() == 0
        page.locator("#try-length").fill("7.2")
        page.get_by_role("button", name="Work it out").click()
        page.wait_for_url("**length=7.2**")
        assert "7.20\u00a0mm frown" in page.locator("#try-answer").inner_text()
        assert "Not the planned cut" in page.locator("#try-answer").inner_text()


def test_when_the_program_does_not_answer_the_button_comes_back(chromium: "Browser", address: str) -> None:
    with opened(chromium, 800) as (page, _):
        page.goto(address)
        page.route("**/cut/**", lambda route: route.abort())
        page.get_by_label("Length [mm]", exact=True).fill("7.2")
        page.get_by_role("button", name="Work it out").wait_for(state="visible")
        assert "does not answer" in page.locator("#try-said").inner_text()


def test_what_was_tried_is_not_printed(chromium: "Browser", address: str) -> None:
    with opened(chromium, 800) as (page, _):
        page.emulate_media(media="print")
        page.goto(f"{address}?site=temporal&length=7.2&distance=2&shape=frown")
        assert not page.locator(".trying").is_visible()
        assert page.locator("#cut").is_visible()
