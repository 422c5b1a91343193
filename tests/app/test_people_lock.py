"""The lock of shared tablets: it falls in time, opens for the right PIN, and keeps what was being sent."""

import time

import pytest
from django.conf import settings
from django.contrib.sessions.models import Session
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.test import Client
from django.test.client import RequestFactory
from django.urls import reverse
from django.utils import timezone

from sideport.app.people.gate import IdleLock, unattended
from sideport.app.people.models import Account
from sideport.app.people.roles import Role
from sideport.app.people.services import PinResult, check_pin, set_pin
from sideport.app.planning.models import StoredPlan

from .cast import PASSWORD, as_role, person, signed_in

pytestmark = pytest.mark.django_db
PIN = "271828"


def idle(browser: Client, seconds: float) -> None:
    """Let a browser lie unused for a while."""
    session = browser.session
    session["seen"] = time.time() - seconds
    session.save()


def nurse_with_pin() -> Account:
    """The nurse, who chose a PIN."""
    nurse = person(Role.NURSE, password=PASSWORD)
    set_pin(account=nurse, pin=PIN, now=timezone.now())
    return nurse


def test_a_screen_that_was_used_lately_stays_open(stored: StoredPlan) -> None:
    browser = as_role(Role.NURSE)
    idle(browser, settings.IDLE_LOCK_S - 5)
    assert browser.get(reverse("day", args=[stored.pk])).status_code == 200


def test_an_idle_screen_locks_and_the_pin_leads_back_to_the_same_page(stored: StoredPlan) -> None:
    browser, wanted = signed_in(nurse_with_pin()), reverse("day", args=[stored.pk])
    idle(browser, settings.IDLE_LOCK_S + 5)
    lock = browser.get(wanted).headers["Location"]
    assert lock.startswith("/lock/?next=")
    page = browser.get(lock).content.decode()
    assert "Tansy" not in page
    assert f'value="{wanted}"' in page
    assert browser.get(wanted).status_code == 302, "looking at the lock screen opens nothing"
    assert browser.post(reverse("lock"), {"secret": PIN, "next": wanted}).headers["Location"] == wanted
    assert browser.get(wanted).status_code == 200


def test_without_a_pin_the_password_unlocks() -> None:
    browser = signed_in(person(Role.NURSE, password=PASSWORD))
    browser.post(reverse("lock-now"))
    assert browser.get(reverse("own")).status_code == 302
    assert browser.post(reverse("lock"), {"secret": "wrong wrong wrong"}).status_code == 200
    assert browser.post(reverse("lock"), {"secret": PASSWORD}).status_code == 302
    assert browser.get(reverse("own")).status_code == 200


def test_the_lock_button_locks_this_session_and_no_other() -> None:
    nurse = nurse_with_pin()
    here, there = signed_in(nurse), signed_in(nurse)
    here.post(reverse("lock-now"))
    assert here.get(reverse("own")).headers["Location"].startswith("/lock/")
    assert there.get(reverse("own")).status_code == 200


def test_five_wrong_pins_end_the_session_and_no_new_session_escapes_the_count() -> None:
    nurse = nurse_with_pin()
    first, second = signed_in(nurse), signed_in(nurse)
    for browser in (first, second):
        browser.post(reverse("lock-now"))
    for _ in range(4):
        assert first.post(reverse("lock"), {"secret": "000001"}).status_code == 200
    assert first.post(reverse("lock"), {"secret": "000001"}).headers["Location"] == reverse("sign-in")
    assert first.get(reverse("own")).headers["Location"].startswith("/sign-in/")
    assert second.post(reverse("lock"), {"secret": PIN}).headers["Location"] == reverse("sign-in")
    browser = Client()
    browser.post(reverse("sign-in"), {"username": "nurse", "password": PASSWORD})
    nurse.refresh_from_db()
    assert check_pin(account=nurse, pin=PIN) == PinResult.RIGHT


@pytest.mark.parametrize("pin", ["", "12345", "123456789", "111111", "123456", "987654", "12a456", "१२३४९६"])
def test_a_pin_that_anyone_would_try_is_refused(pin: str) -> None:
    with pytest.raises(ValidationError):
        set_pin(account=person(Role.NURSE), pin=pin, now=timezone.now())


