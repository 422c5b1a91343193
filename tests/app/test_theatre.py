"""Theatre: from the list to the signed note, and everything that must stop on the way."""

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
from django.urls import reverse

from sideport.app.people.roles import Role
from sideport.app.people.services import set_pin
from sideport.app.planning.models import StoredPlan
from sideport.app.planning.services import store_plan
from sideport.app.record.models import Box, JournalEntry, Operation, OperationEvent, StockMove, Task
from sideport.app.record.services import append, rebuild
from sideport.app.theatre.checklist import LOCAL_FILE
from sideport.app.theatre.state import state_of
from sideport.day.plan import DayPlan
from sideport.optics.side import Side
from sideport.record.kinds import Kind
from sideport.record.subject import SubjectKind, subject
from sideport.record.theatre_said import OperationStarted, Pause
from sideport.wound.technique import Technique

from .cast import OTHER_UNIT, UNIT, as_role, person
from .conftest import NOW
from .theatre_day import EYE, Team, day_in_theatre, receive_shelf, words

PIN = "481592"


@pytest.fixture
def stored(db: None, plan: DayPlan) -> StoredPlan:
    """The sample day, with its shelf on the record."""
    receive_shelf()
    return store_plan(plan=day_in_theatre(plan), now=NOW)


@pytest.fixture
def nurse(stored: StoredPlan) -> Team:
    return Team(stored)


@pytest.fixture
def surgeon(stored: StoredPlan) -> Team:
    return Team(stored, Role.SURGEON)


def said(kind: Kind) -> list[OperationEvent]:
    return list(OperationEvent.objects.filter(kind=kind.value).order_by("first"))


def test_the_list_says_where_each_eye_stands_and_whose_name_is_like_anothers(nurse: Team, stored: StoredPlan) -> None:
    page = nurse.browser.get(reverse("theatre-list", args=[stored.pk])).content.decode()
    assert page.count("Not begun.") == 6
    assert "which is not today" in page
    nurse.begin()
    page = nurse.browser.get(reverse("theatre-list", args=[stored.pk])).content.decode()
    assert page.count("Not begun.") == 5
    assert page.count("In theatre.") == 1


def test_a_whole_operation_leaves_its_record_its_note_and_one_lens_less(nurse: Team, surgeon: Team) -> None:
    nurse.begin()
    nurse.tap("tap", step="first cut")
    nurse.tap("wound", site="superior", shape="frown", length_mm="6.5", limbus_distance_mm="1.5", sutures="0")
    assert "the box agrees with the plan" in words(nurse.scan("S21"))
    nurse.tap("implanted")
    nurse.tap("tap", event="capsule tear", detail="small, at 6 o'clock")
    page = words(nurse.pause(Pause.SIGN_OUT, outcome="done"))
    assert "Write and sign the note" in page
    row = Operation.objects.get()
    assert (row.lens_model, row.lens_power_d, row.lens_placement, row.box_id) == ("Rigid A", 21.0, "bag", "R-+21.0")
    assert row.lens_as_planned
    assert (row.person_id, row.side, row.operator, row.outcome) == ("QI-101", "right", "Ines Calder", "done")
    assert Box.objects.get(box_id="R-+21.0").count == 1
    assert StockMove.objects.filter(what="implanted").count() == 1
    note = words(surgeon.browser.get(surgeon.address("note")))
    for part in (
        "Tansy Oakhollow",
        "RIGHT eye",
        "The capsule tore: small, at 6 o&#x27;clock",
        "+21.0 D Rigid A in the BAG",
        "superior at 12 o&#x27;clock, 6.5 mm long",
        "As planned.",
    ):
        assert part in note
    surgeon.tap("note", text="Uneventful but for a small tear.", sign="on", drafted="0")
    page = surgeon.see("note")
    assert "Signed by শিউলি নদী" in page
    assert "Signature on paper" in page
    assert not Task.objects.exists()
    assert Operation.objects.get().note == "Uneventful but for a small tear."
    assert rebuild() > 0


