"""The first administrator and everyone after: made with one-time codes, never with a given password."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from sideport.app.people.codes import MOST_FAILURES, first_code_is_open, new_code, redeem
from sideport.app.people.models import Account, CodePurpose, OneTimeCode
from sideport.app.people.roles import Role
from sideport.app.planning.models import StoredPlan
from sideport.app.serve import greeting

from .cast import OTHER_UNIT, PASSWORD, as_role, person, signed_in

pytestmark = pytest.mark.django_db
FORM = {
    "name": "Ivo Marsh", "username": "Ivo", "unit": "Quill Island Eye Unit", "password": PASSWORD, "again": PASSWORD,
}  # fmt: skip


def first_code() -> str:
    """A live code for the first page."""
    return new_code(purpose=CodePurpose.FIRST, account=None, now=timezone.now())


def test_there_is_no_account_and_no_password_to_begin_with() -> None:
    assert not Account.objects.exists()
    assert Client().get(reverse("first")).status_code == 404


def test_the_printed_code_makes_one_administrator_once(stored: StoredPlan) -> None:
    code = first_code()
    browser = Client()
    assert 'value="Quill Island Eye Unit"' in browser.get(reverse("first")).content.decode()
    answer = browser.post(reverse("first"), {**FORM, "code": code.lower().replace("-", " ")})
    assert answer.headers["Location"] == reverse("second-enrol")
    made = Account.objects.get()
    assert (made.username, made.role, made.unit) == ("ivo", Role.ADMINISTRATOR, "Quill Island Eye Unit")
    assert Client().get(reverse("first")).status_code == 404
    assert Client().post(reverse("first"), {**FORM, "code": code, "username": "second"}).status_code == 404
    assert Account.objects.count() == 1


def test_a_weak_password_leaves_the_code_good(stored: StoredPlan) -> None:
    code = first_code()
    page = Client().post(reverse("first"), {**FORM, "code": code, "password": "short", "again": "short"})
    assert "at least 12 characters" in page.content.decode()
    assert Client().post(reverse("first"), {**FORM, "code": code}).status_code == 302


def test_only_a_hash_of_the_code_is_kept() -> None:
    code = first_code().replace("-", "")
    kept = OneTimeCode.objects.get()
    assert len(code) == 12
    assert code not in str(vars(kept))
    assert len(kept.hashed) == 64


def test_a_code_ends_after_its_time_and_after_ten_wrong_tries() -> None:
    now = timezone.now()
    code = new_code(purpose=CodePurpose.FIRST, account=None, now=now)
    assert not redeem(purpose=CodePurpose.FIRST, account=None, typed=code, now=now + timedelta(hours=2))
    for _ in range(MOST_FAILURES):
        assert first_code_is_open(now)
        assert not redeem(purpose=CodePurpose.FIRST, account=None, typed="AAAA-AAAA-AAAA", now=now)
    assert not first_code_is_open(now)
    assert not redeem(purpose=CodePurpose.FIRST, account=None, typed=code, now=now)


def test_a_newer_code_ends_the_older_one() -> None:
    older, newer = first_code(), first_code()
    now = timezone.now()
    assert not redeem(purpose=CodePurpose.FIRST, account=None, typed=older, now=now)
    assert redeem(purpose=CodePurpose.FIRST, account=None, typed=newer, now=now)


def test_the_start_prints_a_code_only_while_nobody_can_sign_in_as_administrator() -> None:
    assert "type this code within an hour" in greeting("127.0.0.1", 8477, new_administrator=False)[-1]
    person(Role.ADMINISTRATOR, password=PASSWORD)
    assert len(greeting("127.0.0.1", 8477, new_administrator=False)) == 1
    assert "type this code" in greeting("127.0.0.1", 8477, new_administrator=True)[-1]


def test_somebody_new_gets_a_code_and_chooses_a_password() -> None:
    admin = as_role(Role.ADMINISTRATOR)
    page = admin.post(reverse("person-add"), {"name": "मीरा घाट", "username": "Mira", "role": "nurse"})
    text = page.content.decode()
    code = text[text.index('<code class="key">') + 18 :][:14]
    mira = Account.objects.get(username="mira")
    assert not mira.has_usable_password()
    assert code not in admin.get(reverse("person", args=[mira.pk])).content.decode(), "shown once"
    chosen = {"username": "MIRA", "password": PASSWORD, "again": PASSWORD}
    browser = Client()
    assert browser.post(reverse("welcome"), {**chosen, "code": "AAAA-AAAA-AAAA"}).status_code == 200
    assert browser.post(reverse("welcome"), {**chosen, "code": code}).status_code == 302
    assert browser.get(reverse("own")).status_code == 200
    assert Client().post(reverse("welcome"), {**chosen, "code": code}).status_code == 200, "good once"


def test_a_code_opens_its_own_account_alone() -> None:
    code = new_code(purpose=CodePurpose.WELCOME, account=person(Role.NURSE), now=timezone.now())
    person(Role.LEAD_SURGEON)
    answer = Client().post(
        reverse("welcome"), {"username": "lead-surgeon", "code": code, "password": PASSWORD, "again": PASSWORD}
    )
    assert answer.status_code == 200


def test_a_name_that_is_taken_or_has_a_space_is_refused_in_words() -> None:
    admin = as_role(Role.ADMINISTRATOR)
    person(Role.NURSE)
    for name, said in (("NURSE", "already exists"), ("two words", "without a space"), ("x", "2 to 60")):
        page = admin.post(reverse("person-add"), {"name": "Pip", "username": name, "role": "nurse"}).content.decode()
        assert said in page, name


def test_a_role_can_be_changed_and_the_change_is_written_down() -> None:
    admin, nurse = as_role(Role.ADMINISTRATOR), person(Role.NURSE)
    assert admin.post(reverse("person", args=[nurse.pk]), {"role": "store"}).status_code == 302
    nurse.refresh_from_db()
    assert nurse.role == Role.STORE
    change = nurse.changes.order_by("-pk").first()
    assert change is not None
    assert change.what == "role nurse became store"
    assert change.by == person(Role.ADMINISTRATOR)


def test_the_last_administrator_can_neither_leave_nor_be_closed() -> None:
    boss = person(Role.ADMINISTRATOR, password=PASSWORD)
    admin = signed_in(boss)
    assert "only administrator" in admin.post(reverse("person", args=[boss.pk]), {"role": "nurse"}).content.decode()
    assert admin.post(reverse("person-close", args=[boss.pk])).status_code == 409
    boss.refresh_from_db()
    assert boss.is_active
    assert boss.role == Role.ADMINISTRATOR
    Account.objects.create(
        username="two",
        name="Two",
        role=Role.ADMINISTRATOR,
        unit=boss.unit,
        created=timezone.now(),
        password=boss.password,
    )
    assert admin.post(reverse("person-close", args=[boss.pk])).status_code == 302


def test_a_lost_phone_ends_password_and_second_step_and_gives_a_code() -> None:
    from django_otp.plugins.otp_totp.models import TOTPDevice

    surgeon = person(Role.SURGEON, password=PASSWORD)
    TOTPDevice.objects.create(user=surgeon, confirmed=True)
    page = as_role(Role.ADMINISTRATOR).post(reverse("person-welcome", args=[surgeon.pk])).content.decode()
    assert 'class="key"' in page
    surgeon.refresh_from_db()
    assert not surgeon.has_usable_password()
    assert not TOTPDevice.objects.filter(user=surgeon).exists()


def test_people_of_another_unit_are_not_listed() -> None:
    person(Role.NURSE, unit=OTHER_UNIT)
    page = as_role(Role.ADMINISTRATOR).get(reverse("people")).content.decode()
    assert "other-nurse" not in page
    assert "administrator" in page
