"""The slip's page: what is filled in is printed, what is half filled in is refused."""

import io
from datetime import date, timedelta

import pytest
from django.urls import reverse
from pypdf import PdfReader

from sideport.app.people.roles import Role
from sideport.app.record.models import JournalEntry, Operation

from .cast import as_role
from .operated import operated, seen

pytestmark = pytest.mark.django_db
DAY = date(2031, 3, 4)


@pytest.fixture(autouse=True)
def _today(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sideport.app.followup.views.timezone.localdate", lambda: DAY + timedelta(1))


@pytest.fixture
def operation() -> Operation:
    found = operated("QI-301", DAY, name="Tansy Moor")
    seen(found, DAY + timedelta(1))
    return found


def test_the_return_date_starts_at_the_next_visit(operation: Operation) -> None:
    page = as_role(Role.NURSE).get(reverse("slip", args=[operation.pk])).content.decode()
    assert f'value="{DAY + timedelta(7):%Y-%m-%d}"' in page
    assert "week 1 to 2" in page
    for name in ("English", "বাংলা", "हिन्दी"):
        assert f">{name}</option>" in page
    assert "not been checked by fluent readers" in page


def test_the_slip_says_the_drops_and_the_day_and_writes_no_entry(operation: Operation) -> None:
    count = JournalEntry.objects.count()
    answer = as_role(Role.NURSE).post(reverse("slip", args=[operation.pk]), {
        "language": "en", "comes_back": "2031-03-12", "phone": "0123 456", "drop_1": "White bottle", "times_1": "4",
        "days_1": "28",
    })  # fmt: skip
    assert (answer.status_code, answer.headers["Content-Type"]) == (200, "application/pdf")
    assert "no-store" in answer.headers["Cache-Control"]
    (page,) = PdfReader(io.BytesIO(answer.content)).pages
    words = " ".join(page.extract_text().split())
    for said in ("Tansy Moor", "QI-301", "RIGHT", "White bottle", "Wednesday, 12 March 2031", "Telephone: 0123 456"):
        assert said in words, said
    assert JournalEntry.objects.count() == count


@pytest.mark.parametrize(
    "wrong", [{"drop_1": "White bottle"}, {"times_1": "4"}, {"language": "xx"}, {"comes_back": "soon"}]
)
def test_half_a_drop_or_an_unknown_language_is_refused(operation: Operation, wrong: dict[str, str]) -> None:
    answer = as_role(Role.NURSE).post(reverse("slip", args=[operation.pk]), {"language": "bn"} | wrong)
    assert answer.status_code == 422
    assert "Mend this" in answer.content.decode()