def test_what_is_recorded_survives_a_reload_on_another_tablet(nurse: Team, surgeon: Team, stored: StoredPlan) -> None:
    nurse.begin()
    nurse.scan("S225")
    assert "Do not open this box" in surgeon.see()
    state = state_of(unit=UNIT, day=stored.day, eye=next(e for e in day_eyes(stored) if e.key == EYE))
    assert state.phase.name == "STOPPED"


def day_eyes(stored: StoredPlan) -> tuple:
    from sideport.app.planning.documents import plan_of

    return plan_of(stored).eyes


# Stops


@pytest.mark.parametrize(
    ("serial", "place", "title"),
    [
        ("S225", "bag", "Another patient's lens"),
        ("S225", "bag", "Wrong power"),
        ("SB21", "bag", "Wrong model"),
        ("SOLD", "bag", "Expired"),
        ("S21", "sulcus", "Not made for this place"),
        ("NOBODY", "bag", "Not on the shelf"),
        ("SGONE", "bag", "The box is empty on the record"),
        ("ST20", "bag", "Wrong model"),
    ],
)
def test_a_wrong_box_stops_with_a_full_screen(nurse: Team, serial: str, place: str, title: str) -> None:
    page = words(nurse.begin().scan(serial, place)).replace("&#x27;", "'")
    assert "STOP Do not open this box" in page
    assert f"{title}." in page
    assert "It is in the" not in page
    nurse.tap("implanted")
    assert not said(Kind.LENS_IMPLANTED)


@pytest.mark.parametrize(("serial", "place"), [("S21", "bag"), ("ST20", "sulcus")])
def test_the_right_box_for_its_place_passes(nurse: Team, serial: str, place: str) -> None:
    assert "the box agrees with the plan" in words(nurse.begin().scan(serial, place))


def test_the_stop_names_whose_lens_it_is_and_both_powers_with_their_signs(nurse: Team) -> None:
    page = words(nurse.begin().scan("S225"))
    assert "রুক্মিণী বিশ্বাস, LEFT eye, number QI-102" in page
    assert "This lens is +22.5 D. For the BAG the plan says +21.0 D." in page


def test_a_stop_that_is_obeyed_leaves_a_near_miss_and_no_lens(nurse: Team) -> None:
    nurse.begin().scan("S225")
    page = words(nurse.tap("aside"))
    assert "Box read for the BAG: +22.5 D Rigid A; another patient&#x27;s lens, wrong power; put aside" in page
    assert "the box agrees" in words(nurse.scan("S21"))
    assert Box.objects.get(box_id="R-+22.5").count == 1


def test_going_on_needs_a_reason_and_a_second_person_who_is_there(nurse: Team) -> None:
    second = person(Role.SURGEON)
    set_pin(account=second, pin=PIN, now=NOW)
    set_pin(account=person(Role.NURSE), pin="739164", now=NOW)
    nurse.begin().scan("S225")
    wrong = {
        "no reason": {"person": second.pk, "secret": PIN},
        "wrong pin": {"person": second.pk, "secret": "000111", "reason": "only lens left"},
        "herself": {"person": person(Role.NURSE).pk, "secret": "739164", "reason": "only lens left"},
        "nobody": {"secret": PIN, "reason": "only lens left"},
    }
    for why, fields in wrong.items():
        response = nurse.tap("go-on", **fields)
        assert response.status_code == 422, why
        assert "Do not open this box" in words(response)
    page = words(nurse.tap("go-on", person=second.pk, secret=PIN, reason="only lens left"))
    assert "used all the same, agreed with শিউলি নদী" in page
    nurse.tap("implanted")
    row = Operation.objects.get()
    assert row.lens_as_planned is False
    assert '"second_person":"শিউলি নদী"' in said(Kind.LENS_IMPLANTED)[0].facts
    nurse.pause(Pause.SIGN_OUT, outcome="done", missing="cut not noted")
    note = words(nurse.browser.get(nurse.address("note")))
    assert "Planned first was +21.0 D Rigid A in the BAG. Why another: only lens left." in note


def test_a_box_that_nobody_knows_cannot_be_used_all_the_same(nurse: Team) -> None:
    page = words(nurse.begin().scan("NOBODY"))
    assert "Use it all the same" not in page
    nurse.tap("go-on", reason="x", secret=PIN, person=person(Role.SURGEON).pk)
    assert "Do not open this box" in nurse.see()


