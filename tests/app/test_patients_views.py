"""Registering, finding, examining and listing patients through the pages; the journal holds what was said."""

import re
from datetime import date

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from sideport.app.patients.history import lines_of, told_of
from sideport.app.people.models import ReadLog
from sideport.app.people.roles import Role
from sideport.app.record.models import Eye, JournalEntry, ListedEye, Measurement, Person, Task
from sideport.app.record.queries import person_facts
from sideport.app.record.services import verify_journal
from sideport.eye.person import Cataract, Sex
from sideport.optics.side import Side
from sideport.record.kinds import Kind

from .cast import OTHER_UNIT, UNIT, as_role
from .register import DAY, SHIULI, TANSY, examined, listed, on_register

pytestmark = pytest.mark.django_db

NEW = {
    "person_id": "QR-9",
    "name": "Bram Oake",
    "age_years": "৬৭",
    "sex": "male",
    "phone": "0155 000 777",
    "diabetic": "yes",
}


@pytest.fixture
def technician() -> Client:
    return as_role(Role.TECHNICIAN)


def page_of(client: Client, address: str) -> str:
    response = client.get(address)
    assert response.status_code == 200
    return response.content.decode()


def test_a_patient_is_registered_with_digits_of_any_script(technician: Client) -> None:
    response = technician.post(reverse("patient-new"), NEW)
    row = Person.objects.get(person_id="QR-9")
    assert response.headers["Location"].startswith(reverse("patient", args=[row.key]))
    facts = person_facts(row)
    assert (facts.age_years, facts.sex, facts.diabetic, facts.alpha_blocker) == (67.0, Sex.MALE, True, None)
    entry = JournalEntry.objects.get(kind=Kind.PERSON_REGISTERED)
    assert (entry.author, entry.unit) == ("Odo Finch", UNIT)
    assert "Stored." in page_of(technician, response.headers["Location"])


def test_the_date_of_birth_gives_the_age(technician: Client) -> None:
    today = timezone.localdate()
    technician.post(reverse("patient-new"), {**NEW, "age_years": "", "born_on": f"1 Jan {today.year - 50}"})
    assert Person.objects.get().age_years == 50.0


@pytest.mark.parametrize(
    ("cell", "value", "said"),
    [
        ("age_years", "640", "Accepted: "),
        ("age_years", "old", "is not a figure"),
        ("name", "", "required"),
        ("person_id", "?", "required"),
        ("born_on", "2099-01-01", "still to come"),
        ("weight_kg", "54 stone", "behind the figure"),
    ],
)
def test_what_cannot_be_read_says_what_would_be(technician: Client, cell: str, value: str, said: str) -> None:
    response = technician.post(reverse("patient-new"), {**NEW, cell: value})
    assert response.status_code == 200
    assert said in response.content.decode()
    assert not Person.objects.exists()
    if value:
        assert f'value="{value}"' in response.content.decode()


def test_a_number_is_given_once(technician: Client) -> None:
    on_register()
    response = technician.post(reverse("patient-new"), {**NEW, "person_id": "qr-1"})
    assert "Number QR-1 is taken already" in response.content.decode()
    assert Person.objects.count() == 1


def test_the_same_form_twice_is_one_patient_and_the_same_readings_once(technician: Client) -> None:
    sent = {**NEW, "once": "abc"}
    first, second = (technician.post(reverse("patient-new"), sent) for _ in range(2))
    assert first.status_code == second.status_code == 302
    assert "stored already" in page_of(technician, second.headers["Location"])
    key = Person.objects.get().key
    readings = {"quantity_0": "axial length", "value_0": "23.4", "once": "def"}
    for _ in range(2):
        technician.post(reverse("readings", args=[key, "right"]), readings)
    assert Measurement.objects.count() == 1


def test_whoever_looks_alike_is_shown_before_anything_is_written(technician: Client) -> None:
    on_register()
    again = {"person_id": "QR-7", "name": "WEIR Tansy", "age_years": "60", "sex": "female"}
    response = technician.post(reverse("patient-new"), again)
    assert "Is it one of these?" in response.content.decode()
    assert Person.objects.count() == 1
    technician.post(reverse("patient-new"), {**again, "doubt": "unsure"})
    task = Task.objects.get()
    assert (task.code, task.subject, task.settled_by) == ("maybe-same-person", "person/QR-7", "")
    assert "Tansy" not in task.words


