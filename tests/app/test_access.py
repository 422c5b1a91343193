"""Every address, for every role, in its own unit and in another: what opens and what does not."""

import re
from dataclasses import dataclass
from datetime import date

import pytest
from django.http import HttpRequest, HttpResponse
from django.test import Client
from django.test.client import RequestFactory
from django.urls import get_resolver, reverse
from pytest_django import Settings

from sideport.app.loopback import is_loopback
from sideport.app.patients.models import FolderImport
from sideport.app.people.doors import doors
from sideport.app.people.gate import DeclaredOnly
from sideport.app.people.roles import RIGHTS, Role
from sideport.app.planning.models import StoredPlan
from sideport.app.record.models import Measurement, Operation, Person, Task, Visit

from .cast import MADE, OTHER_UNIT, UNIT, as_role, person, session_of, signed_in
from .operated import operated, seen
from .register import TANSY, examined, looks_like, on_register

LETTERS = dict(zip("LSTNCOAM", Role, strict=True))
"""Lead surgeon, surgeon, trainee, nurse, technician, store, auditor, administrator."""
CLINICAL = "LSTNCAM"
ANYONE, ACCOUNT = "anyone", "LSTNCOAM"


@dataclass(frozen=True)
class Row:
    """What is expected of one address."""

    who: str
    """Letters of the roles it opens for, or ``anyone``."""
    method: str = "get"
    of_unit: bool = False
    """Whether it is about something that belongs to a unit."""


EXPECTED = {
    "home": Row(ACCOUNT),
    "plans": Row(CLINICAL),
    "day": Row(CLINICAL, of_unit=True),
    "eye": Row(CLINICAL, of_unit=True),
    "eye-cut": Row(CLINICAL, of_unit=True),
    "day-sheet": Row(CLINICAL, of_unit=True),
    "eyes-sheet": Row(CLINICAL, of_unit=True),
    "document": Row("LSAM", of_unit=True),
    "document-names": Row("L", of_unit=True),
    "shelf": Row("LSTNCOAM", of_unit=True),
    "theatre": Row("LSTN"),
    "theatre-list": Row("LSTN", of_unit=True),
    "theatre-eye": Row("LSTN", of_unit=True),
    "theatre-sign-in": Row("LSTN", of_unit=True),
    "theatre-time-out": Row("LSTN", of_unit=True),
    "theatre-sign-out": Row("LSTN", of_unit=True),
    "theatre-tap": Row("LSTN", "post", of_unit=True),
    "theatre-undo": Row("LSTN", "post", of_unit=True),
    "theatre-wound": Row("LSTN", of_unit=True),
    "theatre-abandon": Row("LSTN", of_unit=True),
    "theatre-note": Row("LSTN", of_unit=True),
    "theatre-bag": Row("LSTN", of_unit=True),
    "theatre-sulcus": Row("LSTN", of_unit=True),
    "theatre-chamber": Row("LSTN", of_unit=True),
    "theatre-aside": Row("LSTN", "post", of_unit=True),
    "theatre-go-on": Row("LSTN", "post", of_unit=True),
    "theatre-implanted": Row("LSTN", "post", of_unit=True),
    "theatre-spoilt": Row("LSTN", "post", of_unit=True),
    "follow-up": Row("LSTNCAM"),
    "follow-up-eye": Row("LSTNCAM", of_unit=True),
    "visit": Row("LSTNC", of_unit=True),
    "visit-correct": Row("LSTNC", of_unit=True),
    "visit-withdraw": Row("LSTNC", "post", of_unit=True),
    "visit-contact": Row("LSTNC", "post", of_unit=True),
    "visit-missed": Row("LSTNC", "post", of_unit=True),
    "slip": Row("LSTNC", of_unit=True),
    "patients": Row(CLINICAL),
    "patient-new": Row("LSTNC"),
    "patient": Row(CLINICAL, of_unit=True),
    "patient-correct": Row("LSTNC", of_unit=True),
    "patient-history": Row(CLINICAL, of_unit=True),
    "patient-list": Row("LSTNC", "post", of_unit=True),
    "take-back": Row("LSTNC", of_unit=True),
    "reading-correct": Row("LSTNC", of_unit=True),
    "story": Row(CLINICAL, of_unit=True),
    "findings": Row("LSTNC", of_unit=True),
    "readings": Row("LSTNC", of_unit=True),
    "days": Row(CLINICAL),
    "day-list": Row(CLINICAL),
    "day-set": Row("LS", "post"),
    "plan-now": Row("LS", "post"),
    "import": Row("LS"),
    "brought": Row("LS", of_unit=True),
    "brought-csv": Row("LS", of_unit=True),
    "mended": Row("LS", "post", of_unit=True),
    "tasks": Row("LS"),
    "look": Row("LS", "post"),
    "task": Row("LS", of_unit=True),
    "sources": Row(ACCOUNT),
    "source": Row(ACCOUNT),
    "sign-in": Row(ANYONE),
    "walk-in": Row(ANYONE, "post"),
    "second-step": Row(ANYONE),
    "second-enrol": Row(ANYONE),
    "sign-out": Row(ANYONE, "post"),
    "first": Row(ANYONE),
    "welcome": Row(ANYONE),
    "lock": Row(ANYONE),
    "lock-now": Row(ANYONE, "post"),
    "kept": Row(ANYONE),
    "own": Row(ACCOUNT),
    "own-password": Row(ACCOUNT),
    "own-pin": Row(ACCOUNT),
    "own-codes": Row("", "post"),
    "people": Row("M"),
    "person-add": Row("M"),
    "person": Row("M", of_unit=True),
    "person-close": Row("M", "post", of_unit=True),
    "person-reopen": Row("M", "post", of_unit=True),
    "person-welcome": Row("M", "post", of_unit=True),
    "reads": Row("LAM"),
}
"""Written by hand, never from the code: a new address fails until someone has thought about its row."""
RECORD = frozenset(name for name in EXPECTED if name.startswith(("patient", "day-", "plan-"))) | {
    "take-back", "reading-correct", "story", "findings", "readings", "brought", "brought-csv", "mended", "task",
}  # fmt: skip
"""Addresses about something on the record."""