def test_a_second_person_of_another_unit_is_nobody(nurse: Team) -> None:
    stranger = person(Role.SURGEON, unit=OTHER_UNIT)
    set_pin(account=stranger, pin=PIN, now=NOW)
    nurse.begin().scan("S225")
    assert nurse.tap("go-on", person=stranger.pk, secret=PIN, reason="why not").status_code == 422


# Reading boxes


@pytest.mark.parametrize(
    ("code", "says"),
    [
        ("(01)51022222233337(21)S21", "check digit does not fit"),
        ("nonsense", "neither GS1 nor HIBC"),
        ("(01)51022222233336", "names no lot and no serial"),
    ],
)
def test_a_code_that_cannot_be_trusted_is_refused_and_leaves_nothing(nurse: Team, code: str, says: str) -> None:
    response = nurse.begin().tap("bag", code=code)
    assert response.status_code == 422
    assert says in words(response)
    assert not said(Kind.LENS_CHECKED)


def test_a_lot_of_several_powers_is_asked_about(nurse: Team) -> None:
    code = "(01)51022222233336(10)LMANY"
    page = words(nurse.begin().tap("bag", code=code))
    assert "Which of these is in your hand?" in page
    assert "the box agrees with the plan" in words(nurse.tap("bag", code=code, box_id="M2"))
    assert nurse.tap("bag", code=code, box_id="OLD").status_code == 422


def test_a_lost_separator_is_told_and_asked_about(nurse: Team) -> None:
    code = "0151022222233336" + "10LR21" + "21S21"
    page = words(nurse.begin().tap("bag", code=code))
    assert "The scanner left out the sign between lot and serial" in page
    assert not said(Kind.LENS_CHECKED)
    assert "the box agrees with the plan" in words(nurse.tap("bag", code=code, box_id="R-+21.0"))
    assert "the box agrees" in words(nurse.tap("bag", code="0151022222233336" + "10LR21␝" + "21S21"))


def test_two_halves_of_a_hibc_label_are_asked_for_one_after_the_other(nurse: Team) -> None:
    from sideport.exchange.hibc import check_character

    first = "+A99912345" + check_character("+A99912345")
    body = "+$$+7S21" + first[-1]
    page = words(nurse.begin().tap("bag", code=first))
    assert "first of two codes" in page
    assert "the box agrees" in words(nurse.tap("bag", code=body + check_character(body), before=first))


@pytest.mark.parametrize(
    ("power", "expires", "says"),
    [("21", "2051-01-31", "the box agrees"), ("20", "2051-01-31", "Not on the shelf"),
     ("21", "2050-01-31", "Label and shelf differ"), ("-21", "2051-01-31", "Plus and minus are exchanged")],
)  # fmt: skip
def test_a_typed_label_must_agree_with_shelf_and_plan(nurse: Team, power: str, expires: str, says: str) -> None:
    response = nurse.begin().tap("bag", model="Rigid A", power_d=power, lot="LR21", serial="S21", expires=expires)
    assert says in words(response)


def test_a_typed_label_without_lot_and_serial_is_not_enough(nurse: Team) -> None:
    response = nurse.begin().tap("bag", model="Rigid A", power_d="21", expires="2051-01-31")
    assert response.status_code == 422
    assert "Type lot or serial" in words(response)


def test_a_picture_of_the_box_is_read(nurse: Team) -> None:
    import io

    import numpy as np
    import zxingcpp
    from django.core.files.uploadedfile import SimpleUploadedFile
    from PIL import Image

    code = zxingcpp.create_barcode("(01)51022222233336(21)S21", zxingcpp.BarcodeFormat.DataMatrix, gs1=True)
    file = io.BytesIO()
    Image.fromarray(np.pad(np.array(code.to_image(scale=6)), 50, constant_values=255)).save(file, "PNG")
    sent = SimpleUploadedFile("box.png", file.getvalue(), "image/png")
    assert "the box agrees" in words(nurse.begin().tap("bag", picture=sent))
    again = SimpleUploadedFile("box.png", b"not a picture", "image/png")
    assert "not a picture that can be read" in words(nurse.tap("bag", picture=again))