def test_people_told_apart_when_registering_leave_no_task(technician: Client) -> None:
    on_register()
    technician.post(reverse("patient-new"), {"person_id": "QR-7", "name": "Tansy Weir", "doubt": "other"})
    assert Task.objects.get().settled_by != ""


@pytest.mark.parametrize("asked", ["weir", "TANSY w", "qr-1", "0001234", "০০০১২৩৪", "०००-१२३४"])
def test_a_patient_is_found_by_name_number_and_telephone(client: Client, asked: str) -> None:
    on_register()
    on_register(SHIULI)
    page = page_of(client, reverse("patients") + f"?q={asked}")
    assert "Tansy Weir" in page
    assert "শিউলি" not in page


def test_a_bengali_name_is_found_in_either_form_of_its_vowel_signs(client: Client) -> None:
    """Unicode 15, section 12.2: U+09CB and the pair U+09C7 U+09BE are one vowel sign."""
    on_register(SHIULI.__class__("QR-3", "কো", ()))
    assert "QR-3" in page_of(client, reverse("patients") + "?q=ক\u09c7\u09be")


def test_nobody_found_says_what_to_try(client: Client) -> None:
    assert "Nobody on the register" in page_of(client, reverse("patients") + "?q=zzz")
    assert "No eye is on a list to come" in page_of(client, reverse("patients"))


def test_findings_are_written_as_the_unit_writes_them_and_only_what_is_new(technician: Client) -> None:
    row = on_register()
    address = reverse("findings", args=[row.key, "left"])
    technician.post(address, {"cataract": "white", "acuity": "CF 2m", "nucleus_grade": "NO 4,5", "infected": "no"})
    eye = person_facts(Person.objects.get()).eye(Side.LEFT)
    assert eye is not None
    assert (eye.cataract, eye.nucleus_grade, eye.infected) == (Cataract.WHITE, 4.5, False)
    assert eye.acuity is not None
    assert eye.acuity.written == "CF 2m"
    page = page_of(technician, address)
    assert 'value="CF 2m"' in page
    technician.post(address, {"cataract": "brown", "acuity": "CF 2m", "nucleus_grade": "4.5", "infected": "no"})
    last = JournalEntry.objects.filter(kind=Kind.EYE_FOUND).order_by("stamp").last()
    assert last is not None
    assert last.payload == '{"cataract":"brown","listed":false,"measurements":[],"note":"","side":"left"}'
    same = technician.post(address, {"cataract": "brown", "acuity": "CF 2m", "nucleus_grade": "4.5", "infected": "no"})
    assert "nothing was written" in page_of(technician, same.headers["Location"])


def test_an_emptied_finding_is_not_silently_kept(technician: Client) -> None:
    row = examined(on_register())
    response = technician.post(
        reverse("findings", args=[row.key, "right"]), {"cataract": "", "acuity": "HM", "nucleus_grade": "4"}
    )
    assert "open the history" in response.content.decode()
    assert JournalEntry.objects.filter(kind=Kind.EYE_FOUND).count() == 1


def test_several_readings_go_in_at_once_with_their_repeat_numbers(technician: Client) -> None:
    row = on_register()
    sent = {
        "taken_on": "3/3/2031", "length_method": "contact ultrasound", "corneal_method": "manual keratometer",
        "quantity_0": "axial length", "value_0": "23,12", "quantity_1": "axial length", "value_1": "23.20 mm",
        "quantity_3": "k1", "value_3": "7.76 mm", "axis_3": "180", "quantity_4": "k2", "value_4": "44.25 @ 90",
        "quantity_5": "k1", "value_5": "43.5", "axis_5": "178",
    }  # fmt: skip
    technician.post(reverse("readings", args=[row.key, "right"]), sent)
    found = [
        (each.quantity, each.reading, round(each.value, 2), each.axis_deg)
        for each in Measurement.objects.order_by("first")
    ]
    assert found == [
        ("axial length", 1, 23.12, None), ("axial length", 2, 23.2, None), ("k1", 1, 43.49, 180.0),
        ("k2", 1, 44.25, 90.0), ("k1", 2, 43.5, 178.0),
    ]  # fmt: skip
    assert {each.taken_on for each in Measurement.objects.all()} == {date(2031, 3, 3)}
    assert Measurement.objects.filter(as_written="7.76 mm").exists()


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        ({"value_0": "2.35", "quantity_0": "axial length"}, "looks like centimetres"),
        ({"value_0": "2350", "quantity_0": "axial length"}, "missing decimal point"),
        ({"value_0": "23.5", "quantity_0": "axial length", "axis_0": "90"}, "belongs to K1 and K2 only"),
        ({}, "No row has a value"),
    ],
)
def test_a_slip_in_one_row_stores_no_row(technician: Client, cells: dict[str, str], said: str) -> None:
    row = on_register()
    good = {"quantity_9": "axial length", "value_9": "23.4"} if cells else {"taken_on": ""}
    response = technician.post(reverse("readings", args=[row.key, "right"]), {**cells, **good})
    assert said in response.content.decode()
    assert not Measurement.objects.exists()


