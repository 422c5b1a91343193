"""Signing in: the right password, the wrong one, too many of them, the second step, and out again."""

import time

import pytest
from django.conf import settings
from django.contrib.sessions.models import Session
from django.test import Client
from django.urls import reverse
from django_otp.oath import TOTP
from django_otp.plugins.otp_totp.models import TOTPDevice
from pytest_django import Settings

from sideport.app.people.models import Account
from sideport.app.people.roles import Role
from sideport.app.people.second import has_second_factor, new_recovery_codes
from sideport.app.planning.models import StoredPlan

from .cast import OTHER_UNIT, PASSWORD, as_role, person

pytestmark = pytest.mark.django_db


def signing_in(browser: Client, name: str, password: str = PASSWORD, **more: str) -> str:
    """Send name and password; where it leads, or an empty string when the form comes back."""
    response = browser.post(reverse("sign-in"), {"username": name, "password": password, **more})
    return response.headers.get("Location", "")


def code_of(device: TOTPDevice, *, steps_ahead: int = 0) -> str:
    """What the authenticator shows, by the library's own RFC 6238 function."""
    clock = TOTP(device.bin_key, device.step, device.t0, device.digits)
    clock.time = time.time() + steps_ahead * device.step
    return f"{clock.token():06d}"


def test_passwords_are_kept_by_argon2_and_pins_too() -> None:
    nurse = person(Role.NURSE, password=PASSWORD)
    assert nurse.password.startswith("argon2$argon2id$")
    assert PASSWORD not in nurse.password


def test_the_right_password_leads_to_the_page_that_was_asked_for(stored: StoredPlan) -> None:
    person(Role.NURSE, password=PASSWORD)
    browser, wanted = Client(), reverse("day", args=[stored.pk])
    asked = browser.get(wanted).headers["Location"]
    assert asked == f"/sign-in/?next={wanted}"
    assert signing_in(browser, " NURSE ", next=wanted) == wanted
    assert browser.get(wanted).status_code == 200


@pytest.mark.parametrize("wanted", ["https://elsewhere.example/", "//elsewhere.example/", "javascript:alert(1)"])
def test_no_link_leads_out_of_the_site_after_signing_in(wanted: str) -> None:
    person(Role.NURSE, password=PASSWORD)
    assert signing_in(Client(), "nurse", next=wanted) == "/"


def test_a_wrong_password_says_the_same_as_an_unknown_name() -> None:
    person(Role.NURSE, password=PASSWORD)
    answers = []
    for name in ("nurse", "nobody"):
        page = Client().post(reverse("sign-in"), {"username": name, "password": "wrong wrong wrong"}).content.decode()
        assert "do not belong together" in page
        answers.append(page[page.index("Mend this") :].split("</p>")[0])
    assert answers[0] == answers[1]


def test_after_five_wrong_passwords_the_right_one_waits_too() -> None:
    person(Role.NURSE, password=PASSWORD)
    person(Role.TRAINEE, password=PASSWORD)
    browser = Client()
    answers = [
        browser.post(reverse("sign-in"), {"username": "nurse", "password": "wrong wrong wrong"}).status_code
        for _ in range(settings.AXES_FAILURE_LIMIT)
    ]
    assert answers == [200, 200, 200, 200, 429]
    late = browser.post(reverse("sign-in"), {"username": "Nurse", "password": PASSWORD})
    assert late.status_code == 429
    assert "waits 15 minutes" in late.content.decode()
    assert signing_in(browser, "trainee") == "/"


def test_a_closed_account_cannot_sign_in() -> None:
    nurse = person(Role.NURSE, password=PASSWORD)
    nurse.is_active = False
    nurse.save()
    assert signing_in(Client(), "nurse") == ""


def test_signing_out_ends_the_session_on_the_server() -> None:
    person(Role.NURSE, password=PASSWORD)
    browser = Client()
    signing_in(browser, "nurse")
    taken = browser.cookies["sessionid"].value
    assert browser.post(reverse("sign-out")).headers["Location"] == reverse("sign-in")
    thief = Client()
    thief.cookies["sessionid"] = taken
    assert thief.get(reverse("own")).status_code == 302
    assert not Session.objects.filter(session_key=taken).exists()


def test_the_cookie_is_closed_to_scripts_and_other_sites_and_ends_with_the_browser() -> None:
    person(Role.NURSE, password=PASSWORD)
    browser = Client()
    signing_in(browser, "nurse")
    cookie = browser.cookies["sessionid"]
    assert cookie["httponly"]
    assert cookie["samesite"] == "Strict"
    assert cookie["max-age"] == ""


def test_a_session_that_somebody_planted_is_left_behind_at_sign_in() -> None:
    person(Role.NURSE, password=PASSWORD)
    browser = Client()
    planted = browser.session
    planted["planted"] = True
    planted.save()
    browser.cookies["sessionid"] = str(planted.session_key)
    signing_in(browser, "nurse")
    assert browser.cookies["sessionid"].value != planted.session_key
    assert not Session.objects.filter(session_key=planted.session_key).exists()


def test_cookies_travel_by_https_alone_where_there_is_a_certificate(settings: Settings) -> None:
    from sideport.app import settings as written

    assert written.SESSION_COOKIE_SECURE is written.CSRF_COOKIE_SECURE is written.HTTPS


