"""A folder read into the record: once, then only what was mended; the day's request comes back out of it."""

import os
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from sample_plan import sample_plan
from sideport.app.planning.models import StoredPlan
from sideport.app.record.folder_in import import_request, request_digest
from sideport.app.record.models import Box, JournalEntry, ListedEye, Measurement, Person, Plan
from sideport.app.record.planned import plan_document, record_folder, record_plan
from sideport.app.record.queries import history, request_for
from sideport.app.record.services import append, rebuild
from sideport.day.settings import DayRequest
from sideport.errors import NothingToPlanError, PlanFormatError
from sideport.exchange import read_folder, write_demo
from sideport.exchange.plan_file import plan_to_json
from sideport.exchange.request_file import REQUEST_FILE, read_request, write_request
from sideport.eye.person import Person as PersonFacts
from sideport.lens.model import Placement
from sideport.optics.side import Side
from sideport.record.kinds import Kind
from sideport.record.theatre_said import LensImplanted

from .laptops import dump

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 11, 30, 20, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def request_(tmp_path_factory: pytest.TempPathFactory) -> DayRequest:
    """The invented unit's day, as read from its spreadsheets."""
    folder = tmp_path_factory.mktemp("unit")
    write_demo(folder)
    read = read_folder(folder).request
    assert read is not None
    return read


def read_in(request: DayRequest) -> dict[str, int]:
    return import_request(request=request, actor="Clerk", now=NOW).added


def sorted_eyes(people: tuple[PersonFacts, ...]) -> list[PersonFacts]:
    return [replace(person, eyes=tuple(sorted(person.eyes, key=lambda eye: eye.side.value))) for person in people]


def out_again(request: DayRequest) -> DayRequest:
    return request_for(unit=request.settings.unit, day=request.settings.day)


def test_the_day_comes_back_out_as_it_went_in(request_: DayRequest) -> None:
    read_in(request_)
    back = out_again(request_)
    assert sorted_eyes(back.people) == sorted_eyes(request_.people)
    assert back.boxes == tuple(box for box in request_.boxes if box.count > 0)
    assert (back.settings, back.lenses, back.team) == (request_.settings, request_.lenses, request_.team)


def test_the_same_folder_twice_adds_nothing(request_: DayRequest) -> None:
    added = read_in(request_)
    assert added[Kind.PERSON_REGISTERED] == len(request_.people)
    count = JournalEntry.objects.count()
    assert read_in(request_) == {}
    assert JournalEntry.objects.count() == count


def test_the_tables_of_a_whole_folder_can_be_made_anew(request_: DayRequest) -> None:
    read_in(request_)
    before = dump()
    rebuild()
    assert dump() == before


def test_a_mended_folder_adds_corrections_and_keeps_what_stood_before(request_: DayRequest) -> None:
    read_in(request_)
    person = next(person for person in request_.people if person.eyes[0].measurements)
    eye = person.eyes[0]
    reading = replace(eye.measurements[0], value=eye.measurements[0].value + 1)
    mended_eye = replace(eye, measurements=(reading, *eye.measurements[1:]), note="Measured again.")
    mended = replace(person, phone="12 34", eyes=(mended_eye, *person.eyes[1:]))
    changed = replace(request_, people=tuple(mended if each is person else each for each in request_.people))
    readings = Measurement.objects.count()
    assert read_in(changed) == {"eye.found": 1, "folder.read": 1, "measurement.taken": 1, "person.corrected": 1}
    assert Measurement.objects.count() == readings
    assert sorted_eyes(out_again(changed).people) == sorted_eyes(changed.people)
    told = history(unit=request_.settings.unit, subject=f"person/{person.person_id}")
    assert [each.before.value for each in told if each.entry.kind == "measurement.taken" and each.before] == [
        eye.measurements[0].value
    ]


def test_a_person_taken_off_the_list_is_off_the_day_and_stays_on_the_record(request_: DayRequest) -> None:
    read_in(request_)
    fewer = replace(request_, people=request_.people[1:])
    read_in(fewer)
    assert [person.person_id for person in out_again(fewer).people] == [person.person_id for person in fewer.people]
    assert Person.objects.count() == len(request_.people)
    assert ListedEye.objects.filter(listing="off").exists()