def test_a_corrected_reading_shows_what_stood_before(technician: Client) -> None:
    row = examined(on_register())
    reading = Measurement.objects.filter(quantity="axial length").earliest("first")
    address = reverse("reading-correct", args=[row.key, reading.key])
    assert 'value="23,1"' in page_of(technician, address)
    technician.post(address, {"value": "24.10", "method": "immersion ultrasound"})
    reading.refresh_from_db()
    assert reading.value == 24.1
    line = lines_of(told_of(unit=UNIT, person_id="QR-1"))[-1]
    assert (line.words[0].now[:5], line.words[0].before[:5]) == ("24.10", "23.15")
    page = page_of(technician, reverse("patient-history", args=[row.key]))
    assert re.search(r"before: <del>23.15", page)


def test_a_corrected_name_shows_who_when_and_what_before(technician: Client) -> None:
    row = on_register()
    address = reverse("patient-correct", args=[row.key])
    page = page_of(technician, address)
    assert 'value="Tansy Weir"' in page
    assert 'name="person_id"' not in page
    technician.post(
        address,
        {"name": "Tansy Ware", "age_years": "61", "sex": "female", "phone": "0155-000 1234", "place": "Lantern Bay"},
    )
    assert Person.objects.get().name == "Tansy Ware"
    line = lines_of(told_of(unit=UNIT, person_id="QR-1"))[-1]
    assert [(word.label, word.now, word.before) for word in line.words] == [("Name", "Tansy Ware", "Tansy Weir")]
    assert line.author == "Odo Finch"


def test_an_eye_goes_on_a_list_and_off_again(technician: Client) -> None:
    row = on_register()
    put = {"side": "right", "day": "4 March 2031", "on": "yes"}
    technician.post(reverse("patient-list", args=[row.key]), put)
    assert (ListedEye.objects.get().day, ListedEye.objects.get().listing) == (DAY, "listed")
    technician.post(reverse("patient-list", args=[row.key]), {**put, "on": "no"})
    assert ListedEye.objects.get().listing == "off"
    wrong = technician.post(reverse("patient-list", args=[row.key]), {**put, "day": "soon"})
    assert wrong.status_code == 409
    assert "is not a date" in wrong.content.decode()


def test_what_was_a_mistake_is_taken_back_and_stays_in_the_history(technician: Client) -> None:
    row = examined(on_register())
    entry = JournalEntry.objects.filter(kind=Kind.EYE_FOUND).get()
    address = reverse("take-back", args=[row.key]) + f"?entries={entry.pk}"
    assert "Findings" in page_of(technician, address)
    technician.post(address, {"reason": "The other eye."})
    assert Eye.objects.get().cataract == ""
    page = page_of(technician, reverse("patient-history", args=[row.key]))
    assert "no longer holds" in page
    assert "The other eye." in page
    again = technician.post(address, {"reason": "Once more."})
    assert "taken back since" in again.content.decode()


