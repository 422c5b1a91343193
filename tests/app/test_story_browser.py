"""One eye from the register to six weeks after its operation, by several people, in a real browser."""

from datetime import date
from typing import TYPE_CHECKING

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect
from pytest_django.live_server_helper import LiveServer

from sideport.app.people.roles import Role
from sideport.app.planning.documents import plan_of
from sideport.app.planning.models import StoredPlan
from sideport.app.record.models import JournalEntry, Operation, Person, Visit
from sideport.app.record.services import rebuild, verify_journal

from .cast import person, session_of
from .register import unit_is_set
from .test_browser import OVERFLOW, opened

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def become(page: "Page", role: Role) -> None:
    """Another person takes the tablet."""
    page.context.clear_cookies()
    page.context.add_cookies([{"name": "sessionid", "value": session_of(person(role)), "url": "http://localhost"}])


def registers(page: "Page", home: str, day: date) -> None:
    """The technician registers a patient, examines and measures the right eye, and lists it."""
    page.goto(home)
    page.get_by_role("link", name="Patients", exact=True).click()
    page.get_by_role("link", name="Register a patient").click()
    for label, cell in {
        "Patient number": "QR-60",
        "Name": "Juniper Holt",
        "Age (years)": "৬৭",
        "Phone": "0155 60",
    }.items():
        page.get_by_label(label, exact=True).fill(cell)
    page.get_by_label("Sex", exact=True).select_option("female")
    page.get_by_role("button", name="Register").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Juniper Holt")
    right = page.get_by_role("region", name="RIGHT")
    right.get_by_role("link", name="Findings").click()
    page.get_by_label("Cataract", exact=True).select_option("white")
    page.get_by_label("Acuity", exact=True).fill("HM")
    page.get_by_role("button", name="Store the findings").click()
    page.get_by_role("region", name="RIGHT").get_by_role("link", name="Readings").click()
    page.get_by_label("Length, chamber and lens measured by").select_option("immersion ultrasound")
    page.get_by_label("K1 and K2 measured by").select_option("manual keratometer")
    for row, cell in {1: "23,10", 2: "23.14", 4: "43.50 @ 180", 5: "44.25 @ 90"}.items():
        page.get_by_label(f"Value of row {row}", exact=True).fill(cell)
    page.get_by_role("button", name="Store the readings").click()
    right = page.get_by_role("region", name="RIGHT")
    expect(right).to_contain_text("4 readings")
    right.get_by_label("Operating day").fill(day.isoformat())
    right.get_by_role("button", name="Put the right eye on the list").click()
    expect(page.get_by_role("region", name="RIGHT")).to_contain_text("On the list of")


def plans(page: "Page", home: str, day: date) -> StoredPlan:
    """The lead surgeon plans the day from what is recorded, and looks at the eye."""
    page.goto(home)
    page.get_by_role("link", name="Days", exact=True).click()
    page.locator(f"a.eye[href$='/{day.isoformat()}/']").click()
    page.get_by_role("button", name="Plan this day").click()
    expect(page.get_by_role("heading", name="Sort out tonight")).to_be_visible()
    page.get_by_role("link", name="Juniper Holt").first.click()
    expect(page.get_by_role("link", name="The whole story of this eye")).to_be_visible()
    return StoredPlan.objects.get()


def answers_yes(page: "Page") -> None:
    """Every question of a pause."""
    for each in page.locator(".question .tap-choice", has_text="Yes").all():
        each.click()