def test_without_a_shelf_on_the_record_the_plans_boxes_are_asked_and_no_box_is_overdrawn(
    db: None, plan: DayPlan
) -> None:
    team = Team(store_plan(plan=plan, now=NOW)).begin()
    code = "(01)51022222233336(10)L7"
    assert "Which of these is in your hand?" in words(team.tap("bag", code=code))
    assert "the box agrees" in words(team.tap("bag", code=code, box_id="R-+21.0"))
    team.tap("implanted")
    row = Operation.objects.get()
    assert (row.lens_power_d, row.box_id) == (21.0, "")
    assert '"lot":"L7"' in said(Kind.LENS_IMPLANTED)[0].facts
    assert not Task.objects.exists()


# Who is on the table


def test_the_pauses_do_not_tell_whom_they_expect(nurse: Team) -> None:
    page = nurse.browser.get(nurse.address("sign-in")).content.decode()
    title = page[page.index("<title>") : page.index("</title>")]
    heading = page[page.index("<h1>") : page.index("</h1>")]
    assert "Tansy" not in title + heading
    assert page.count('name="who"') == 4
    assert " checked" not in page


@pytest.mark.parametrize("pause", [Pause.SIGN_IN, Pause.TIME_OUT])
def test_another_patient_or_side_stops_both_pauses(nurse: Team, pause: Pause) -> None:
    if pause is Pause.TIME_OUT:
        nurse.pause(Pause.SIGN_IN)
    before = JournalEntry.objects.count()
    wrong_side, wrong_name = nurse.pause(pause, side="left"), nurse.pause(pause, who="QI-102")
    assert (wrong_side.status_code, wrong_name.status_code) == (409, 409)
    assert "You tapped the LEFT eye. The plan is for the RIGHT eye." in words(wrong_side)
    if pause is Pause.SIGN_IN:
        assert "You tapped রুক্মিণী বিশ্বাস, number QI-102." in words(wrong_name)
    assert JournalEntry.objects.count() == before


def test_a_pause_wants_every_answer_and_a_no_wants_a_word(nurse: Team) -> None:
    assert nurse.pause(Pause.SIGN_IN, **{"item-consent": ""}).status_code == 422
    assert "Say why" in words(nurse.pause(Pause.SIGN_IN, **{"item-consent": "no"}))
    assert not Operation.objects.exists()
    nurse.pause(Pause.SIGN_IN, **{"item-consent": "no", "note-consent": "thumb print, two witnesses"})
    assert Operation.objects.count() == 1


def test_the_units_own_questions_are_asked_last(nurse: Team, settings: object, tmp_path: object) -> None:
    settings.DATA = tmp_path  # type: ignore[attr-defined]
    (tmp_path / LOCAL_FILE).write_text(  # type: ignore[operator]
        '[[item]]\npause = "time-out"\nname = "generator"\nwords = "The generator has fuel."\n'
    )
    nurse.pause(Pause.SIGN_IN)
    page = nurse.see("time-out")
    assert "The generator has fuel." in page
    assert "Added by this unit" in page
    nurse.pause(Pause.TIME_OUT)
    assert '"item":"generator"' in said(Kind.CHECKLIST_ANSWERED)[-1].facts


@pytest.mark.parametrize("text", ["[[item]]\nname='x y'\nwords='w'\npause='time-out'", "item = [3]", "nonsense",
                                  "[[item]]\nname='mark'\nwords='w'\npause='time-out'",
                                  "[[item]]\nname='x'\nwords='w'\npause='lunch'"])  # fmt: skip
def test_a_list_of_additions_that_cannot_be_read_is_told_at_the_start(
    text: str, settings: object, tmp_path: object
) -> None:
    from sideport.app.theatre.checklist import check_local_items

    settings.DATA = tmp_path  # type: ignore[attr-defined]
    (tmp_path / LOCAL_FILE).write_text(text)  # type: ignore[operator]
    assert [found.id for found in check_local_items(None)] == ["sideport.E010"]


