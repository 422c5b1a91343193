"""A visit: kept as it was read, asked about where it is unusual, refused where it cannot be, corrected by an entry."""

from datetime import date, timedelta

import pytest
from django.urls import reverse

from sideport.app.followup.story import visits_of
from sideport.app.people.models import ReadLog
from sideport.app.people.roles import Role
from sideport.app.record.models import Eye, JournalEntry, Operation, Visit
from sideport.app.record.services import append, rebuild
from sideport.eye.person import EyeRecord
from sideport.optics.side import Side
from sideport.record.kinds import Kind
from sideport.record.theatre_said import EventKind

from .cast import OTHER_UNIT, UNIT, as_role
from .operated import AUTHOR, NOON, operated, seen

pytestmark = pytest.mark.django_db
DAY = date(2031, 3, 4)
TODAY = DAY + timedelta(40)
WHOLE = {
    "day": "2031-04-08", "due": "", "unaided": "6/24 P", "with_glasses": "", "pinhole": "6/12-2", "corrected": "0,5",
    "sphere_d": "−0,50", "cylinder_d": "-1.25", "axis_deg": "৯০", "k1": "43.50 @ 90", "k2": "7.50 mm",
    "pressure_mmhg": "14", "complications": ["capsule opacity"], "cause": "spectacles", "examiner": "Odo Finch",
    "note": "reads with +2.5",
}  # fmt: skip


@pytest.fixture(autouse=True)
def _today(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sideport.app.followup.views.timezone.localdate", lambda: TODAY)


@pytest.fixture
def operation() -> Operation:
    return operated("QI-301", DAY, name="শিউলি নদী", event=EventKind.CAPSULE_TEAR)


def send(operation: Operation, said: dict[str, object], name: str = "visit", *rest: str, role: Role = Role.NURSE):  # type: ignore[no-untyped-def]
    return as_role(role).post(reverse(name, args=[operation.pk, *rest]), said)


def test_the_form_names_patient_and_side_and_starts_today(operation: Operation) -> None:
    page = as_role(Role.NURSE).get(reverse("visit", args=[operation.pk])).content.decode()
    assert "শিউলি নদী" in page
    assert "side-right" in page
    assert "side-left" not in page
    assert f'value="{TODAY:%Y-%m-%d}"' in page
    assert "capsule tear" in page


def test_a_whole_visit_is_kept_as_it_was_written(operation: Operation) -> None:
    answer = send(operation, WHOLE)
    assert answer.headers["Location"] == reverse("follow-up-eye", args=[operation.pk])
    page = as_role(Role.NURSE).get(answer.headers["Location"]).content.decode()
    for words in ("6/24 P", "6/12-2", "0,5", "−0.50\xa0D −1.25\xa0D × 90°", "43.50", "45.00", "14\xa0mmHg",
                  "capsule opacity", "spectacles", "Odo Finch", "reads with +2.5", "borderline"):  # fmt: skip
        assert words in page, words
    row = Visit.objects.get()
    assert (row.due, row.day, row.side, row.kind) == ("week 4 to 8", date(2031, 4, 8), "right", "recorded")


def test_a_form_sent_twice_is_one_visit(operation: Operation) -> None:
    send(operation, WHOLE)
    send(operation, WHOLE)
    assert Visit.objects.count() == JournalEntry.objects.filter(kind=Kind.VISIT_RECORDED.value).count() == 1


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"unaided": "nearly all"}, "is not read as an acuity"),
        ({"unaided": "0.3 logmar x"}, "is not read as an acuity"),
        ({"day": "2031-03-03"}, "cannot be before it"),
        ({"day": "2031-04-20"}, "has not come yet"),
        ({"axis_deg": ""}, "needs its axis"),
        ({"cylinder_d": ""}, "needs its cylinder"),
        ({"axis_deg": "190"}, "0 to 180 deg"),
        ({"pressure_mmhg": "140"}, "0 to 90 mmHg"),
        ({"k1": "435"}, "missing decimal point"),
        ({"sphere_d": "50"}, "from −30 to +30 D"),
        ({"unaided": "3/60", "pinhole": "", "corrected": "", "cause": ""}, "choose the likely cause"),
        ({"complications": ["nonsense"]}, "not one of the available choices"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_kept(
    operation: Operation, change: dict[str, object], words: str
) -> None:
    answer = send(operation, WHOLE | change)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert "6/12-2" in answer.content.decode() or "pinhole" in change
    assert not Visit.objects.exists()


def test_an_empty_visit_is_refused(operation: Operation) -> None:
    answer = send(operation, {"day": "2031-04-08"})
    assert answer.status_code == 422
    assert "at least one finding" in answer.content.decode()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"corrected": "6/60"}, "Were they swapped?"),
        ({"sphere_d": "-7.5"}, "more than 6 D"),
        ({"cylinder_d": "-12.5"}, "more than 5 D"),
    ],
)
def test_what_is_unusual_is_asked_about_once_and_then_kept(
    operation: Operation, change: dict[str, object], words: str
) -> None:
    answer = send(operation, WHOLE | change)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert "I looked again" in answer.content.decode()
    assert send(operation, WHOLE | change | {"sure": "on"}).status_code == 302
    assert Visit.objects.count() == 1


