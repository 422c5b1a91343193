"""Plans are kept as they were written, and the database holds nothing it should not."""

from dataclasses import replace

import pytest
from django.core.management import call_command
from django.db import IntegrityError, transaction

from sideport.app.planning.documents import plan_of
from sideport.app.planning.models import SheetKind, StoredPlan, StoredSheet
from sideport.app.planning.services import store_document, store_plan
from sideport.day.plan import DayPlan
from sideport.errors import PlanFormatError

from .conftest import NOW


def test_a_plan_comes_back_equal(stored: StoredPlan, plan: DayPlan) -> None:
    assert plan_of(StoredPlan.objects.light().get()) == plan


def test_storing_the_newest_plan_again_changes_nothing(stored: StoredPlan, plan: DayPlan) -> None:
    assert store_plan(plan=plan, now=NOW).pk == stored.pk
    assert StoredPlan.objects.count() == 1


def test_going_back_to_an_older_plan_makes_it_the_newest(stored: StoredPlan, plan: DayPlan) -> None:
    store_plan(plan=replace(plan, seed=2), now=NOW)
    again = store_plan(plan=plan, now=NOW)
    assert again.pk != stored.pk
    newest = StoredPlan.objects.newest_first().first()
    assert newest is not None
    assert newest.pk == again.pk


@pytest.mark.django_db
@pytest.mark.parametrize("document", ["", "{}", "[]", "not json", '{"format_version": 999}'])
def test_what_is_not_a_plan_is_refused_and_nothing_is_stored(document: str) -> None:
    with pytest.raises(PlanFormatError):
        store_document(document=document, now=NOW)
    assert not StoredPlan.objects.exists()


@pytest.mark.parametrize(("field", "value"), [("digest", "not a digest"), ("document", ""), ("format_version", 0)])
def test_the_database_refuses_a_broken_row(stored: StoredPlan, field: str, value: object) -> None:
    stored.pk = None
    setattr(stored, field, value)
    with pytest.raises(IntegrityError), transaction.atomic():
        stored.save(force_insert=True)


def test_a_plan_has_one_sheet_of_a_kind_and_no_other_kinds(stored: StoredPlan) -> None:
    StoredSheet.objects.create(plan=stored, kind=SheetKind.DAY, content=b"1")
    for kind in (SheetKind.DAY, "other"):
        with pytest.raises(IntegrityError), transaction.atomic():
            StoredSheet.objects.create(plan=stored, kind=kind, content=b"2")


@pytest.mark.django_db
def test_the_migrations_say_what_the_models_say() -> None:
    call_command("makemigrations", "--check", "--dry-run", verbosity=0)
