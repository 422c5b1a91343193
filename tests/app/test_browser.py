"""Every page in a real browser: narrow and wide, by keyboard, on paper, in the dark."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import pytest
from django.urls import reverse
from pytest_django.live_server_helper import LiveServer

from sideport.app.people.roles import Role
from sideport.app.planning.models import StoredPlan
from sideport.app.planning.services import store_plan
from sideport.day.plan import DayPlan

from .cast import person, session_of
from .conftest import NOW

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SMALLEST_TARGET = 44
OVERFLOW = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
FOCUSED = "document.activeElement.outerHTML.slice(0, 80)"
SMALL_TARGETS = """smallest => [...document.querySelectorAll('nav a, .links a, a.eye, .turn a, .account a, summary, ' +
  'button, .button, input:not([type=hidden], .hidden), select')]
  .filter(target => target.getBoundingClientRect().height > 0)
  .filter(target => target.getBoundingClientRect().height < smallest - 0.5)
  .map(target => target.textContent)
"""
FONTS_OF_NAMES = """
[...document.fonts].filter(font => font.status === 'loaded').map(font => font.family.replaceAll('"', ''))
"""


@pytest.fixture
def shown(db: None, transactional_db: None, plan: DayPlan) -> StoredPlan:
    return store_plan(plan=plan, now=NOW)


def addresses(stored: StoredPlan, plan: DayPlan) -> list[str]:
    return [
        reverse("day", args=[stored.pk]),
        *(reverse("eye", args=[stored.pk, eye.key]) for eye in plan.eyes),
        reverse("shelf", args=[stored.pk]),
        reverse("plans"),
        reverse("sources"),
        reverse("source", args=["practice"]),
        reverse("own"),
        reverse("own-password"),
        reverse("own-pin"),
        reverse("reads"),
        "/nowhere/",
    ]


@contextmanager
def opened(
    chromium: "Browser", width: int, *, signs_in: bool = True, **options: object
) -> "Iterator[tuple[Page, list[str]]]":
    """A page of one width, as the lead surgeon unless said otherwise, with everything it complains of."""
    context = chromium.new_context(viewport={"width": width, "height": 800}, **options)  # type: ignore[arg-type]
    if signs_in:
        session = session_of(person(Role.LEAD_SURGEON))
        context.add_cookies([{"name": "sessionid", "value": session, "url": "http://localhost"}])
    page = context.new_page()
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    # A picture on its way when the next page is opened is aborted by the browser itself: not a fault of the page.
    page.on("requestfailed", lambda asked: None if asked.failure == "net::ERR_ABORTED" else said.append(asked.url))
    page.on("request", lambda request: said.append(request.url) if "localhost" not in request.url else None)
    try:
        yield page, said
    finally:
        context.close()


@pytest.mark.parametrize("width", [360, 800, 1024])
def test_pages_fit_and_are_silent(
    chromium: "Browser", live_server: LiveServer, shown: StoredPlan, plan: DayPlan, width: int
) -> None:
    with opened(chromium, width) as (page, said):
        for address in addresses(shown, plan):
            page.goto(live_server.url + address)
            assert page.locator("h1").count() == 1, address
            assert page.evaluate(OVERFLOW) <= 0, address
            assert page.evaluate(SMALL_TARGETS, SMALLEST_TARGET) == [], address
            if address != "/nowhere/":
                assert said == [], address


def test_the_keyboard_reaches_the_first_thing_to_sort_out(
    chromium: "Browser", live_server: LiveServer, shown: StoredPlan
) -> None:
    with opened(chromium, 1024) as (page, _):
        page.goto(live_server.url + reverse("day", args=[shown.pk]))
        page.keyboard.press("Tab")
        assert "skip" in page.evaluate(FOCUSED)
        page.keyboard.press("Enter")
        page.keyboard.press("Tab")
        assert "QI-107-right" in page.evaluate(FOCUSED)
        page.keyboard.press("Enter")
        page.wait_for_url("**/eyes/QI-107-right/")
        assert page.locator("h1").inner_text().startswith("Juniper Vale")


def test_name_and_side_stay_in_sight_while_scrolling(
    chromium: "Browser", live_server: LiveServer, shown: StoredPlan
) -> None:
    with opened(chromium, 360) as (page, _):
        page.goto(live_server.url + reverse("eye", args=[shown.pk, "QI-101-right"]))
        page.evaluate("window.scrollTo({top: 1500, behavior: 'instant'})")
        box = page.locator(".reminder").bounding_box()
        assert box is not None
        assert box["y"] == pytest.approx(0, abs=1)
        assert "RIGHT" in page.locator(".reminder").inner_text()


def test_names_in_bengali_and_devanagari_use_the_fonts_of_the_package(
    chromium: "Browser", live_server: LiveServer, shown: StoredPlan
) -> None:
    with opened(chromium, 800) as (page, said):
        page.goto(live_server.url + reverse("day", args=[shown.pk]))
        page.evaluate("document.fonts.ready.then(() => null)")
        assert {"Sideport Bengali", "Sideport Devanagari"} <= set(page.evaluate(FONTS_OF_NAMES))
        assert said == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_words_stand_out_from_the_paper(
    chromium: "Browser", live_server: LiveServer, shown: StoredPlan, scheme: str
) -> None:
    """WCAG 2.2 asks for a contrast of 4.5 to 1; tokens are compared as the browser resolves them."""
    with opened(chromium, 800, color_scheme=scheme) as (page, _):
        page.goto(live_server.url + reverse("day", args=[shown.pk]))
        tokens = page.evaluate(
            "['--paper', '--wash', '--accent-wash', '--ink', '--ink-soft', '--accent']"
            ".map(name => getComputedStyle(document.documentElement).getPropertyValue(name).trim())"
        )
        grounds, inks = tokens[:3], tokens[3:]
        assert min(contrast(ink, ground) for ink in inks for ground in grounds) >= 4.5


def test_paper_leaves_out_what_only_a_screen_needs(
    chromium: "Browser", live_server: LiveServer, shown: StoredPlan
) -> None:
    with opened(chromium, 800) as (page, _):
        page.emulate_media(media="print")
        page.goto(live_server.url + reverse("eye", args=[shown.pk, "QI-101-right"]))
        for part in (".top nav", ".turn", ".reminder", ".skip"):
            assert not page.locator(part).first.is_visible(), part
        for part in (".side.big", ".plate.at-sulcus", ".foot .caution"):
            assert page.locator(part).first.is_visible(), part
        assert page.pdf(format="A4").startswith(b"%PDF-")


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours (WCAG 2.2, definition of contrast ratio)."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def luminance(colour: str) -> float:
    """Relative luminance of ``#rrggbb`` (WCAG 2.2, definition of relative luminance)."""
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
