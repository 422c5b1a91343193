"""Every look at a patient is written down before it is shown."""

import pytest
from django.db import DatabaseError
from django.test import Client
from django.urls import reverse

from sideport.app.people.models import ReadLog
from sideport.app.people.roles import Role
from sideport.app.planning.models import StoredPlan

from .cast import OTHER_UNIT, as_role, person


def rows() -> list[tuple[str, str, str, str]]:
    """The log, oldest first: who, kind, whose, page."""
    found = ReadLog.objects.order_by("pk").select_related("account")
    return [(row.account.username, row.kind, row.subject, row.view) for row in found]


def test_a_look_at_an_eye_names_the_patient(stored: StoredPlan) -> None:
    as_role(Role.NURSE).get(reverse("eye", args=[stored.pk, "QI-101-right"]))
    assert rows() == [("nurse", "patient", "QI-101", "eye")]
    assert ReadLog.objects.get().detail == f"right eye, plan {stored.pk}"


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("day", "list"), ("day-sheet", "list"), ("eyes-sheet", "list"), ("shelf", "list"),
        ("document", "export"), ("document-names", "export-names"),
    ],
)  # fmt: skip
def test_lists_and_exports_are_written_down(stored: StoredPlan, name: str, kind: str) -> None:
    as_role(Role.LEAD_SURGEON).get(reverse(name, args=[stored.pk]))
    assert rows() == [("lead-surgeon", kind, f"plan {stored.pk}", name)]


def test_what_was_not_shown_is_not_written_down(stored: StoredPlan) -> None:
    day, nobody = reverse("day", args=[stored.pk]), reverse("eye", args=[stored.pk, "nobody"])
    Client().get(day)
    as_role(Role.STORE).get(day)
    as_role(Role.STORE).get(reverse("shelf", args=[stored.pk]))
    as_role(Role.NURSE, unit=OTHER_UNIT).get(day)
    as_role(Role.NURSE).get(nobody)
    assert rows() == []


def test_nothing_is_shown_when_it_cannot_be_written_down(stored: StoredPlan, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*args: object, **kwargs: object) -> None:
        raise DatabaseError("disk full")

    browser = as_role(Role.NURSE)
    monkeypatch.setattr(type(ReadLog.objects), "create", full)
    with pytest.raises(DatabaseError):
        browser.get(reverse("eye", args=[stored.pk, "QI-101-right"]))


def test_the_log_answers_who_read_this_patient_for_the_own_unit(stored: StoredPlan) -> None:
    nurse = as_role(Role.NURSE)
    for key in ("QI-101-right", "QI-102-left"):
        nurse.get(reverse("eye", args=[stored.pk, key]))
    page = as_role(Role.AUDITOR).get(reverse("reads"), {"subject": "QI-101"}).content.decode()
    assert page.count('data-label="Whose"') == 1
    assert person(Role.NURSE).name in page
    elsewhere = as_role(Role.AUDITOR, unit=OTHER_UNIT).get(reverse("reads")).content.decode()
    assert "Nobody has looked yet" in elsewhere
