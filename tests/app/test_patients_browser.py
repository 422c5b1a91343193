"""The pages of patients in a real browser: narrow and wide, named fields, drafts that outlive a lost connection."""

from collections.abc import Iterator
from itertools import pairwise
from typing import TYPE_CHECKING

import pytest
from django.urls import reverse
from pytest_django.live_server_helper import LiveServer

from sideport.app.patients.models import FolderImport
from sideport.app.people.roles import Role
from sideport.app.record.models import Measurement, Person

from .cast import MADE, UNIT, person, session_of
from .register import DAY, SHIULI, examined, listed, looks_like, on_register, unit_is_set
from .test_browser import OVERFLOW, SMALL_TARGETS, SMALLEST_TARGET, opened

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SMALL = SMALL_TARGETS.replace("'button,", "'label.choice, a.tap, button,").replace(
    ".filter(target =>",
    ".filter(target => !target.closest('label.choice') || target.matches('label')).filter(target =>",
    1,
)
"""A box inside its label is as large as the label."""
UNNAMED = """[...document.querySelectorAll('input:not([type=hidden], .hidden), select, textarea')]
  .filter(field => !(field.labels && field.labels.length) && !field.getAttribute('aria-label'))
  .map(field => field.outerHTML.slice(0, 80))"""
REPEATED_IDS = """(() => { const ids = [...document.querySelectorAll('[id]')].map(each => each.id);
  return ids.filter((id, at) => ids.indexOf(id) !== at); })()"""
HEADINGS = "[...document.querySelectorAll('h1, h2, h3, h4')].map(each => Number(each.tagName[1]))"
DRAFTS = "Object.entries(localStorage).filter(([name]) => name.startsWith('sideport-draft:'))"


@pytest.fixture
def row(transactional_db: None) -> Person:
    unit_is_set()
    listed(on_register(SHIULI), day=DAY)
    return listed(examined(on_register()))


def addresses(row: Person) -> list[str]:
    task = looks_like(row)
    brought = FolderImport.objects.create(
        unit=UNIT, at=MADE, by="Wren Hollis", files=["register.csv"], added={"person.registered": 2},
        notes=["Noticed."],
        rejected=[["register.csv", "", "7", "AL (mm)", "2.35", "looks like centimetres; write 23.5", "18 to 36 mm"]],
    )  # fmt: skip
    reading = Measurement.objects.earliest("first")
    return [
        reverse("home"), reverse("patients"), reverse("patients") + "?q=weir", reverse("patient-new"),
        reverse("patient", args=[row.key]) + "?saved=nothing", reverse("patient-correct", args=[row.key]),
        reverse("patient-history", args=[row.key]), reverse("story", args=[row.key, "right"]),
        reverse("findings", args=[row.key, "left"]), reverse("readings", args=[row.key, "right"]),
        reverse("reading-correct", args=[row.key, reading.key]),
        reverse("take-back", args=[row.key]) + f"?entries={reading.entry_id}",
        reverse("days"), reverse("day-list", args=[DAY.isoformat()]), reverse("tasks"),
        reverse("task", args=[task.key]), reverse("import"), reverse("brought", args=[brought.pk]),
    ]  # fmt: skip


@pytest.mark.parametrize("width", [360, 1024])
def test_pages_fit_name_their_fields_and_are_silent(
    chromium: "Browser", live_server: LiveServer, row: Person, width: int
) -> None:
    with opened(chromium, width) as (page, said):
        for address in addresses(row):
            page.goto(live_server.url + address)
            assert page.locator("h1").count() == 1, address
            assert page.evaluate(OVERFLOW) <= 0, address
            assert page.evaluate(SMALL, SMALLEST_TARGET) == [], address
            assert page.evaluate(UNNAMED) == [], address
            assert page.evaluate(REPEATED_IDS) == [], address
            levels = page.evaluate(HEADINGS)
            assert all(after - before <= 1 for before, after in pairwise(levels)), address
            assert said == [], address


def test_what_was_being_written_outlives_a_lost_connection_and_goes_when_it_is_stored(
    chromium: "Browser", live_server: LiveServer, row: Person
) -> None:
    del row
    with opened(chromium, 800) as (page, _):
        page.goto(live_server.url + reverse("patient-new"))
        page.get_by_label("Patient number").fill("QR-50")
        page.get_by_label("Name", exact=True).fill("Juniper Holt")
        page.get_by_label("Sex").select_option("female")
        page.context.set_offline(True)
        page.get_by_role("button", name="Register").click(no_wait_after=True)
        page.wait_for_timeout(800)
        page.context.set_offline(False)
        page.goto(live_server.url + reverse("patient-new"))
        page.get_by_text("was put back").wait_for()
        assert page.get_by_label("Name", exact=True).input_value() == "Juniper Holt"
        assert page.get_by_label("Sex").input_value() == "female"
        assert "Juniper" not in str(page.evaluate(DRAFTS))
        page.get_by_role("button", name="Register").click()
        page.get_by_text("Stored.").wait_for()
        assert page.evaluate(DRAFTS) == []
    assert Person.objects.filter(person_id="QR-50").count() == 1


def test_another_account_on_the_same_tablet_sees_no_draft(
    chromium: "Browser", live_server: LiveServer, row: Person
) -> None:
    del row
    with opened(chromium, 800) as (page, _):
        page.goto(live_server.url + reverse("patient-new"))
        page.get_by_label("Name", exact=True).fill("Juniper Holt")
        page.wait_for_timeout(700)
        assert len(page.evaluate(DRAFTS)) == 1
        become(page, Role.NURSE)
        page.goto(live_server.url + reverse("patient-new"))
        page.wait_for_function("document.querySelector('form[data-watched]')")
        assert page.get_by_label("Name", exact=True).input_value() == ""
        become(page, Role.LEAD_SURGEON)
        page.goto(live_server.url + reverse("patient-new"))
        page.get_by_text("was put back").wait_for()
        assert page.get_by_label("Name", exact=True).input_value() == "Juniper Holt"
        page.get_by_role("button", name="Throw it away").click()
        page.wait_for_function("document.querySelector('form[data-watched]')")
        assert page.get_by_label("Name", exact=True).input_value() == ""


def become(page: "Page", role: Role) -> None:
    """Another person takes the tablet."""
    page.context.clear_cookies()
    page.context.add_cookies([{"name": "sessionid", "value": session_of(person(role)), "url": "http://localhost"}])


@pytest.fixture
def without_script(chromium: "Browser") -> "Iterator[Page]":
    context = chromium.new_context(java_script_enabled=False, viewport={"width": 360, "height": 740})
    context.add_cookies(
        [{"name": "sessionid", "value": session_of(person(Role.LEAD_SURGEON)), "url": "http://localhost"}]
    )
    yield context.new_page()
    context.close()


def test_a_day_is_listed_and_planned_without_any_script(
    without_script: "Page", live_server: LiveServer, row: Person
) -> None:
    page = without_script
    page.goto(live_server.url + reverse("patient", args=[row.key]))
    page.get_by_label("Operating day").nth(1).fill(DAY.isoformat())
    page.get_by_role("button", name="Put the left eye on the list").click()
    page.get_by_text("Stored.").wait_for()
    page.goto(live_server.url + reverse("day-list", args=[DAY.isoformat()]))
    page.get_by_role("button", name="Plan this day").click()
    page.get_by_role("heading", name="Tuesday 4 March 2031").wait_for()
    assert page.get_by_role("link", name="Tansy Weir").count() >= 2
