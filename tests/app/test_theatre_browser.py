"""Theatre in a real browser: the whole way with taps, without script, without connection, at every width."""

from typing import TYPE_CHECKING

import pytest
from django.urls import reverse
from pytest_django.live_server_helper import LiveServer

from sideport.app.people.roles import Role
from sideport.app.people.services import set_pin
from sideport.app.planning.models import StoredPlan
from sideport.app.planning.services import store_plan
from sideport.app.record.models import Box, Operation, OperationEvent
from sideport.day.plan import DayPlan
from sideport.record.theatre_said import Pause

from .cast import person
from .conftest import NOW
from .test_browser import OVERFLOW, SMALL_TARGETS, SMALLEST_TARGET, opened
from .theatre_day import EYE, Team, day_in_theatre, receive_shelf

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page, Route

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

RADIO = ", [type=radio], [type=checkbox]"
PIN = "481592"
RIGHT_BOX, WRONG_BOX = "(01)51022222233336(21)S21", "(01)51022222233336(21)S225"
UNLABELLED = """[...document.querySelectorAll('main input:not([type=hidden]), main select, main textarea')]
  .filter(field => !field.labels.length && !field.getAttribute('aria-label')).map(field => field.outerHTML)
"""
UNNAMED = """[...document.querySelectorAll('main button, main a, main fieldset')]
  .filter(found => !found.textContent.trim()).map(found => found.outerHTML)
"""
TWICE = """[...document.querySelectorAll('[id]')].map(found => found.id)
  .filter((id, place, all) => all.indexOf(id) !== place)
"""


@pytest.fixture
def shown(db: None, transactional_db: None, plan: DayPlan) -> StoredPlan:
    receive_shelf()
    return store_plan(plan=day_in_theatre(plan), now=NOW)


def at(live_server: LiveServer, stored: StoredPlan, name: str = "eye") -> str:
    return live_server.url + reverse(f"theatre-{name}", args=[stored.pk, EYE])


def check_page(page: "Page", address: str) -> None:
    """No page spills over, has small targets, fields without labels or names used twice."""
    assert page.locator("h1").count() == 1, address
    assert page.evaluate(OVERFLOW) <= 0, address
    small = SMALL_TARGETS.replace(".hidden)", f".hidden{RADIO})")
    assert page.evaluate(small, SMALLEST_TARGET) == [], address
    for broken in (UNLABELLED, UNNAMED, TWICE):
        assert page.evaluate(broken) == [], address


@pytest.mark.parametrize("width", [360, 800])
def test_every_page_of_the_theatre_fits_a_small_tablet(
    chromium: "Browser", live_server: LiveServer, shown: StoredPlan, width: int
) -> None:
    team = Team(shown)
    listed = live_server.url + reverse("theatre-list", args=[shown.pk])
    with opened(chromium, width) as (page, said):

        def looks(*addresses: str) -> None:
            for address in addresses:
                page.goto(address)
                check_page(page, address)

        looks(listed, at(live_server, shown), at(live_server, shown, "sign-in"))
        team.pause(Pause.SIGN_IN)
        looks(at(live_server, shown), at(live_server, shown, "time-out"), at(live_server, shown, "abandon"))
        team.pause(Pause.TIME_OUT)
        team.tap("tap", event="capsule tear")
        looks(at(live_server, shown), *(at(live_server, shown, name) for name in ("bag", "wound", "sign-out")))
        team.scan("S225")
        looks(at(live_server, shown))
        team.tap("aside")
        team.scan("S21")
        looks(at(live_server, shown))
        team.tap("implanted")
        team.pause(Pause.SIGN_OUT, outcome="done", missing="wound on paper")
        looks(at(live_server, shown), at(live_server, shown, "note"), listed)
        assert said == []


def answer_pause(page: "Page", *, who: str, side: str = "RIGHT eye") -> None:
    """Taps through a pause as wet gloves would: on the words, never on the small circle."""
    page.locator(".tap-choice", has_text=who).first.click()
    page.locator(".tap-choice", has_text=side).click()
    for each in page.locator(".question .tap-choice", has_text="Yes").all():
        each.click()