def test_an_eye_that_was_operated_on_before_is_stopped_at_the_sign_in(nurse: Team) -> None:
    said_before = OperationStarted(
        "QI-101", Side.RIGHT, NOW.date() - timedelta(days=30), Technique.MSICS, "Bodhi Marr", NOW - timedelta(days=30)
    )
    append(kind=Kind.OPERATION_STARTED, subject=subject(SubjectKind.OPERATION, "earlier"), payload=said_before,
           actor="Ada", now=NOW, unit=UNIT)  # fmt: skip
    assert "has been operated on already" in words(nurse.browser.get(nurse.address("sign-in")))
    assert nurse.pause(Pause.SIGN_IN).status_code == 422
    nurse.pause(Pause.SIGN_IN, again="on")
    assert Operation.objects.exclude(operation_id="earlier").get().purpose == "again"
    assert not Task.objects.exists()


# Taps


def test_a_tap_sent_twice_is_one_entry(nurse: Team) -> None:
    nurse.begin()
    key = str(uuid4())
    for _ in range(3):
        nurse.tap("tap", tap=key, event="vitreous loss")
    assert len(said(Kind.OPERATION_EVENT)) == 1
    nurse.tap("tap", event="vitreous loss")
    assert len(said(Kind.OPERATION_EVENT)) == 2


def test_a_sign_in_sent_twice_begins_one_operation_and_so_do_two_tablets(nurse: Team, surgeon: Team) -> None:
    key = str(uuid4())
    nurse.pause(Pause.SIGN_IN, tap=key)
    nurse.pause(Pause.SIGN_IN, tap=key)
    surgeon.pause(Pause.SIGN_IN)
    assert Operation.objects.count() == 1


def test_a_tap_that_had_to_wait_keeps_its_own_time(nurse: Team) -> None:
    nurse.begin().tap("tap", step="first cut", ago_ms="90000")
    ago = datetime.now(UTC) - said(Kind.OPERATION_STEP)[0].happened
    assert timedelta(seconds=89) < ago < timedelta(seconds=99)


def test_what_is_taken_back_is_gone_from_the_record_and_stays_in_the_journal(nurse: Team) -> None:
    nurse.begin().tap("tap", event="nucleus drop")
    row = said(Kind.OPERATION_EVENT)[0]
    nurse.tap("undo", entry_id=row.entry_id)
    assert not said(Kind.OPERATION_EVENT)
    assert JournalEntry.objects.filter(pk=row.entry_id).exists()
    assert JournalEntry.objects.get(corrects=row.entry_id).kind == "fact.withdrawn"


def test_a_lens_is_taken_back_only_with_a_reason_and_is_on_the_shelf_again(nurse: Team) -> None:
    nurse.begin().scan("S21")
    nurse.tap("implanted")
    entry = said(Kind.LENS_IMPLANTED)[0].entry_id
    assert "Say why" in words(nurse.tap("undo", entry_id=entry))
    nurse.tap("undo", entry_id=entry, reason="tapped on the wrong page")
    assert Box.objects.get(box_id="R-+21.0").count == 2
    assert Operation.objects.get().lens_model == ""


def test_a_spoilt_lens_leaves_the_box_and_not_the_record(nurse: Team) -> None:
    nurse.begin().scan("S21")
    assert "Say in a word" in words(nurse.tap("spoilt"))
    nurse.tap("spoilt", reason="fell on the floor")
    assert Box.objects.get(box_id="R-+21.0").count == 1
    assert StockMove.objects.get(what="wasted").operation_id == Operation.objects.get().operation_id
    assert not said(Kind.LENS_IMPLANTED)
    nurse.scan("S21")
    nurse.tap("implanted")
    assert Box.objects.get(box_id="R-+21.0").count == 0


def test_a_sign_out_without_lens_or_wound_says_why(nurse: Team) -> None:
    nurse.begin()
    response = nurse.pause(Pause.SIGN_OUT, outcome="done")
    assert response.status_code == 422
    assert "Say why no wound and no lens is recorded" in words(response)
    nurse.pause(Pause.SIGN_OUT, outcome="staged", missing="no capsule left, chamber lens another day")
    assert Operation.objects.get().outcome == "staged"


