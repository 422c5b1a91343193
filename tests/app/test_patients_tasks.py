"""People registered twice, and other contradictions, wait for a person; the answer is kept and nothing is removed."""

import pytest
from django.test import Client
from django.urls import reverse

from sideport.app.patients.services import list_eye
from sideport.app.people.models import ReadLog
from sideport.app.record.models import JournalEntry, ListedEye, Measurement, Person, Task
from sideport.app.record.queries import person_facts, request_for
from sideport.app.record.services import append, rebuild, verify_journal
from sideport.eye.person import Cataract
from sideport.eye.person import Person as Facts
from sideport.optics.side import Side
from sideport.record.kinds import Kind

from .cast import UNIT
from .register import DAY, NOW, SHIULI, TANSY, WRITER, examined, listed, looks_like, on_register, unit_is_set

pytestmark = pytest.mark.django_db


def page_of(client: Client, address: str) -> str:
    response = client.get(address)
    assert response.status_code == 200
    return response.content.decode()


def other() -> Person:
    return Person.objects.get(person_id="QR-8")


def test_a_question_shows_both_people_side_by_side_and_notes_the_look(client: Client) -> None:
    task = looks_like(on_register())
    page = page_of(client, reverse("task", args=[task.key]))
    for said in ("Number QR-1", "Number QR-8", "two people", "one person; keep number QR-1", "Lantern Bay"):
        assert said in page
    assert set(ReadLog.objects.values_list("subject", flat=True)) == {"QR-1", "QR-8"}


def test_two_people_stay_two_people_and_nobody_asks_again(client: Client) -> None:
    task = looks_like(on_register())
    client.post(reverse("task", args=[task.key]), {"answer": "apart", "words": "Asked both."})
    assert client.post(reverse("look")).headers["Location"].endswith("looked=0")
    assert not Task.objects.filter(settled_by="").exists()
    assert "No further pair" in page_of(client, reverse("tasks") + "?looked=0")


def test_one_person_goes_on_under_the_number_that_is_kept(client: Client) -> None:
    unit_is_set()
    row = on_register()
    task = looks_like(row)
    examined(other())
    list_eye(person=other(), side=Side.RIGHT, day=DAY, on=True, actor=WRITER, now=NOW)
    client.post(reverse("task", args=[task.key]), {"answer": "QR-1", "words": "The same card."})
    kept = person_facts(Person.objects.get(person_id="QR-1"))
    eye = kept.eye(Side.RIGHT)
    assert eye is not None
    assert (eye.cataract, len(eye.measurements)) == (Cataract.WHITE, 4)
    assert other().same_as == row.key
    (person,) = request_for(unit=UNIT, day=DAY).people
    assert person.person_id == "QR-1"
    assert "second registration" in page_of(client, reverse("patient", args=[other().key]))
    assert "Also registered as" in page_of(client, reverse("patient", args=[row.key]))
    story = page_of(client, reverse("story", args=[row.key, "right"]))
    assert "QR-1, QR-8" in story


def test_a_second_registration_is_not_listed_again(client: Client) -> None:
    task = looks_like(on_register())
    client.post(reverse("task", args=[task.key]), {"answer": "QR-1", "words": "The same card."})
    put = {"side": "right", "day": "2031-03-04", "on": "yes"}
    response = client.post(reverse("patient-list", args=[other().key]), put)
    assert response.status_code == 409
    assert not ListedEye.objects.exists()


def test_taking_the_answer_back_parts_the_two_again(client: Client) -> None:
    task = looks_like(on_register())
    client.post(reverse("task", args=[task.key]), {"answer": "QR-1", "words": "The same card."})
    entry = JournalEntry.objects.get(kind=Kind.PERSON_SAME)
    client.post(reverse("take-back", args=[other().key]) + f"?entries={entry.pk}", {"reason": "Two sisters."})
    assert other().same_as == ""
    assert verify_journal() == JournalEntry.objects.count()


def test_joining_survives_a_rebuild_to_the_same_rows(client: Client) -> None:
    task = looks_like(on_register())
    examined(other())
    client.post(reverse("task", args=[task.key]), {"answer": "QR-1", "words": "The same card."})
    before = [list(model.objects.order_by("pk").values()) for model in (Person, Measurement, Task, ListedEye)]
    rebuild()
    assert before == [list(model.objects.order_by("pk").values()) for model in (Person, Measurement, Task, ListedEye)]


@pytest.mark.parametrize(
    "answer", [{"answer": "QR-77", "words": "x"}, {"answer": "apart", "words": " "}, {"words": "x"}]
)
def test_an_answer_needs_a_choice_and_a_reason(client: Client, answer: dict[str, str]) -> None:
    task = looks_like(on_register())
    response = client.post(reverse("task", args=[task.key]), answer)
    assert "Mend this" in response.content.decode()
    assert Task.objects.filter(settled_by="").count() == 1


def test_a_look_through_the_register_finds_who_came_by_other_ways(client: Client) -> None:
    for number in ("A-1", "A-2"):
        person = Facts(number, "Tansy Weir", ())
        append(
            kind=Kind.PERSON_REGISTERED, subject=f"person/{number}", payload=person, actor=WRITER, now=NOW, unit=UNIT
        )
    on_register(SHIULI)
    assert client.post(reverse("look")).headers["Location"].endswith("looked=1")
    assert client.post(reverse("look")).headers["Location"].endswith("looked=0")


def test_one_number_for_two_people_is_settled_by_choosing_what_holds(client: Client) -> None:
    for name in ("Tansy Weir", "Bram Oake"):
        said = Facts("QR-1", name, ())
        append(kind=Kind.PERSON_REGISTERED, subject="person/QR-1", payload=said, actor=WRITER, now=NOW, unit=UNIT)
    task = Task.objects.get(code="identity-differs")
    page = page_of(client, reverse("task", args=[task.key]))
    assert "Bram Oake" in page
    assert "Tansy Weir" in page
    keep = JournalEntry.objects.get(payload__contains="Tansy")
    client.post(reverse("task", args=[task.key]), {"keep": keep.pk, "words": "The card says so."})
    assert Person.objects.get().name == "Tansy Weir"
    assert Task.objects.get().settled_by != ""


def test_a_settled_question_is_not_found(client: Client) -> None:
    task = looks_like(on_register(TANSY))
    client.post(reverse("task", args=[task.key]), {"answer": "apart", "words": "Asked both."})
    assert client.get(reverse("task", args=[task.key])).status_code == 404


def test_with_nothing_to_settle_the_page_says_so(client: Client) -> None:
    listed(on_register())
    assert "Nothing contradicts itself" in page_of(client, reverse("tasks"))
