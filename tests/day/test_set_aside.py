"""What could not be read stays in sight: who is missing from the list, and what the plan was made without."""

from dataclasses import replace
from pathlib import Path

import pytest
from bench.big_day import big_day

from sideport.cli.planning import plan_folder
from sideport.day import DayPlan, DayRequest, plan_day
from sideport.day.plan import SetAside
from sideport.day.set_aside import MOST_OTHERS, set_aside_items
from sideport.exchange import as_set_aside, read_folder, read_plan
from sideport.eye.measurement import Quantity
from sideport.knowledge import Severity, load_published
from sideport.optics.acuity import Acuity, AcuityKind
from sideport.optics.side import Side

KNOWLEDGE = load_published()
NOBODY = SetAside(
    "register.csv, row 9", "'B900 | Lost' does not say which eye", "R or L", "B900", "Lost", left_out=True
)


@pytest.fixture(scope="module")
def day() -> DayRequest:
    return big_day(eyes=6, boxes=60)


def plan(request: DayRequest, *set_aside: SetAside) -> DayPlan:
    return plan_day(request, KNOWLEDGE, seed=0, inputs_sha256="test", set_aside=set_aside)


def refused_length(request: DayRequest) -> SetAside:
    """The first listed eye's length, written in centimetres."""
    person = request.people[0]
    side = next(eye.side for eye in person.eyes if eye.listed)
    where, what = "measurements.csv, row 4, column Value", "'2.31' looks like centimetres; write 23.1"
    return SetAside(where, what, "14 to 40 mm", person.person_id, "", side, Quantity.AXIAL_LENGTH.value)


def test_a_person_whose_row_was_set_aside_is_a_stop_that_names_them(day: DayRequest) -> None:
    planned = plan(day, NOBODY)
    first = planned.tonight[0]
    assert first.severity == "stop"
    assert "Not on the list: B900 Lost" in first.message
    assert "R or L" in first.action
    assert planned.set_aside == (NOBODY,)


def test_the_second_eye_of_a_planned_person_is_missed_too(day: DayRequest) -> None:
    person = day.people[0]
    side = next(eye.side for eye in person.eyes if eye.listed).other
    row = replace(NOBODY, person_id=person.person_id.lower(), side=side)
    assert f"{side.value.upper()} eye" in plan(day, row).tonight[0].message


def test_a_repeated_row_of_a_planned_eye_only_asks_to_be_mended(day: DayRequest) -> None:
    person = day.people[0]
    side = next(eye.side for eye in person.eyes if eye.listed)
    items = [item for item in plan(day, replace(NOBODY, person_id=person.person_id, side=side)).tonight
             if "register.csv, row 9" in item.message]  # fmt: skip
    assert [item.severity for item in items] == ["warn"]
    assert items[0].eye_key is not None


def test_a_refused_axial_length_is_told_once_and_by_its_eye(day: DayRequest) -> None:
    row = refused_length(day)
    planned = plan(day, row)
    eye = next(eye for eye in planned.eyes if eye.person_id == row.person_id)
    assert [flag.severity for flag in eye.flags if flag.code == "axial-length-set-aside"] == [Severity.WARN]
    assert [item.eye_key for item in planned.tonight if "2.31" in item.message] == [eye.key]


def test_very_many_are_counted_and_none_is_silent() -> None:
    rows = [SetAside(f"shelf.csv, row {number}", "has no power", "a power") for number in range(1000)]
    items = set_aside_items(rows, ())
    assert len(items) == MOST_OTHERS + 1
    assert f"{1000 - MOST_OTHERS} more" in items[-1].message


def test_an_eye_without_perception_of_light_is_off_the_list_and_takes_no_lens(day: DayRequest) -> None:
    blind = Acuity("NPL", AcuityKind.NO_LIGHT_PERCEPTION)
    person = day.people[0]
    dark = replace(person, eyes=tuple(replace(eye, acuity=blind) for eye in person.eyes))
    eye = next(eye for eye in plan(replace(day, people=(dark, *day.people[1:]))).eyes if eye.name == person.name)
    assert "no perception of light" in eye.off_list
    assert (eye.lens, eye.backup, eye.slot) == (None, None, None)


@pytest.mark.parametrize(("age", "listed"), [(7.0, False), (15.9, False), (16.0, True), (None, True)])
def test_a_child_is_planned_apart(day: DayRequest, age: float | None, listed: bool) -> None:
    """Common practice: general anaesthesia and a paediatric target, below the age that the knowledge gives."""
    young = replace(day.people[0], age_years=age)
    eye = next(eye for eye in plan(replace(day, people=(young, *day.people[1:]))).eyes if eye.name == young.name)
    assert (eye.slot is not None) is listed
    assert ("child" in eye.off_list) is not listed
    assert listed or not eye.kit


def test_an_eye_without_any_length_is_a_stop(day: DayRequest) -> None:
    bare = tuple(
        replace(eye, measurements=tuple(m for m in eye.measurements if m.quantity is not Quantity.AXIAL_LENGTH))
        for eye in day.people[0].eyes
    )
    planned = plan(replace(day, people=(replace(day.people[0], eyes=bare), *day.people[1:])))
    stops = [item.message for item in planned.tonight if item.severity == "stop"]
    assert any("No axial length in either eye" in message for message in stops)


def test_a_note_that_nearly_every_eye_has_is_told_once(day: DayRequest) -> None:
    told = [item for item in plan(day).tonight if "contact ultrasound alone" in item.message]
    assert len(told) == 1
    assert told[0].severity == "note"
    assert told[0].eye_key is None
    assert told[0].message.startswith("In 6 of 6 eyes")


def test_the_reader_says_whom_a_row_is_about(tmp_path: Path) -> None:
    (tmp_path / "day.csv").write_text("Setting,Value\nUnit,Test Unit\nOperating day,2026-12-01\n")
    (tmp_path / "register.csv").write_text(
        "Patient no,Name,Age,Sex,Eye,Cataract,AL (mm)\n"
        "A1,Tansy,60,F,R,white,2.31\nA2,Perrin,61,M,,white,23.1\nA3,Orsolo,62,M,X,white,23.1\n"
    )
    rows = {row.person_id: row for row in map(as_set_aside, read_folder(tmp_path).rejected)}
    assert (rows["A1"].side, rows["A1"].quantity, rows["A1"].left_out) == (Side.RIGHT, "axial length", False)
    assert (rows["A2"].name, rows["A2"].side, rows["A2"].left_out) == ("Perrin", None, True)
    assert rows["A3"].left_out


def test_the_written_plan_keeps_what_was_set_aside(tmp_path: Path) -> None:
    """From the folder to plan.json: the person without an eye side is still there."""
    folder, out = tmp_path / "in", tmp_path / "out"
    folder.mkdir()
    (folder / "day.csv").write_text("Setting,Value\nUnit,Test Unit\nOperating day,2026-12-01\n")
    (folder / "register.csv").write_text(
        "Patient no,Name,Age,Sex,Eye,Cataract,AL (mm)\nA1,Tansy,60,F,R,white,23.2\nA2,Perrin,61,M,,white,23.1\n"
    )
    assert plan_folder(folder, out) == 1
    written = read_plan(out / "plan.json")
    assert [row.person_id for row in written.set_aside] == ["A2"]
    assert any("Not on the list: A2 Perrin" in item.message for item in written.tonight if item.severity == "stop")