def address_of(name: str, stored: StoredPlan) -> str:
    """The address of a route, about the sample plan and a nurse of its unit."""
    arguments = {
        "plan_id": stored.pk, "eye_key": "QI-101-right", "key": "practice", "account_id": person(Role.NURSE).pk,
    }  # fmt: skip
    needed = get_resolver().reverse_dict.getlist(name)[0][0][0][1]
    if "operation_key" in needed:
        operation = Operation.objects.first() or operated("QI-301", date(2031, 3, 1))
        visit = Visit.objects.first() or seen(operation, date(2031, 3, 2))
        arguments |= {"operation_key": operation.pk, "visit_key": visit.pk}
    if needed and name in RECORD:
        arguments |= on_record()
    return reverse(name, kwargs={key: arguments[key] for key in needed if key != "kind"})


def on_record() -> dict[str, object]:
    """A patient with a reading, an import and a question on the sample unit's record."""
    row = Person.objects.filter(person_id=TANSY.person_id).first() or examined(on_register())
    brought = FolderImport.objects.first() or FolderImport.objects.create(
        unit=UNIT, at=MADE, by="Wren Hollis", files=["register.csv"], added={}, rejected=[["a"] * 7], notes=[]
    )  # fmt: skip
    task = Task.objects.filter(settled_by="").first() or looks_like(row)
    reading = Measurement.objects.earliest("first")
    return {
        "key": row.key, "side": "right", "reading": reading.key, "import_id": brought.pk, "task": task.key,
        "day": "2031-03-04",
    }  # fmt: skip


def asked(client: Client, row: Row, address: str) -> HttpResponse:
    """The answer to a request of the row's method."""
    return getattr(client, row.method)(address)  # type: ignore[no-any-return]


def test_every_address_of_the_site_has_a_row_and_every_row_an_address() -> None:
    assert set(EXPECTED) == {door.route for door in doors()}


@pytest.mark.parametrize("name", EXPECTED)
def test_an_address_opens_for_its_roles_and_for_nobody_else(name: str, stored: StoredPlan) -> None:
    row, address = EXPECTED[name], address_of(name, stored)
    if row.who == ANYONE:
        return
    for letter, role in LETTERS.items():
        response = asked(as_role(role), row, address)
        if letter in row.who:
            assert response.status_code in {200, 302, 409, 422}, role
            assert not response.headers.get("Location", "").startswith(("/sign-in/", "/me/second/")), role
        else:
            assert response.status_code == 403, role
            assert b"Tansy" not in response.content


@pytest.mark.parametrize("name", [name for name, row in EXPECTED.items() if row.of_unit])
def test_what_belongs_to_another_unit_does_not_exist(name: str, stored: StoredPlan) -> None:
    row, address = EXPECTED[name], address_of(name, stored)
    for letter, role in LETTERS.items():
        response = asked(as_role(role, unit=OTHER_UNIT), row, address)
        assert response.status_code == (404 if letter in row.who else 403), role
        assert b"Tansy" not in response.content
    assert person(Role.NURSE).is_active


@pytest.mark.parametrize("name", EXPECTED)
def test_the_anonymous_get_nothing(name: str, stored: StoredPlan) -> None:
    row, address = EXPECTED[name], address_of(name, stored)
    for response in (Client().get(address), Client().post(address)):
        assert b"Tansy" not in response.content
        assert b"Quill Island" not in response.content
        if row.who != ANYONE:
            assert response.status_code == 302
            assert response.headers["Location"].startswith("/sign-in/?next=")