def walk_through(page: "Page", live_server: LiveServer, stored: StoredPlan) -> None:
    """The whole operation by taps alone: a wrong box, a tear, the right box, the note."""
    page.goto(live_server.url + reverse("theatre-list", args=[stored.pk]))
    page.get_by_role("link", name="Tansy Oakhollow").click()
    page.get_by_role("link", name="Sign-in", exact=True).click()
    answer_pause(page, who="Tansy Oakhollow")
    page.get_by_role("button", name="Sign-in is complete").click()
    page.get_by_role("link", name="Time-out", exact=True).click()
    answer_pause(page, who="QI-101")
    page.get_by_role("button", name="Time-out is complete").click()
    page.get_by_role("button", name="First cut").click()
    page.locator(".log", has_text="first cut").wait_for()
    page.locator("a.place-tap", has_text="BAG").click()
    page.get_by_label("Scan the box").fill(WRONG_BOX)
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="STOP").wait_for()
    assert page.locator(".stop-screen").bounding_box()["height"] > 600  # type: ignore[index]
    page.get_by_role("button", name="Put this box aside").click()
    page.get_by_role("button", name="The capsule tore").click()
    page.locator(".log", has_text="The capsule tore").wait_for()
    page.locator("a.place-tap", has_text="BAG").click()
    page.get_by_label("Scan the box").fill(RIGHT_BOX)
    page.keyboard.press("Enter")
    page.get_by_role("button", name="It is in the BAG").click()
    page.locator(".plate", has_text="in the eye since").wait_for()
    page.get_by_role("link", name="Wound as made").click()
    page.get_by_role("button", name="This is the wound").click()
    page.get_by_role("link", name="Sign-out").click()
    for each in page.locator(".question .tap-choice", has_text="Yes").all():
        each.click()
    page.locator(".tap-choice", has_text="Done").click()
    page.get_by_role("button", name="Sign-out is complete").click()
    page.get_by_role("link", name="Write and sign the note").click()
    assert "The capsule tore." in page.get_by_label("Operation note").input_value()
    page.get_by_role("button", name="Sign the note").click()
    page.get_by_role("heading", name="Signed note").wait_for()


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without script"])
def test_an_operation_from_the_list_to_the_signed_and_printed_note(
    chromium: "Browser", live_server: LiveServer, shown: StoredPlan, script: bool
) -> None:
    with opened(chromium, 800, java_script_enabled=script) as (page, said):
        walk_through(page, live_server, shown)
        assert said == []
        page.emulate_media(media="print")
        assert page.locator(".sign-line").is_visible()
        assert not page.get_by_label("Operation note").is_visible()
        assert page.pdf(format="A4").startswith(b"%PDF-")
    row = Operation.objects.get()
    assert (row.lens_model, row.lens_power_d, row.box_id) == ("Rigid A", 21.0, "R-+21.0")
    assert Box.objects.get(box_id="R-+21.0").count == 1
    assert [each.name for each in OperationEvent.objects.filter(kind="operation.event")] == ["capsule tear"]


def test_two_people_may_use_a_stopped_box_and_both_are_named(
    chromium: "Browser", live_server: LiveServer, shown: StoredPlan
) -> None:
    second = person(Role.SURGEON)
    set_pin(account=second, pin=PIN, now=NOW)
    Team(shown).begin().scan("S225")
    with opened(chromium, 800) as (page, _):
        page.goto(at(live_server, shown))
        page.get_by_text("Use it all the same").click()
        page.get_by_label("Why is this lens used").fill("the planned one fell on the floor")
        page.get_by_label("Second person").select_option(str(second.pk))
        page.get_by_label("Their PIN").fill(PIN)
        page.get_by_role("button", name="We both agree").click()
        page.get_by_text("agreed with শিউলি নদী").wait_for()


def test_a_scanner_that_sends_control_and_a_bracket_keeps_the_separator(
    chromium: "Browser", live_server: LiveServer, shown: StoredPlan
) -> None:
    """A scanner in keyboard mode sends the character 29 as Control and ]; a field drops it without a word."""
    Team(shown).begin()
    with opened(chromium, 800) as (page, _):
        page.goto(at(live_server, shown, "bag"))
        assert page.evaluate("document.activeElement.name") == "code"
        page.keyboard.type("015102222223333610LR21")
        page.keyboard.press("Control+]")
        page.keyboard.type("21S21")
        page.keyboard.press("Enter")
        page.get_by_role("button", name="It is in the BAG").wait_for()


def test_taps_without_a_connection_wait_and_are_each_recorded_once(
    chromium: "Browser", live_server: LiveServer, shown: StoredPlan
) -> None:
    Team(shown).begin()
    with opened(chromium, 800) as (page, _):
        page.goto(at(live_server, shown))
        page.context.set_offline(True)
        page.get_by_role("button", name="The capsule tore").click()
        page.get_by_role("button", name="Vitreous came forward").click()
        page.get_by_text("2 taps wait for an answer").wait_for()
        assert not OperationEvent.objects.filter(kind="operation.event").exists()
        page.context.set_offline(False)
        page.locator(".log", has_text="Vitreous came forward").wait_for(timeout=15_000)
        page.locator("#waiting").wait_for(state="hidden")
    rows = OperationEvent.objects.filter(kind="operation.event").order_by("first")
    assert [row.name for row in rows] == ["capsule tear", "vitreous loss"]


def test_taps_that_wait_survive_a_reload(chromium: "Browser", live_server: LiveServer, shown: StoredPlan) -> None:
    Team(shown).begin()
    with opened(chromium, 800) as (page, _):
        page.goto(at(live_server, shown))
        page.route("**/tap/", lambda route: route.abort("connectionfailed"))
        page.get_by_role("button", name="Nucleus out").click()
        page.get_by_text("1 tap waits for an answer").wait_for()
        page.unroute("**/tap/")
        page.reload()
        page.locator(".log", has_text="nucleus out").wait_for(timeout=15_000)
    assert OperationEvent.objects.filter(kind="operation.step").count() == 1


def test_a_tap_whose_answer_is_lost_on_the_way_is_one_entry(
    chromium: "Browser", live_server: LiveServer, shown: StoredPlan
) -> None:
    Team(shown).begin()
    lost: list[str] = []

    def lose_first_answer(route: "Route") -> None:
        if lost:
            route.continue_()
            return
        route.fetch()
        lost.append(route.request.url)
        route.abort("connectionfailed")

    with opened(chromium, 800) as (page, _):
        page.goto(at(live_server, shown))
        page.route("**/tap/", lose_first_answer)
        page.get_by_role("button", name="Zonules gave way").click()
        page.locator(".log", has_text="Zonules gave way").wait_for(timeout=15_000)
    assert lost
    assert OperationEvent.objects.filter(kind="operation.event").count() == 1
