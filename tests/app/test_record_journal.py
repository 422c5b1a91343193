"""The journal in the database: nothing is overwritten, tables are made from it and can be made anew."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.db import DatabaseError, connection, transaction

from sideport.app.record.device import KEY_FILE, renew_device, this_device
from sideport.app.record.models import (
    Box,
    Device,
    JournalEntry,
    Measurement,
    Operation,
    OperationEvent,
    Person,
    StockMove,
    Task,
    Visit,
)  # fmt: skip
from sideport.app.record.queries import history, open_tasks, person_facts
from sideport.app.record.services import Draft, append, append_many, rebuild, settle, verify_journal, withdraw
from sideport.errors import ImpossibleInputError
from sideport.eye.measurement import Measurement as Reading
from sideport.eye.measurement import Quantity
from sideport.eye.person import Cataract, EyeRecord, Sex
from sideport.eye.person import Person as PersonFacts
from sideport.lens.model import Placement
from sideport.optics.acuity import Acuity, AcuityKind
from sideport.optics.side import Side
from sideport.record.entry import Entry, JournalError
from sideport.record.kinds import Kind
from sideport.record.stock_said import BoxReceived
from sideport.record.theatre_said import (
    EventKind,
    LensImplanted,
    NoteWritten,
    OperationEnded,
    OperationStarted,
    OperationStep,
    Outcome,
)  # fmt: skip
from sideport.record.theatre_said import (
    OperationEvent as EventSaid,
)
from sideport.record.visit_said import VisitRecorded
from sideport.shelf.box import Box as BoxFacts
from sideport.wound.technique import Technique

from .laptops import dump

pytestmark = pytest.mark.django_db

UNIT = "Quill Island Eye Unit"
NOW = datetime(2031, 3, 4, 8, 0, tzinfo=UTC)
PERSON, BOX, OPERATION = "person/QI-001", "box/L7", "operation/7"
RUKMINI = PersonFacts("QI-001", "রুক্মিণী বিশ্বাস", (), age_years=67.0, sex=Sex.FEMALE, phone="+91 ০১২-3456")
LENGTH = Reading(Side.RIGHT, Quantity.AXIAL_LENGTH, 23.4, as_written="23,4")
LENS = LensImplanted("QI-001", Side.RIGHT, "Rigid A", 21.0, Placement.BAG, NOW + timedelta(minutes=9), box_id="L7")


def say(kind: Kind, subject: str, payload: object, corrects: Entry | None = None) -> Entry:
    return append(
        kind=kind, subject=subject, payload=payload, actor="Nurse Ada", now=NOW, unit=UNIT,
        corrects=corrects.entry_id if corrects else None,
    )  # fmt: skip


def a_morning() -> None:
    """One patient from the register to a visit, with a tear, a corrected reading and a box that ran out."""
    say(Kind.PERSON_REGISTERED, PERSON, RUKMINI)
    say(Kind.EYE_FOUND, PERSON, EyeRecord(Side.RIGHT, False, cataract=Cataract.BROWN))
    first = say(Kind.MEASUREMENT_TAKEN, PERSON, replace(LENGTH, value=24.3))
    say(Kind.MEASUREMENT_TAKEN, PERSON, LENGTH, corrects=first)
    say(Kind.BOX_RECEIVED, BOX, BoxReceived(BoxFacts("L7", "Rigid A", 21.0, 1)))
    started = OperationStarted("QI-001", Side.RIGHT, NOW.date(), Technique.MSICS, "Dr Ilse Marrow", NOW)
    say(Kind.OPERATION_STARTED, OPERATION, started)
    say(Kind.OPERATION_STEP, OPERATION, OperationStep("capsule opened", NOW))
    say(Kind.OPERATION_EVENT, OPERATION, EventSaid(EventKind.CAPSULE_TEAR, NOW))
    say(Kind.LENS_IMPLANTED, OPERATION, LENS)
    say(Kind.OPERATION_ENDED, OPERATION, OperationEnded("QI-001", Side.RIGHT, Outcome.DONE, NOW))
    say(Kind.NOTE_WRITTEN, OPERATION, NoteWritten("A tear at six o'clock; the lens lies in the bag."))
    say(Kind.LENS_IMPLANTED, "operation/8", replace(LENS, person_id="QI-002"))
    said = VisitRecorded("QI-001", Side.RIGHT, NOW.date(), unaided=Acuity("6/9", AcuityKind.LETTERS, 0.176))
    say(Kind.VISIT_RECORDED, "visit/1", said)


def test_an_entry_and_its_tables_are_written_together() -> None:
    a_morning()
    assert JournalEntry.objects.count() == verify_journal() == 13
    person = Person.objects.get()
    assert (person.name, person.phone) == (RUKMINI.name, "91012" + "3456")
    facts = person_facts(person)
    assert replace(facts, eyes=()) == RUKMINI
    assert [reading.value for eye in facts.eyes for reading in eye.measurements] == [23.4]
    assert Measurement.objects.get().as_written == "23,4"
    operation = Operation.objects.get()
    assert (operation.lens_model, operation.lens_placement, operation.outcome) == ("Rigid A", "bag", "done")
    assert operation.note.startswith("A tear")
    assert set(OperationEvent.objects.values_list("name", flat=True)) >= {"capsule opened", "capsule tear"}
    assert Box.objects.get().count == 0
    assert list(StockMove.objects.order_by("first").values_list("what", "left")) == [
        ("received", 1), ("implanted", 0), ("implanted", -1),
    ]  # fmt: skip
    assert Visit.objects.get().kind == "recorded"
    assert [task.code for task in open_tasks(unit=UNIT)] == ["box-overdrawn"]


def test_a_rebuild_gives_the_same_bytes() -> None:
    a_morning()
    settle(task=Task.objects.get(), keep=None, words="The label was read wrong.", actor="Store", now=NOW)
    before = dump()
    assert rebuild() > 0
    assert dump() == before
    Person.objects.update(name="changed behind the journal's back")
    assert dump() != before
    rebuild()
    assert dump() == before


def test_nothing_is_changed_by_a_rebuild_of_a_damaged_journal() -> None:
    a_morning()
    victim = JournalEntry.objects.order_by("stamp").first()
    assert victim is not None
    forged = JournalEntry(**{field.attname: getattr(victim, field.attname) for field in victim._meta.concrete_fields})
    forged.entry_id, forged.stamp, forged.digest, forged.sequence = "f" * 36, victim.stamp[:-1], "f" * 64, 14
    forged.save(force_insert=True)
    before = dump()
    with pytest.raises((JournalError, ImpossibleInputError)):
        rebuild()
    assert dump() == before


@pytest.mark.parametrize(
    "statement",
    ["UPDATE record_journalentry SET author = 'x'", "DELETE FROM record_journalentry",
     "UPDATE record_journalentry SET payload = '{}' WHERE sequence = 1", "TRUNCATE record_journalentry CASCADE"],
)  # fmt: skip
def test_the_database_refuses_to_change_or_remove_an_entry(statement: str) -> None:
    if statement.startswith("TRUNCATE") and connection.vendor == "sqlite":
        statement = "INSERT OR REPLACE INTO record_journalentry SELECT * FROM record_journalentry"
    say(Kind.PERSON_REGISTERED, PERSON, RUKMINI)
    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)
    assert verify_journal() == 1


def test_tables_refuse_a_value_of_the_wrong_type() -> None:
    a_morning()
    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE record_box SET count = 'many'")


def test_a_key_to_nowhere_is_refused() -> None:
    a_morning()
    with connection.cursor() as cursor:
        cursor.execute("UPDATE record_measurement SET eye_id = 'nobody'")
    with pytest.raises(DatabaseError), transaction.atomic():
        connection.check_constraints()
    Measurement.objects.all().delete()


def test_history_says_who_when_and_what_stood_before() -> None:
    a_morning()
    told = [each for each in history(unit=UNIT, subject=PERSON) if each.entry.kind == Kind.MEASUREMENT_TAKEN]
    assert [(each.said.value, each.holds) for each in told] == [(24.3, False), (23.4, True)]
    assert told[1].before.value == 24.3
    assert (told[1].entry.author, told[1].entry.at) == ("Nurse Ada", NOW)
    assert any(each.entry.kind == Kind.OPERATION_STARTED for each in history(unit=UNIT, subject=PERSON))


def test_a_withdrawal_takes_its_rows_away_and_leaves_the_word() -> None:
    a_morning()
    lens = JournalEntry.objects.filter(subject="operation/8").get()
    withdraw(entry_id=lens.entry_id, reason="never opened", actor="Store", now=NOW)
    assert StockMove.objects.filter(what="implanted").count() == 1
    assert open_tasks(unit=UNIT) == []
    assert JournalEntry.objects.count() == 14


def test_a_lens_corrected_to_another_box_leaves_the_first_one_whole() -> None:
    say(Kind.BOX_RECEIVED, BOX, BoxReceived(BoxFacts("L7", "Rigid A", 21.0, 1)))
    say(Kind.BOX_RECEIVED, "box/L8", BoxReceived(BoxFacts("L8", "Rigid A", 21.0, 1)))
    lens = say(Kind.LENS_IMPLANTED, OPERATION, LENS)
    say(Kind.LENS_IMPLANTED, OPERATION, replace(LENS, box_id="L8"), corrects=lens)
    assert dict(Box.objects.values_list("box_id", "count")) == {"L7": 1, "L8": 0}
    before = dump()
    rebuild()
    assert dump() == before


def test_a_task_is_settled_with_a_choice_and_words() -> None:
    a_morning()
    (task,) = open_tasks(unit=UNIT)
    with pytest.raises(ImpossibleInputError, match="Choose one"):
        settle(task=task, keep="another", words="x", actor="Store", now=NOW)
    with pytest.raises(ImpossibleInputError, match="few words"):
        settle(task=task, keep=None, words=" ", actor="Store", now=NOW)
    entry = settle(task=task, keep=None, words="Two boxes share this label.", actor="Store", now=NOW)
    assert open_tasks(unit=UNIT) == []
    assert Task.objects.get().settled_by == entry.entry_id


def test_several_entries_are_written_together_or_not_at_all() -> None:
    drafts = [Draft(Kind.PERSON_REGISTERED, PERSON, RUKMINI), Draft(Kind.MEASUREMENT_TAKEN, BOX, LENGTH)]
    with pytest.raises(ImpossibleInputError):
        append_many(drafts=drafts, actor="Nurse Ada", now=NOW, unit=UNIT)
    assert JournalEntry.objects.count() == Person.objects.count() == 0
    assert verify_journal() == 0


@pytest.mark.parametrize(
    ("changed", "words"),
    [({"actor": " "}, "somebody"), ({"now": NOW.replace(tzinfo=None)}, "time zone"), ({"unit": None}, "no unit"),
     ({"subject": "tide/1"}, "not a subject"), ({"payload": LENGTH}, "said by a Person"),
     ({"corrects": "01a20fe9-0def-7deb-8c52-d9ddc08e2f07"}, "not here")],
)  # fmt: skip
def test_what_cannot_be_written_is_refused_with_what_to_do(changed: dict[str, object], words: str) -> None:
    asked = {"kind": Kind.PERSON_REGISTERED, "subject": PERSON, "payload": RUKMINI, "actor": "A", "now": NOW}
    with pytest.raises((ImpossibleInputError, JournalError), match=words):
        append(**(asked | {"unit": UNIT} | changed))  # type: ignore[arg-type]
    assert not JournalEntry.objects.exists()


def test_a_device_keeps_its_unit_its_name_and_its_keys(tmp_path: Path, settings: Any) -> None:
    settings.DATA = tmp_path
    name = this_device().device
    say(Kind.PERSON_REGISTERED, PERSON, RUKMINI)
    entry = append(kind=Kind.MEASUREMENT_TAKEN, subject=PERSON, payload=LENGTH, actor="A", now=NOW)
    assert (entry.unit, entry.device) == (UNIT, name)
    assert (tmp_path / KEY_FILE).stat().st_mode & 0o077 == 0
    assert Device.objects.get(pk=name).sequence == 2
    assert "SECRET" not in repr(this_device()).upper().replace("SECRETS", "")


def test_a_copied_folder_gets_a_new_identity_and_a_new_chain(tmp_path: Path, settings: Any) -> None:
    settings.DATA = tmp_path
    say(Kind.PERSON_REGISTERED, PERSON, RUKMINI)
    before, after = this_device().device, renew_device().device
    assert before != after
    assert say(Kind.MEASUREMENT_TAKEN, PERSON, LENGTH).sequence == 1
    assert verify_journal() == 2
    assert (tmp_path / f"device-{before}.key").exists()


def test_a_damaged_key_file_is_said_and_not_written_over(tmp_path: Path, settings: Any) -> None:
    settings.DATA = tmp_path
    (tmp_path / KEY_FILE).write_text("{}", encoding="ascii")
    with pytest.raises(ImproperlyConfigured, match="not a device's key"):
        this_device()
    assert (tmp_path / KEY_FILE).read_text(encoding="ascii") == "{}"