@pytest.mark.parametrize("name", [name for name, row in EXPECTED.items() if row.who != ANYONE])
def test_a_password_alone_opens_nothing_to_those_who_see_many_patients(name: str, stored: StoredPlan) -> None:
    row, address = EXPECTED[name], address_of(name, stored)
    for role in (Role.LEAD_SURGEON, Role.AUDITOR, Role.ADMINISTRATOR):
        browser = Client()
        browser.cookies["sessionid"] = session_of(person(role), second_step=False)
        response = asked(browser, row, address)
        assert response.status_code == 302
        assert response.headers["Location"] == reverse("second-enrol")


@pytest.mark.django_db
def test_a_closed_account_is_out_at_its_next_click(stored: StoredPlan) -> None:
    nurse = person(Role.NURSE)
    browser = signed_in(nurse)
    assert browser.get(reverse("day", args=[stored.pk])).status_code == 200
    nurse.is_active = False
    nurse.save()
    assert browser.get(reverse("day", args=[stored.pk])).status_code == 302


def test_a_view_that_says_nothing_about_its_readers_is_closed() -> None:
    from django.core.exceptions import PermissionDenied

    def forgotten(request: HttpRequest) -> HttpResponse:
        return HttpResponse("open")

    gate = DeclaredOnly(lambda request: HttpResponse())
    with pytest.raises(PermissionDenied):
        gate.process_view(RequestFactory().get("/"), forgotten, (), {})


def test_every_role_has_rights_and_nobody_who_only_reads_may_write() -> None:
    assert set(RIGHTS) == set(Role)
    writes = {"register", "plan", "operate", "assist", "follow-up", "keep-shelf", "learn", "resolve"}
    for role in (Role.AUDITOR, Role.ADMINISTRATOR):
        assert not writes & {str(permission) for permission in RIGHTS[role].permissions}
    managers = [role for role, rights in RIGHTS.items() if "manage-people" in rights.permissions]
    assert managers == [Role.ADMINISTRATOR]


@pytest.mark.parametrize("address", ["127.0.0.1", "127.8.8.8", "::1", "[::1]", "::ffff:127.0.0.1"])
def test_loopback_addresses_are_this_computer(address: str) -> None:
    assert is_loopback(address)


@pytest.mark.parametrize("address", ["192.168.1.20", "10.0.0.1", "8.8.8.8", "::", "0.0.0.0", "fe80::1", "", "nonsense"])
def test_other_addresses_are_strangers(address: str) -> None:
    assert not is_loopback(address)


def readable(stored: StoredPlan) -> list[str]:
    """Every address that answers to GET."""
    return [address_of(name, stored) for name, row in EXPECTED.items() if row.method == "get"]


def test_another_machine_is_refused_everywhere_in_plain_words(client: Client, stored: StoredPlan) -> None:
    for address in [*readable(stored), "/static/sideport/site.css", "/nowhere/"]:
        response = client.get(address, REMOTE_ADDR="192.168.1.20")
        assert response.status_code == 403, address
        assert b"only to the computer it runs on" in response.content
        assert b"Tansy" not in response.content


def test_with_a_certificate_another_machine_meets_the_same_doors(stored: StoredPlan, settings: Settings) -> None:
    settings.HTTPS = True
    address = address_of("day", stored)
    assert Client().get(address, REMOTE_ADDR="192.168.1.20").headers["Location"].startswith("/sign-in/")
    assert as_role(Role.NURSE).get(address, REMOTE_ADDR="192.168.1.20").status_code == 200


def test_a_foreign_host_name_is_refused(client: Client, stored: StoredPlan) -> None:
    assert client.get("/plans/", headers={"host": "evil.example"}).status_code == 400


def test_every_page_forbids_foreign_code_and_copies(client: Client, stored: StoredPlan) -> None:
    for address in readable(stored):
        headers = client.get(address).headers
        policy = headers["Content-Security-Policy"]
        assert "default-src 'self'" in policy, address
        assert "unsafe" not in policy
        assert headers["X-Frame-Options"] == "DENY"
        assert headers["Referrer-Policy"] == "same-origin"
        assert headers["Cross-Origin-Opener-Policy"] == "same-origin"
        assert {"private", "no-store"} <= set(headers["Cache-Control"].split(", ")), address


def test_a_form_from_elsewhere_is_refused(stored: StoredPlan) -> None:
    browser = signed_in(person(Role.ADMINISTRATOR), enforce_csrf_checks=True)
    response = browser.post(reverse("person-close", args=[person(Role.NURSE).pk]))
    assert response.status_code == 403
    assert b"Please send it again" in response.content


def test_pages_hold_no_inline_script_no_style_and_no_foreign_address(client: Client, stored: StoredPlan) -> None:
    for address in readable(stored):
        response = client.get(address)
        if response.headers["Content-Type"].startswith("text/html"):
            page = response.content.decode().replace("http://www.w3.org/2000/svg", "")
            page = re.sub(r'<script src="/static/sideport/[a-z]+\.js" (?:defer|type="module")></script>', "", page)
            assert "<script" not in page, address
            assert "<style" not in page, address
            assert " style=" not in page, address
            assert "http://" not in page, address
            assert "https://" not in page, address