def test_taking_back_a_correction_brings_back_what_stood_before(technician: Client) -> None:
    row = on_register()
    sent = {"name": "Tansy Ware", "age_years": "61", "sex": "female", "phone": "0155-000 1234", "place": "Lantern Bay"}
    technician.post(reverse("patient-correct", args=[row.key]), sent)
    entry = JournalEntry.objects.get(kind=Kind.PERSON_CORRECTED)
    technician.post(reverse("take-back", args=[row.key]) + f"?entries={entry.pk}", {"reason": "It was right."})
    assert Person.objects.get().name == "Tansy Weir"
    assert verify_journal() == JournalEntry.objects.count()


def test_a_registration_is_taken_back_only_while_nothing_stands_on_it(technician: Client) -> None:
    row = examined(on_register())
    address = reverse("take-back", args=[row.key]) + f"?entries={row.entry_id}"
    assert "Take their entries back first" in technician.post(address, {"reason": "Wrong."}).content.decode()
    lone = on_register(SHIULI)
    response = technician.post(
        reverse("take-back", args=[lone.key]) + f"?entries={lone.entry_id}", {"reason": "Wrong."}
    )
    assert response.headers["Location"] == reverse("patients")
    assert not Person.objects.filter(person_id="QR-2").exists()


def test_an_entry_of_somebody_else_cannot_be_taken_back_here(technician: Client) -> None:
    row, other = on_register(), on_register(SHIULI)
    address = reverse("take-back", args=[row.key]) + f"?entries={other.entry_id}"
    technician.post(address, {"reason": "Wrong."})
    assert Person.objects.filter(person_id="QR-2").exists()


def test_every_page_of_a_patient_is_noted_as_read(client: Client) -> None:
    row = examined(on_register())
    addresses = [
        reverse("patient", args=[row.key]), reverse("patient-history", args=[row.key]),
        reverse("story", args=[row.key, "right"]), reverse("findings", args=[row.key, "right"]),
        reverse("readings", args=[row.key, "left"]), reverse("patient-correct", args=[row.key]),
        reverse("reading-correct", args=[row.key, Measurement.objects.first().key]),
        reverse("take-back", args=[row.key]) + f"?entries={row.entry_id}",
    ]  # fmt: skip
    for count, address in enumerate(addresses, start=1):
        page_of(client, address)
        assert ReadLog.objects.filter(subject="QR-1").count() == count, address


def test_a_reader_may_look_and_not_write() -> None:
    row = examined(on_register())
    auditor = as_role(Role.AUDITOR)
    page = page_of(auditor, reverse("patient", args=[row.key]))
    for offered in ("Put the right eye", "Correct who it is", "/readings/"):
        assert offered not in page
    assert auditor.post(reverse("patient-list", args=[row.key]), {}).status_code == 403


@pytest.mark.parametrize("name", ["patient", "patient-history", "patient-correct"])
def test_a_patient_of_another_unit_does_not_exist(name: str) -> None:
    row = on_register()
    assert as_role(Role.LEAD_SURGEON, unit=OTHER_UNIT).get(reverse(name, args=[row.key])).status_code == 404


@pytest.mark.parametrize("address", ["patients/{key}/middle/", "patients/{key}/middle/findings/", "patients/nobody/",
                                     "patients/{key}/readings/nothing/"])  # fmt: skip
def test_what_is_not_there_is_not_found(client: Client, address: str) -> None:
    assert client.get("/" + address.format(key=on_register().key)).status_code == 404


def test_the_story_of_a_listed_eye_tells_what_was_found_measured_and_listed(client: Client) -> None:
    row = listed(examined(on_register()))
    page = page_of(client, reverse("story", args=[row.key, "right"]))
    for said in (
        "white",
        "23.15\u00a0mm, by immersion ultrasound",
        "23,1",
        "not planned yet",
        "Registered",
        "Odo Finch",
    ):
        assert said in page
    assert "No operation is recorded" in page
    other = page_of(client, reverse("story", args=[row.key, "left"]))
    assert "No reading is recorded" in other
    assert "23.15" not in other


def test_hostile_words_stay_words(client: Client) -> None:
    row = on_register(TANSY.__class__("<i>1</i>", "<script>alert(1)</script>", (), note="<b>"))
    for address in (
        reverse("patient", args=[row.key]),
        reverse("patient-history", args=[row.key]),
        reverse("patients") + "?q=script",
    ):
        page = page_of(client, address)
        assert "<script>alert" not in page
        assert "<i>1" not in page