def test_lenses_used_since_are_not_put_back_by_reading_the_folder_in_again(request_: DayRequest) -> None:
    read_in(request_)
    box = next(box for box in request_.boxes if box.count > 1)
    lens = LensImplanted("QI-001", Side.LEFT, box.model, box.power_d, Placement.BAG, NOW, box_id=box.box_id)
    append(kind=Kind.LENS_IMPLANTED, subject="operation/1", payload=lens, actor="Nurse", now=NOW + timedelta(hours=12))
    moved = replace(request_, settings=replace(request_.settings, tables=request_.settings.tables + 1))
    assert read_in(moved) == {"day.set": 1, "folder.read": 1}
    assert Box.objects.get(box_id=box.box_id).count == box.count - 1
    counted = replace(moved, boxes=tuple(replace(each, count=9) if each is box else each for each in moved.boxes))
    assert read_in(counted) == {"box.moved": 1, "folder.read": 1}
    assert Box.objects.get(box_id=box.box_id).count == 9


def test_a_mended_label_keeps_the_count(request_: DayRequest) -> None:
    read_in(request_)
    box = next(box for box in request_.boxes if box.count > 0)
    mended = replace(
        request_, boxes=tuple(replace(each, location="drawer 9") if each is box else each for each in request_.boxes)
    )
    assert read_in(mended) == {"box.received": 1, "folder.read": 1}
    row = Box.objects.get(box_id=box.box_id)
    assert (row.location, row.count) == ("drawer 9", box.count)


def test_a_folder_with_fewer_boxes_says_how_many_it_does_not_name(request_: DayRequest) -> None:
    read_in(request_)
    fewer = replace(request_, boxes=request_.boxes[3:])
    left_out = sum(box.count > 0 for box in request_.boxes[:3])
    assert import_request(request=fewer, actor="Clerk", now=NOW).boxes_not_listed == left_out


def test_a_day_without_settings_or_people_says_what_to_do(request_: DayRequest) -> None:
    with pytest.raises(NothingToPlanError, match="Set the day first"):
        out_again(request_)
    read_in(replace(request_, people=()))
    with pytest.raises(NothingToPlanError, match="Put eyes on the list"):
        out_again(request_)


def test_the_digest_does_not_depend_on_the_order_of_sets(request_: DayRequest) -> None:
    around = [frozenset(sorted(lens.placements, key=str, reverse=True)) for lens in request_.lenses]
    lenses = tuple(replace(lens, placements=turned) for lens, turned in zip(request_.lenses, around, strict=True))
    turned = replace(request_, lenses=lenses)
    assert request_digest(turned) == request_digest(request_)
    assert request_digest(replace(request_, boxes=request_.boxes[1:])) != request_digest(request_)


def test_a_request_file_reads_back_and_a_damaged_one_is_refused(request_: DayRequest, tmp_path: Path) -> None:
    write_request(request_, tmp_path / REQUEST_FILE)
    assert read_request(tmp_path / REQUEST_FILE) == request_
    (tmp_path / REQUEST_FILE).write_text("{}", encoding="utf-8")
    with pytest.raises(PlanFormatError, match="sideport plan"):
        read_request(tmp_path / REQUEST_FILE)


def test_a_planned_folder_is_recorded_once_with_its_plan(request_: DayRequest, tmp_path: Path) -> None:
    write_request(request_, tmp_path / REQUEST_FILE)
    document = plan_to_json(sample_plan())
    for _ in range(2):
        record_folder(folder=tmp_path, document=document, actor="sideport serve", now=NOW)
    assert StoredPlan.objects.count() == Plan.objects.count() == 1
    assert JournalEntry.objects.filter(kind="plan.made").count() == 1
    plan = Plan.objects.get()
    assert plan_document(unit=plan.unit, digest=plan.digest) == document
    assert plan_document(unit=plan.unit, digest="0" * 64) is None
    assert Person.objects.count() == len(request_.people)


def test_starting_again_does_not_set_a_plan_of_the_browser_aside(tmp_path: Path) -> None:
    document, later = plan_to_json(sample_plan()), plan_to_json(replace(sample_plan(), seed=7))
    path = tmp_path / "plan.json"
    path.write_text(document, encoding="utf-8")
    written = datetime.fromtimestamp(path.stat().st_mtime, UTC)
    record_folder(folder=tmp_path, document=document, actor="sideport serve", now=written + timedelta(seconds=1))
    made = record_plan(document=later, actor="Wren Hollis", now=written + timedelta(hours=1))
    again = record_folder(folder=tmp_path, document=document, actor="sideport serve", now=written + timedelta(hours=2))
    assert again.pk == made.pk
    planned_again = (written + timedelta(hours=3)).timestamp()
    os.utime(path, (planned_again, planned_again))
    newest = record_folder(folder=tmp_path, document=document, actor="sideport serve", now=written + timedelta(hours=4))
    assert newest.pk > made.pk


def test_what_is_no_plan_leaves_no_trace() -> None:
    with pytest.raises(PlanFormatError):
        record_plan(document="{}", actor="A", now=NOW)
    assert not JournalEntry.objects.exists()