def test_an_abandoned_operation_lets_the_eye_come_again(nurse: Team) -> None:
    nurse.pause(Pause.SIGN_IN)
    assert nurse.tap("abandon").status_code == 422
    nurse.tap("abandon", reason="could not lie flat")
    assert "was abandoned" in nurse.see()
    nurse.begin()
    assert Operation.objects.count() == 2
    assert not Task.objects.exists()


def test_an_event_that_has_no_name_needs_a_word(nurse: Team) -> None:
    assert nurse.begin().tap("tap", event="other").status_code == 422
    assert nurse.tap("tap").status_code == 422
    assert nurse.tap("tap", step="first cut", tap="no key").status_code == 422
    assert not said(Kind.OPERATION_EVENT)


# The note


@pytest.fixture
def over(nurse: Team) -> Team:
    nurse.begin()
    nurse.pause(Pause.SIGN_OUT, outcome="done", missing="recorded on paper")
    return nurse


def test_the_nurse_keeps_a_draft_and_only_a_surgeon_signs(over: Team, surgeon: Team) -> None:
    response = over.tap("note", text="All well.", sign="on")
    assert response.status_code == 422
    assert "Only somebody who operates" in words(response)
    over.tap("note", text="All well.")
    assert "Draft, not signed" in over.see("note")
    surgeon.tap("note", text="All well indeed.", sign="on")
    rows = JournalEntry.objects.filter(kind="note.written").order_by("stamp")
    assert rows[1].corrects_id == rows[0].pk
    assert "1 earlier version" in surgeon.see("note")


def test_an_unchanged_draft_is_known_as_the_programs_own(over: Team) -> None:
    import html
    import re

    page = over.see("note")
    text = html.unescape(re.search(r"<textarea[^>]*>\s*(.*?)</textarea>", page, re.S).group(1))  # type: ignore[union-attr]
    drafted = re.search(r'name="drafted" value="(\w+)"', page).group(1)  # type: ignore[union-attr]
    over.tap("note", text=text.replace("\n", "\r\n"), drafted=drafted)
    assert '"generated":true' in said(Kind.NOTE_WRITTEN)[0].facts
    over.tap("note", text=text + " More.", drafted=drafted)
    assert '"generated":false' in said(Kind.NOTE_WRITTEN)[0].facts


def test_a_record_that_changes_after_the_note_says_so(over: Team, surgeon: Team) -> None:
    surgeon.tap("note", text="All well.", sign="on")
    entry = said(Kind.OPERATION_ENDED)[0].entry_id
    assert "Say why" in words(surgeon.tap("undo", entry_id=entry))
    surgeon.tap("undo", entry_id=entry, reason="signed out too early")
    surgeon.tap("tap", event="capsule tear")
    surgeon.pause(Pause.SIGN_OUT, outcome="done", missing="as before")
    assert "The record has changed since the note was written" in surgeon.see()


# Doors


@pytest.mark.parametrize("role", [Role.TECHNICIAN, Role.STORE, Role.AUDITOR, Role.ADMINISTRATOR])
def test_nobody_else_may_look_or_tap(stored: StoredPlan, role: Role) -> None:
    address = reverse("theatre-tap", args=[stored.pk, EYE])
    browser = as_role(role)
    assert browser.get(reverse("theatre-eye", args=[stored.pk, EYE])).status_code == 403
    assert browser.post(address, {"tap": str(uuid4()), "event": "suture"}).status_code == 403


def test_another_units_surgeon_finds_nothing(stored: StoredPlan) -> None:
    browser = as_role(Role.SURGEON, unit=OTHER_UNIT)
    assert browser.get(reverse("theatre-eye", args=[stored.pk, EYE])).status_code == 404
    assert browser.get(reverse("theatre-eye", args=[stored.pk, "nobody"])).status_code == 404


def test_without_a_plan_the_theatre_says_what_to_do(db: None) -> None:
    response = as_role(Role.NURSE).get(reverse("theatre"))
    assert response.status_code == 200
    assert "No plan" in response.content.decode() or "plan" in words(response)