def operates(page: "Page", stored: StoredPlan, live: str) -> None:
    """Theatre: both pauses, a wrong box, a capsule tear, the right box, the wound, the signed and printed note."""
    eye = plan_of(stored).eyes[0]
    assert eye.lens is not None
    same = [row for row in plan_of(stored).shelf if row.model == eye.lens.model]
    right = next(row.serial for row in same if row.box_id == eye.lens.box_id)
    wrong = next(row.serial for row in same if row.power_d != eye.lens.power_d)
    page.goto(live + reverse("theatre-list", args=[stored.pk]))
    page.get_by_role("link", name="Juniper Holt").click()
    for pause, who in (("Sign-in", "Juniper Holt"), ("Time-out", "QR-60")):
        page.get_by_role("link", name=pause, exact=True).click()
        page.locator(".tap-choice", has_text=who).first.click()
        page.locator(".tap-choice", has_text="RIGHT eye").click()
        answers_yes(page)
        page.get_by_role("button", name=f"{pause} is complete").click()
    page.get_by_role("button", name="First cut").click()
    page.locator(".log", has_text="first cut").wait_for()
    scans(page, wrong)
    expect(page.get_by_role("heading", name="STOP")).to_be_visible()
    page.get_by_role("button", name="Put this box aside").click()
    page.get_by_role("button", name="The capsule tore").click()
    page.locator(".log", has_text="The capsule tore").wait_for()
    scans(page, right)
    page.get_by_role("button", name="It is in the BAG").click()
    page.locator(".plate", has_text="in the eye since").wait_for()
    page.get_by_role("link", name="Wound as made").click()
    page.get_by_role("button", name="This is the wound").click()
    page.get_by_role("link", name="Sign-out").click()
    answers_yes(page)
    page.locator(".tap-choice", has_text="Done").click()
    page.get_by_role("button", name="Sign-out is complete").click()
    page.get_by_role("link", name="Write and sign the note").click()
    assert "capsule tore" in page.get_by_label("Operation note").input_value()
    page.get_by_role("button", name="Sign the note").click()
    expect(page.get_by_role("heading", name="Signed note")).to_be_visible()
    page.emulate_media(media="print")
    assert page.pdf(format="A4").startswith(b"%PDF-")
    page.emulate_media(media="screen")


def scans(page: "Page", serial: str) -> None:
    """A box meant for the bag is read."""
    page.locator("a.place-tap", has_text="BAG").click()
    page.get_by_label("Scan the box").fill(f"(01)51022222233336(21){serial}")
    page.keyboard.press("Enter")


def sees_again(page: "Page", live: str, operation: Operation, day: date) -> None:
    """The nurse enters the visit of six weeks."""
    page.goto(live + reverse("follow-up-eye", args=[operation.pk]))
    page.get_by_role("link", name="Record a visit").click()
    page.get_by_label("Day of the visit").fill(day.isoformat())
    page.get_by_label("Visit", exact=True).select_option("week 4 to 8")
    page.get_by_label("Unaided").fill("6/18")
    page.get_by_label("Corrected").fill("6/9")
    page.get_by_role("button", name="Keep this visit").click()
    expect(page.locator(".visits")).to_contain_text("6/18")


def test_an_eye_from_the_register_to_its_whole_story(
    chromium: "Browser", live_server: LiveServer, transactional_db: None
) -> None:
    today = timezone.localdate()
    unit_is_set(day=today)
    live = live_server.url
    with opened(chromium, 800) as (page, said):
        become(page, Role.TECHNICIAN)
        registers(page, live + "/", today)
        become(page, Role.LEAD_SURGEON)
        stored = plans(page, live + "/", today)
        operates(page, stored, live)
        operation = Operation.objects.get()
        become(page, Role.NURSE)
        sees_again(page, live, operation, today)
        page.goto(live + reverse("patients") + "?q=juniper")
        page.get_by_role("link", name="Juniper Holt").click()
        page.get_by_role("region", name="RIGHT").get_by_role("link", name="The whole story").click()
        tells(page)
        assert page.evaluate(OVERFLOW) <= 0
        assert said == []
    assert (Person.objects.count(), Operation.objects.count(), Visit.objects.count()) == (1, 1, 1)
    assert verify_journal() == JournalEntry.objects.count()
    before = list(Operation.objects.values())
    rebuild()
    assert before == list(Operation.objects.values())


def tells(page: "Page") -> None:
    """Every part of the story stands on the one page, with who wrote it."""
    expect(page.locator(".side.big")).to_contain_text("RIGHT")
    parts = {
        "Found": ["white", "HM"],
        "Measured": ["23.10", "23,10", "immersion ultrasound", "43.50"],
        "Planned": ["Rigid A", "BAG", "Wren Hollis"],
        "Operated": ["capsule tear", "sign-in", "time-out", "sign-out", "Rigid A", "capsule tore"],
        "Seen again": ["week 4 to 8", "6/18", "6/9", "मीरा घाट"],
        "Who said what, when": ["Registered", "Odo Finch"],
    }
    for name, words in parts.items():
        for word in words:
            expect(page.get_by_role("region", name=name)).to_contain_text(word)
