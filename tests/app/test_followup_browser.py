"""Follow-up in a real browser: from the list to a visit that is asked about, kept and corrected; narrow and wide."""

from datetime import timedelta
from typing import TYPE_CHECKING

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect
from pytest_django.live_server_helper import LiveServer

from sideport.app.record.models import Operation, Visit
from sideport.optics.side import Side

from .operated import operated, seen
from .test_browser import OVERFLOW, SMALLEST_TARGET, opened

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
SMALL = """smallest => [...document.querySelectorAll('nav a, .links a, a.eye, summary, button, .button, input, select')]
  .map(target => target.closest('label') ?? target)
  .filter(target => target.getBoundingClientRect().height > 0)
  .filter(target => target.getBoundingClientRect().height < smallest - 0.5)
  .map(target => target.outerHTML)"""
UNNAMED = """[...document.querySelectorAll('input:not([type=hidden]), select, textarea, button')]
  .filter(field => !field.closest('dialog') && !field.labels?.length && !field.textContent.trim() && !field.ariaLabel)
  .map(field => field.name)"""
DOUBLED = (
    """[...document.querySelectorAll('[id]')].map(each => each.id).filter((id, at, all) => all.indexOf(id) !== at)"""
)
LOOSE = """[...document.querySelectorAll('[aria-labelledby], [aria-describedby]')]
  .flatMap(each => (each.getAttribute('aria-labelledby') ?? each.getAttribute('aria-describedby')).split(' '))
  .filter(id => !document.getElementById(id))"""


@pytest.fixture
def waiting(db: None, transactional_db: None) -> Operation:
    today = timezone.localdate()
    found = operated("QI-301", today - timedelta(16), name="শিউলি নদী", side=Side.LEFT, only_eye=Side.LEFT)
    seen(found, today - timedelta(15), "6/60")
    operated("QI-302", today - timedelta(8), name="A very long name that somebody wrote down with all its titles")
    return found


def looked_at(page: "Page") -> None:
    """One heading, no sideways scrolling, big targets, every field named, every reference leading somewhere."""
    assert page.locator("h1").count() == 1
    assert page.evaluate(OVERFLOW) <= 0
    assert page.evaluate(SMALL, SMALLEST_TARGET) == []
    assert page.evaluate(UNNAMED) == []
    assert page.evaluate(DOUBLED) == []
    assert page.evaluate(LOOSE) == []


@pytest.mark.parametrize("width", [360, 1280])
def test_a_late_patient_is_called_seen_and_corrected(
    chromium: "Browser", live_server: LiveServer, waiting: Operation, width: int
) -> None:
    with opened(chromium, width) as (page, said):
        page.goto(live_server.url + reverse("follow-up"))
        looked_at(page)
        page.get_by_role("link", name="শিউলি নদী").click()
        looked_at(page)
        expect(page.locator(".side.big")).to_contain_text("LEFT")
        page.get_by_label("How", exact=True).select_option("telephone")
        page.get_by_label("What came of it").select_option("will come")
        page.get_by_role("button", name="Note the try").click()
        expect(page.locator(".visits")).to_contain_text("will come")
        page.get_by_role("link", name="Record a visit").click()
        looked_at(page)
        page.get_by_label("Unaided").fill("6/9 P")
        page.get_by_label("Corrected").fill("6/36")
        page.get_by_label("raised pressure").check()
        page.get_by_role("button", name="Keep this visit").click()
        looked_at(page)
        expect(page.get_by_text("Were they swapped?")).to_be_visible()
        assert page.get_by_label("Unaided").input_value() == "6/9 P"
        page.get_by_label("I looked again").check()
        page.get_by_role("button", name="Keep this visit").click()
        expect(page.locator(".visits")).to_contain_text("6/9 P")
        looked_at(page)
        page.get_by_text("Correct or take back").last.click()
        page.get_by_role("link", name="Correct this visit").last.click()
        page.get_by_label("Corrected", exact=False).first.fill("6/6")
        page.get_by_role("button", name="Keep the correction").click()
        expect(page.locator("#changes + .visits")).to_contain_text("Corrected, before")
        looked_at(page)
        page.get_by_role("link", name="Print the patient's slip").click()
        looked_at(page)
        assert said == ["Failed to load resource: the server responded with a status of 422 (Unprocessable Entity)"]
    assert Visit.objects.filter(kind="recorded").count() == 2


def test_without_javascript_a_visit_is_kept(chromium: "Browser", live_server: LiveServer, waiting: Operation) -> None:
    with opened(chromium, 360, java_script_enabled=False) as (page, _):
        page.goto(live_server.url + reverse("visit", args=[waiting.pk]))
        page.get_by_label("Unaided").fill("6/9")
        page.get_by_role("button", name="Keep this visit").click()
        expect(page.locator(".visits")).to_contain_text("6/9")


def test_on_paper_the_list_keeps_its_order_and_loses_its_navigation(
    chromium: "Browser", live_server: LiveServer, waiting: Operation
) -> None:
    with opened(chromium, 1280) as (page, _):
        page.goto(live_server.url + reverse("follow-up"))
        page.emulate_media(media="print")
        expect(page.locator(".top nav")).to_be_hidden()
        expect(page.get_by_role("link", name="শিউলি নদী")).to_be_visible()