def test_counting_fingers_stays_counting_fingers_and_is_poor(operation: Operation) -> None:
    poor = {"day": "2031-04-08", "unaided": "CF 2m", "cause": "surgery"}
    page = as_role(Role.NURSE).get(send(operation, poor).headers["Location"]).content.decode()
    assert "CF 2m" in page
    assert '<use href="#shape-stop"/></svg>poor' in page
    assert "1.8" not in page


def test_a_poor_result_without_a_cause_is_told_the_likely_one(operation: Operation) -> None:
    seen(operation, DAY + timedelta(1), "2/60")
    page = as_role(Role.AUDITOR).get(reverse("follow-up-eye", args=[operation.pk])).content.decode()
    assert "Likely surgery." in page
    assert "capsule tear" in page


def test_glasses_that_the_patient_wears_decide_the_result(operation: Operation) -> None:
    send(operation, {"day": "2031-04-08", "unaided": "3/60", "with_glasses": "6/9"})
    page = as_role(Role.NURSE).get(reverse("follow-up-eye", args=[operation.pk])).content.decode()
    assert "</svg>good" in page
    assert "</svg>poor" not in page


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"complications": ["endophthalmitis suspected"]}, "A surgeon must see this eye today."),
        ({"pressure_mmhg": "32"}, "tell the surgeon before the patient leaves"),
        ({"pressure_mmhg": "3"}, "Look for a leaking wound"),
    ],
)
def test_what_must_be_done_is_said_beside_the_visit(
    operation: Operation, change: dict[str, object], words: str
) -> None:
    answer = send(operation, WHOLE | change)
    assert words in as_role(Role.NURSE).get(answer.headers["Location"]).content.decode()


def test_a_correction_is_a_new_entry_and_shows_what_stood_before(operation: Operation) -> None:
    send(operation, WHOLE)
    row = Visit.objects.get()
    address = reverse("visit-correct", args=[operation.pk, row.pk])
    form = as_role(Role.NURSE).get(address).content.decode()
    for words in ('value="6/24 P"', 'value="43.50 @ 90"', 'value="45.00"', "reads with +2.5"):
        assert words in form, words
    assert send(operation, WHOLE | {"unaided": "6/18"}, "visit-correct", row.pk).status_code == 302
    after = Visit.objects.get()
    assert (after.pk, after.entry_id == row.entry_id) == (row.pk, False)
    page = as_role(Role.NURSE).get(reverse("follow-up-eye", args=[operation.pk])).content.decode()
    assert "Unaided, before" in page
    assert "6/24 P" in page
    assert "Pinhole, before" not in page
    before, rebuilt = list(Visit.objects.values()), rebuild()
    assert rebuilt
    assert list(Visit.objects.values()) == before