def test_a_pin_is_kept_as_a_hash_and_chosen_with_the_password() -> None:
    nurse = person(Role.NURSE, password=PASSWORD)
    browser = signed_in(nurse)
    assert browser.post(reverse("own-pin"), {"old_password": "wrong", "pin": PIN}).status_code == 200
    assert browser.post(reverse("own-pin"), {"old_password": PASSWORD, "pin": PIN}).status_code == 302
    nurse.refresh_from_db()
    assert nurse.pin.startswith("argon2$")
    assert PIN not in nurse.pin


def test_what_was_being_sent_when_the_screen_locked_can_be_sent_after_the_pin() -> None:
    admin = person(Role.ADMINISTRATOR, password=PASSWORD)
    browser, target = signed_in(admin), reverse("person-add")
    idle(browser, settings.IDLE_LOCK_S + 5)
    written = {"name": "মেঘ কলম", "username": "megh", "role": "nurse", "password": "never kept"}
    assert browser.post(target, written).headers["Location"] == reverse("lock")
    assert not Account.objects.filter(username="megh").exists()
    assert "never kept" not in str([row.get_decoded() for row in Session.objects.all()])
    assert "মেঘ কলম" not in browser.get(reverse("lock")).content.decode()
    assert browser.post(reverse("lock"), {"secret": PASSWORD}).headers["Location"] == reverse("kept")
    assert "মেঘ কলম" in browser.get(reverse("kept")).content.decode()
    answer = browser.post(reverse("kept"), written)
    assert (answer.status_code, answer.headers["Location"]) == (307, target)
    assert browser.post(answer.headers["Location"], written).status_code == 200
    assert Account.objects.get(username="megh").name == "মেঘ কলম"
    assert browser.get(reverse("kept")).headers["Location"] == "/", "kept once"


def test_what_was_kept_can_be_thrown_away() -> None:
    browser = signed_in(person(Role.ADMINISTRATOR, password=PASSWORD))
    idle(browser, settings.IDLE_LOCK_S + 5)
    browser.post(reverse("person-add"), {"name": "A", "username": "aa", "role": "nurse"})
    browser.post(reverse("lock"), {"secret": PASSWORD})
    assert browser.post(reverse("kept"), {"drop": "yes"}).headers["Location"] == "/"
    assert browser.get(reverse("kept")).headers["Location"] == "/"


def test_a_view_that_a_script_asks_by_itself_is_no_sign_of_a_person() -> None:
    browser = signed_in(person(Role.NURSE))
    idle(browser, settings.IDLE_LOCK_S - 60)
    request = RequestFactory().get("/")
    request.user, request.session = person(Role.NURSE), browser.session
    before = request.session["seen"]
    gate = IdleLock(lambda request: HttpResponse())
    assert gate.process_view(request, unattended(lambda request: HttpResponse()), (), {}) is None
    assert request.session["seen"] == before
    assert gate.process_view(request, lambda request: HttpResponse(), (), {}) is None
    assert request.session["seen"] > before


def test_the_curtain_is_told_in_codes_what_came_of_a_pin() -> None:
    browser = signed_in(nurse_with_pin())
    asked = {"headers": {"accept": "application/json"}}
    browser.post(reverse("lock-now"))
    assert browser.post(reverse("lock"), {"secret": "000001"}, **asked).status_code == 422
    assert browser.post(reverse("lock"), {"secret": PIN}, **asked).json() == {"open": True}
    browser.post(reverse("sign-out"))
    assert browser.post(reverse("lock"), {"secret": PIN}, **asked).status_code == 401


def test_a_script_that_sends_from_a_locked_screen_is_told_so() -> None:
    browser = signed_in(person(Role.ADMINISTRATOR, password=PASSWORD))
    browser.post(reverse("lock-now"))
    answer = browser.post(reverse("person-add"), {"name": "A"}, headers={"sec-fetch-mode": "cors"})
    assert (answer.status_code, answer.json()) == (423, {"locked": True})