def test_who_sees_many_patients_sets_up_the_second_step_before_anything_else(stored: StoredPlan) -> None:
    lead = person(Role.LEAD_SURGEON, password=PASSWORD)
    browser, wanted = Client(), reverse("day", args=[stored.pk])
    signing_in(browser, "lead-surgeon")
    assert browser.get(wanted).headers["Location"] == reverse("second-enrol")
    page = browser.get(reverse("second-enrol")).content.decode()
    assert "<svg" in page
    device = TOTPDevice.objects.get(user=lead, confirmed=False)
    assert not has_second_factor(lead)
    wrong = browser.post(reverse("second-enrol"), {"token": "000000"})
    assert "Not the right code" in wrong.content.decode()
    TOTPDevice.objects.update(throttling_failure_count=0, throttling_failure_timestamp=None)
    codes = browser.post(reverse("second-enrol"), {"token": code_of(device)}).content.decode()
    assert codes.count("<li><code>") == 8
    assert browser.get(wanted).status_code == 200


def test_the_second_step_is_asked_for_at_each_sign_in_and_a_code_is_good_once(stored: StoredPlan) -> None:
    lead = person(Role.LEAD_SURGEON, password=PASSWORD)
    device = TOTPDevice.objects.create(user=lead, confirmed=True)
    wanted = reverse("day", args=[stored.pk])
    first, second = Client(), Client()
    for browser in (first, second):
        signing_in(browser, "lead-surgeon")
        assert browser.get(wanted).headers["Location"] == reverse("second-step")
        assert browser.get(reverse("second-enrol")).headers["Location"] == reverse("second-step")
    code = code_of(device)
    assert (
        first.post(reverse("second-step"), {"token": f"{code[:3]} {code[3:]}", "next": wanted}).headers["Location"]
        == wanted
    )
    assert first.get(wanted).status_code == 200
    assert second.post(reverse("second-step"), {"token": code}).status_code == 200
    assert second.get(wanted).status_code == 302


def test_wrong_codes_of_the_second_step_are_slowed_down() -> None:
    device = TOTPDevice.objects.create(user=person(Role.LEAD_SURGEON, password=PASSWORD), confirmed=True)
    browser = Client()
    signing_in(browser, "lead-surgeon")
    assert browser.post(reverse("second-step"), {"token": "000000"}).status_code == 200
    assert browser.post(reverse("second-step"), {"token": code_of(device)}).status_code == 200, "still waiting"
    TOTPDevice.objects.update(throttling_failure_count=0, throttling_failure_timestamp=None)
    assert browser.post(reverse("second-step"), {"token": code_of(device)}).status_code == 302


def test_a_recovery_code_stands_in_once() -> None:
    lead = person(Role.LEAD_SURGEON, password=PASSWORD)
    TOTPDevice.objects.create(user=lead, confirmed=True)
    code, *_ = new_recovery_codes(lead)
    grouped = " ".join(code[at : at + 4] for at in range(0, 16, 4)).upper()
    for expected in (302, 200):
        browser = Client()
        signing_in(browser, "lead-surgeon")
        assert browser.post(reverse("second-step"), {"token": grouped}).status_code == expected


def test_the_picture_is_drawn_here_and_holds_the_key_that_can_be_typed() -> None:
    from base64 import b32decode

    from sideport.app.people.second import begin_enrolment, picture_of, typed_key

    device = begin_enrolment(person(Role.AUDITOR))
    typed = typed_key(device).replace(" ", "")
    assert b32decode(typed + "=" * (-len(typed) % 8)) == device.bin_key
    picture = picture_of(device)
    assert picture.startswith("<svg")
    assert "style=" not in picture
    assert "href" not in picture


def test_a_new_password_ends_the_other_sessions_and_not_this_one() -> None:
    person(Role.NURSE, password=PASSWORD)
    here, there = Client(), Client()
    for browser in (here, there):
        signing_in(browser, "nurse")
    new = {"password": "nine herons on a wall", "again": "nine herons on a wall"}
    refused = here.post(reverse("own-password"), {"old_password": "wrong", **new})
    assert "This is not your password" in refused.content.decode()
    assert here.post(reverse("own-password"), {"old_password": PASSWORD, **new}).status_code == 302
    assert here.get(reverse("own")).status_code == 200
    assert there.get(reverse("own")).status_code == 302
    assert signing_in(Client(), "nurse", "nine herons on a wall") == "/"


@pytest.mark.parametrize(
    ("password", "again", "said"),
    [
        ("short words", "short words", "at least 12 characters"),
        ("password1234", "password1234", "too common"),
        ("nurse-at-quill", "nurse-at-quil", "not the same"),
        ("quill island eye unit", "quill island eye unit", "too similar"),
    ],
)
def test_a_weak_or_mistyped_password_is_refused_in_words(password: str, again: str, said: str) -> None:
    person(Role.NURSE, password=PASSWORD)
    browser = Client()
    signing_in(browser, "nurse")
    page = browser.post(reverse("own-password"), {"old_password": PASSWORD, "password": password, "again": again})
    assert said in page.content.decode()
    assert Account.objects.get(username="nurse").check_password(PASSWORD)


def test_fields_can_be_filled_by_a_password_manager() -> None:
    page = Client().get(reverse("sign-in")).content.decode()
    assert 'autocomplete="username"' in page
    assert 'autocomplete="current-password"' in page
    for blocked in ("onpaste", 'autocomplete="off"'):
        assert blocked not in page


def test_the_home_of_the_store_is_the_shelf_and_shows_no_names(stored: StoredPlan) -> None:
    browser, shelf = as_role(Role.STORE), reverse("shelf", args=[stored.pk])
    assert shelf in browser.get("/").content.decode()
    page = browser.get(shelf).content.decode()
    assert "QI-104" in page
    for name in ("Tansy", "Juniper"):
        assert name not in page


def test_somebody_of_another_unit_sees_no_plan_at_all(stored: StoredPlan) -> None:
    browser = as_role(Role.NURSE, unit=OTHER_UNIT)
    for address in ("/", reverse("plans")):
        page = browser.get(address).content.decode()
        assert "Quill Island" not in page
        assert f"/plans/{stored.pk}/" not in page