def test_a_correction_that_changes_nothing_writes_nothing(operation: Operation) -> None:
    send(operation, WHOLE)
    count = JournalEntry.objects.count()
    send(operation, WHOLE, "visit-correct", Visit.objects.get().pk)
    assert JournalEntry.objects.count() == count


def test_a_visit_can_be_taken_back_with_a_reason_and_stays_in_the_history(operation: Operation) -> None:
    row = seen(operation, DAY + timedelta(1))
    assert send(operation, {"reason": " "}, "visit-withdraw", row.pk).status_code == 422
    assert Visit.objects.count() == 1
    assert send(operation, {"reason": "the other eye"}, "visit-withdraw", row.pk).status_code == 302
    assert not Visit.objects.exists()
    page = as_role(Role.NURSE).get(reverse("follow-up-eye", args=[operation.pk])).content.decode()
    assert "Taken back: the other eye" in page


def test_a_try_and_a_closed_visit_are_kept_and_change_what_is_due(operation: Operation) -> None:
    tried = send(operation, {"how": "telephone", "outcome": "no answer", "next_try": "2031-04-15"}, "visit-contact")
    assert tried.status_code == 302
    page = as_role(Role.NURSE).get(tried.headers["Location"]).content.decode()
    assert "no answer" in page
    assert "Tuesday 15 April 2031" in page
    assert send(operation, {"reason": "died"}, "visit-missed").status_code == 302
    page = as_role(Role.NURSE).get(tried.headers["Location"]).content.decode()
    assert "due now" not in page
    assert "Note the try" not in page


@pytest.mark.parametrize("name", ["visit-contact", "visit-missed"])
def test_a_try_or_a_closed_visit_without_words_is_refused(operation: Operation, name: str) -> None:
    answer = send(operation, {}, name)
    assert answer.status_code == 422
    assert "Mend this" in answer.content.decode()
    assert not Visit.objects.exists()


def test_another_eyes_visit_cannot_be_reached_through_this_eye(operation: Operation) -> None:
    other = seen(operated("QI-302", DAY), DAY + timedelta(1))
    assert send(operation, WHOLE, "visit-correct", other.pk).status_code == 404
    assert send(operation, {"reason": "x"}, "visit-withdraw", other.pk).status_code == 404


def test_an_operation_that_was_given_up_has_no_follow_up() -> None:
    from sideport.record.theatre_said import Outcome

    given_up = operated("QI-303", DAY, outcome=Outcome.ABANDONED)
    assert as_role(Role.NURSE).get(reverse("follow-up-eye", args=[given_up.pk])).status_code == 404


@pytest.mark.parametrize("name", ["visit", "visit-contact", "visit-missed", "slip"])
def test_who_may_only_read_writes_nothing_and_strangers_find_nothing(operation: Operation, name: str) -> None:
    assert send(operation, WHOLE, name, role=Role.AUDITOR).status_code == 403
    stranger = as_role(Role.NURSE, unit=OTHER_UNIT).post(reverse(name, args=[operation.pk]), WHOLE)
    assert stranger.status_code == 404
    assert not Visit.objects.exists()


def test_each_look_at_an_eye_is_logged(operation: Operation) -> None:
    as_role(Role.NURSE).get(reverse("follow-up-eye", args=[operation.pk]))
    row = ReadLog.objects.get()
    assert (row.subject, row.detail) == ("QI-301", "right eye, follow-up")


def test_the_eyes_story_finds_its_visits_and_no_other_eyes(operation: Operation) -> None:
    for side in Side:
        append(kind=Kind.EYE_FOUND, subject="person/QI-301", payload=EyeRecord(side, False, note="seen"), actor=AUTHOR,
               now=NOON, unit=UNIT)  # fmt: skip
    seen(operation, DAY + timedelta(30), "6/6")
    seen(operation, DAY + timedelta(1), "6/60")
    right, left = (visits_of(Eye.objects.get(side=side.value)) for side in (Side.RIGHT, Side.LEFT))
    assert [(line.day, line.due, line.result.value) for line in right if line.result] == [
        (DAY + timedelta(1), "", "borderline"), (DAY + timedelta(30), "", "good"),
    ]  # fmt: skip
    assert left == ()
