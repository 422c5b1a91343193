"""The sheets and the plan's own text, and the list of plans."""

from dataclasses import replace
from datetime import timedelta

from django.test import Client
from django.urls import reverse

from sideport.app.planning.models import SheetKind, StoredPlan, StoredSheet
from sideport.app.planning.services import store_plan
from sideport.day.plan import DayPlan
from sideport.exchange.plan_file import plan_from_json

from .conftest import NOW


def test_the_document_with_names_is_the_plan_to_the_digit(client: Client, stored: StoredPlan, plan: DayPlan) -> None:
    response = client.get(reverse("document-names", args=[stored.pk]))
    assert response.headers["Content-Type"].startswith("application/json")
    assert plan_from_json(response.content) == plan


def test_the_document_is_without_names_unless_they_are_asked_for(
    client: Client, stored: StoredPlan, plan: DayPlan
) -> None:
    text = client.get(reverse("document", args=[stored.pk])).content.decode()
    for eye in plan.eyes:
        for telling in (eye.name, eye.person_id, eye.note, eye.operator.name):
            assert not telling or telling not in text, telling
    assert all(name not in text for name in plan.team)
    nameless = plan_from_json(text)
    assert [eye.side for eye in nameless.eyes] == [eye.side for eye in plan.eyes]
    assert [eye.lens for eye in nameless.eyes] == [eye.lens for eye in plan.eyes]


def test_a_stored_sheet_is_served_to_the_byte(client: Client, db: None, plan: DayPlan) -> None:
    stored = store_plan(plan=plan, now=NOW, sheets={SheetKind.DAY: b"%PDF-1.7 stored"})
    response = client.get(reverse("day-sheet", args=[stored.pk]))
    assert response.content == b"%PDF-1.7 stored"
    assert response.headers["Content-Type"] == "application/pdf"
    assert 'filename="day-2031-03-04.pdf"' in response.headers["Content-Disposition"]


def test_a_sheet_that_was_not_stored_is_made_once_and_kept(client: Client, stored: StoredPlan) -> None:
    first = client.get(reverse("eyes-sheet", args=[stored.pk])).content
    assert first.startswith(b"%PDF-")
    assert StoredSheet.objects.count() == 1
    assert client.get(reverse("eyes-sheet", args=[stored.pk])).content == first


def test_files_of_a_missing_plan_are_not_found(client: Client, stored: StoredPlan) -> None:
    for name in ("document", "day-sheet", "eyes-sheet"):
        assert client.get(reverse(name, args=[stored.pk + 1])).status_code == 404


def test_plans_are_listed_newest_first(client: Client, stored: StoredPlan, plan: DayPlan) -> None:
    newer = store_plan(plan=replace(plan, seed=9), now=NOW + timedelta(hours=1))
    page = client.get(reverse("plans")).content.decode()
    listed = page[page.index("<tbody>") :]
    assert listed.index(reverse("day", args=[newer.pk])) < listed.index(reverse("day", args=[stored.pk]))
