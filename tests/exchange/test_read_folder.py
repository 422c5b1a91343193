"""A folder becomes a request, and whatever cannot be used is listed with what to do."""

from datetime import date
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from exchange.folders import DAY, LENSES, REGISTER, csv_rows, read, read_register
from sideport.exchange import FolderRead, inputs_sha256, read_folder, write_rejected
from sideport.eye.measurement import Method, Quantity
from sideport.optics.side import Side

SHELF = "Lens model,Power (D),Count,Expiry,Lot,Serial,Price\n"


def only(read: FolderRead) -> str:
    """The one thing set aside, in words."""
    assert len(read.rejected) == 1, [str(item) for item in read.rejected]
    return str(read.rejected[0])


def test_a_folder_without_files_says_what_to_put_there(tmp_path: Path) -> None:
    result = read_folder(tmp_path)
    assert result.request is None
    assert "holds no spreadsheet" in str(result.rejected[0])
    assert "register" in result.rejected[0].accepted


def test_a_folder_that_is_not_there_is_said(tmp_path: Path) -> None:
    assert "is not a folder" in str(read_folder(tmp_path / "nowhere").rejected[0])


def test_a_patient_without_an_eye_side_is_set_aside_and_the_others_planned(tmp_path: Path) -> None:
    result = read_register(tmp_path, "P1,Ana,60,F,,white,HM", "P2,Bea,61,F,L,white,HM")
    assert "row 2" in only(result)
    assert "does not say which eye" in only(result)
    assert result.request is not None
    assert [person.person_id for person in result.request.people] == ["P2"]


def test_both_eyes_in_one_row_ask_for_two_rows(tmp_path: Path) -> None:
    result = read_register(tmp_path, "P1,Ana,60,F,BE,white,HM", "P2,Bea,61,F,L,white,HM")
    assert "one row an eye" in only(result)


def test_a_negative_power_out_of_range_is_set_aside_and_a_real_one_kept(tmp_path: Path) -> None:
    result = read(tmp_path, register=REGISTER + "P1,Ana,60,F,R,white,HM\n", lenses=LENSES,
                  shelf=SHELF + "Rigid A,-12,1,2028-05,L1,,90\nRigid A,-2.0,1,2028-05,L2,,90\n")  # fmt: skip
    assert "'-12'" in only(result)
    assert "from \u221210 to +45 D" in only(result)
    assert result.request is not None
    assert [box.power_d for box in result.request.boxes] == [-2.0]


def test_an_expired_lens_stays_on_the_shelf_and_is_noted(tmp_path: Path) -> None:
    result = read(tmp_path, register=REGISTER + "P1,Ana,60,F,R,white,HM\n", lenses=LENSES,
                  shelf=SHELF + "Rigid A,21,1,2026-11,L1,,90\n")  # fmt: skip
    assert result.request is not None
    assert result.request.boxes[0].expires == date(2026, 11, 30)
    assert any("past their expiry date" in note and "L1" in note for note in result.notes)


@pytest.mark.parametrize("second", ["P1,Bea,60,F,L,white,HM", "P1,Ana,75,F,L,white,HM", "P1,Ana,60,M,L,white,HM"])
def test_two_patients_with_one_identity_are_both_set_aside(tmp_path: Path, second: str) -> None:
    result = read_register(tmp_path, "P1,Ana,60,F,R,white,HM", second, "P2,Cyd,61,F,L,white,HM")
    assert [item.row for item in result.rejected] == [2, 3]
    assert all("P1" in item.why and "one number a person" in item.accepted for item in result.rejected)
    assert result.request is not None
    assert [person.person_id for person in result.request.people] == ["P2"]


def test_one_person_in_two_eye_rows_is_one_person(tmp_path: Path) -> None:
    result = read_register(tmp_path, "P1,Ana  Roy,60,F,R,white,HM", "p1,ANA ROY,,,L,brown,CF 1m")
    assert result.rejected == ()
    assert result.request is not None
    (person,) = result.request.people
    assert person.name == "Ana Roy"
    assert {eye.side for eye in person.eyes} == {Side.RIGHT, Side.LEFT}


def test_an_axial_length_in_centimetres_is_set_aside_with_the_length_meant(tmp_path: Path) -> None:
    register = "Patient no,Name,Eye,AL (mm),K1,K2\nP1,Ana,R,2.35,43,44\n"
    result = read(tmp_path, register=register)
    assert "looks like centimetres; write 23.5" in only(result)
    assert result.rejected[0].column == "AL (mm)"
    assert result.request is not None
    quantities = [reading.quantity for reading in result.request.people[0].eyes[0].measurements]
    assert quantities == [Quantity.K1, Quantity.K2]


def test_two_rows_that_tell_different_things_of_one_eye_are_both_set_aside(tmp_path: Path) -> None:
    result = read_register(tmp_path, "P1,Ana,60,F,R,white,HM", "P1,Ana,60,F,R,brown,HM", "P1,Ana,60,F,L,white,HM")
    assert [item.row for item in result.rejected] == [2, 3]
    assert result.request is not None
    assert [eye.side for eye in result.request.people[0].eyes] == [Side.LEFT]


def test_the_same_row_twice_is_used_once_and_said(tmp_path: Path) -> None:
    result = read_register(tmp_path, "P1,Ana,60,F,R,white,HM", "P1,Ana,60,F,R,white,HM")
    assert "repeats" in only(result)
    assert result.request is not None
    assert len(result.request.people[0].eyes) == 1


def test_a_box_number_that_stands_twice_with_different_lenses_is_set_aside(tmp_path: Path) -> None:
    result = read(tmp_path, register=REGISTER + "P1,Ana,60,F,R,white,HM\n", lenses=LENSES,
                  shelf=SHELF + "Rigid A,21,1,2028-05,,S1,90\nRigid A,22,1,2028-05,,S1,90\n"
                  "Rigid A,23,1,2028-05,,S2,90\n")  # fmt: skip
    assert [item.row for item in result.rejected] == [2, 3]
    assert result.request is not None
    assert [box.box_id for box in result.request.boxes] == ["S2"]


def test_a_lens_that_no_sheet_describes_is_set_aside_with_the_known_names(tmp_path: Path) -> None:
    result = read(tmp_path, register=REGISTER + "P1,Ana,60,F,R,white,HM\n", lenses=LENSES,
                  shelf=SHELF + "Rigid X,21,1,2028-05,L1,,90\nrigid-a,22,1,2028-05,L2,,90\n")  # fmt: skip
    assert "Rigid A" in only(result)
    assert result.request is not None
    assert [box.model for box in result.request.boxes] == ["Rigid A"]


def test_a_count_or_expiry_that_cannot_be_read_sets_the_box_aside(tmp_path: Path) -> None:
    """Neither may be guessed: the box would be given twice, or past its date."""
    result = read(tmp_path, register=REGISTER + "P1,Ana,60,F,R,white,HM\n", lenses=LENSES,
                  shelf=SHELF + "Rigid A,21,many,2028-05,L1,,90\nRigid A,22,1,soon,L2,,90\n")  # fmt: skip
    assert len(result.rejected) == 2
    assert result.request is not None
    assert result.request.boxes == ()


def test_without_an_operating_day_nothing_is_planned_and_it_is_said(tmp_path: Path) -> None:
    result = read(tmp_path, register=REGISTER + "P1,Ana,60,F,R,white,HM\n", day="Setting,Value\nUnit,Test\n")
    assert result.request is None
    assert "operating day" in str(result.rejected[-1])


def test_the_caller_may_give_the_day(tmp_path: Path) -> None:
    (tmp_path / "register.csv").write_text(REGISTER + "P1,Ana,60,F,R,white,HM\n", encoding="utf-8")
    result = read_folder(tmp_path, day=date(2026, 12, 3))
    assert result.request is not None
    assert result.request.settings.day == date(2026, 12, 3)


def test_unknown_settings_and_impossible_hours_are_listed(tmp_path: Path) -> None:
    result = read(tmp_path, register=REGISTER + "P1,Ana,60,F,R,white,HM\n",
                  day=DAY + "Start,16:00\nEnd,08:00\nColour,blue\nTables,0\n"
                  "Formula,guess\nPopulation,martian\n")  # fmt: skip
    assert len(result.rejected) == 5
    assert any("south_asian_cataract" in item.accepted for item in result.rejected)
    assert result.request is not None
    assert result.request.settings.formula == "auto"
    assert result.request.settings.starts < result.request.settings.ends
    assert result.request.settings.tables == 1


def test_patients_eyes_and_measurements_come_together(tmp_path: Path) -> None:
    result = read(
        tmp_path,
        patients="Patient no,Name,DOB,Sex,Only eye\nP1,Ana,1960-12-02,F,R\nP2,Bea,1961-01-01,F,\n"
        "P3,Cyd,1950-01-01,M,\n",
        eyes="Patient no,Eye,Cataract,Operate\nP1,R,white,yes\nP2,L,brown,\n",
        measurements="Patient no,Eye,What,Value,Unit,How,Axis\nP1,R,AL,23.1,mm,contact,\nP1,R,AL,23.2,mm,contact,\n"
        "P1,L,K1,7.5,mm,manual,90\nP9,R,AL,23,mm,contact,\n",
    )
    assert result.request is not None
    first, second = result.request.people
    assert first.age_years == 65
    assert first.only_eye is Side.RIGHT
    right, left = first.eye(Side.RIGHT), first.eye(Side.LEFT)
    assert right is not None
    assert left is not None
    assert [(reading.value, reading.reading) for reading in right.measurements] == [(23.1, 1), (23.2, 2)]
    assert left.listed is False
    assert left.measurements[0].value == pytest.approx(45.0, abs=1e-12)  # 337.5 / 7.5 by hand
    assert left.measurements[0].as_written == "7.5 mm"
    assert second.eyes[0].listed is False, "a blank beside another row's yes means no"
    words = [str(item) for item in result.rejected]
    assert any("P3" in word and "no eye" in word for word in words)
    assert any("P9" in word and "no other sheet" in word for word in words)


def test_dioptres_at_another_index_are_brought_to_the_convention(tmp_path: Path) -> None:
    """44 D at 1.332 is the radius 332 / 44 mm, and so 337.5 x 44 / 332 D at 1.3375; millimetres do not change."""
    result = read(tmp_path, day=DAY + "Keratometer index,1.332\n",
                  register="Patient no,Name,Eye,K1,K2\nP1,Ana,R,44,7.5 mm\n")  # fmt: skip
    assert result.request is not None
    k1, k2 = result.request.people[0].eyes[0].measurements
    assert k1.value == pytest.approx(337.5 * 44 / 332, abs=1e-12)
    assert k2.value == pytest.approx(45.0, abs=1e-12)


def test_a_register_figure_is_not_counted_twice(tmp_path: Path) -> None:
    result = read(
        tmp_path,
        register="Patient no,Name,Eye,AL,AL method\nP1,Ana,R,23.15,contact\n"
        "P2,Bea,R,24.9,contact\nP3,Cyd,R,23.3,optical\n",
        measurements="Patient no,Eye,What,Value,How\n"
        + "".join(f"{number},R,AL,{value},contact\n" for number in ("P1", "P2", "P3") for value in (23.1, 23.2)),
    )
    assert "lies outside the 2 readings" in only(result)
    assert any("not counted again" in note for note in result.notes)
    assert result.request is not None
    counts = [len(person.eyes[0].measurements) for person in result.request.people]
    assert counts == [2, 2, 3]
    methods = {reading.method for reading in result.request.people[2].eyes[0].measurements}
    assert methods == {Method.CONTACT_ULTRASOUND, Method.OPTICAL}


def test_a_bad_optional_cell_costs_only_the_cell(tmp_path: Path) -> None:
    result = read_register(tmp_path, "P1,Ana,sixty,F,R,white,HM")
    assert result.rejected[0].column == "Age"
    assert result.rejected[0].found == "sixty"
    assert result.request is not None
    assert result.request.people[0].age_years is None


def test_a_file_is_known_by_its_headings_when_its_name_says_nothing(tmp_path: Path) -> None:
    result = read(tmp_path, tuesday=REGISTER + "P1,Ana,60,F,R,white,HM\n")
    assert result.request is not None
    assert any("taken as register" in note for note in result.notes)


def test_the_digest_follows_names_and_bytes(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_bytes(b"1")
    first = inputs_sha256(tmp_path)
    (tmp_path / "a.csv").write_bytes(b"2")
    assert inputs_sha256(tmp_path) != first
    (tmp_path / "a.csv").write_bytes(b"1")
    assert inputs_sha256(tmp_path) == first
    (tmp_path / "a.csv").rename(tmp_path / "b.csv")
    assert inputs_sha256(tmp_path) != first


def test_the_list_of_what_was_set_aside_runs_no_formula(tmp_path: Path) -> None:
    result = read_register(tmp_path, 'P1,Ana,"=HYPERLINK(""x"")",F,R,white,HM', "P2,রহিমা,-5,F,R,white,HM")
    write_rejected(result, tmp_path / "set-aside.csv")
    content = (tmp_path / "set-aside.csv").read_bytes()
    assert content.startswith(b"\xef\xbb\xbf")
    rows = csv_rows(tmp_path / "set-aside.csv")
    assert [row[4] for row in rows[1:]] == ['\'=HYPERLINK("x")', "'-5"]
    assert [row[2] for row in rows[1:]] == ["2", "3"]


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=60)
@given(
    rows=st.lists(
        st.tuples(
            st.sampled_from(["P1", "P2", "P3", ""]), st.sampled_from(["Ana", "Bea", ""]),
            st.sampled_from(["60", "61", "x", ""]),
            st.sampled_from(["R", "L", "both", ""]), st.sampled_from(["white", "brown", "odd", ""]),
        ),
        max_size=8,
    )
)  # fmt: skip
def test_no_row_vanishes(tmp_path: Path, rows: list[tuple[str, ...]]) -> None:
    """Every row of a register is an eye of the request, or a row that is listed."""
    lines = "\n".join(",".join(row) for row in rows)
    result = read(tmp_path, register=f"Patient no,Name,Age,Eye,Cataract\n{lines}\n")
    listed = {item.row for item in result.rejected if item.row is not None}
    people = result.request.people if result.request else ()
    eyes = {(person.person_id, eye.side.value[0].upper()) for person in people for eye in person.eyes}
    for index, row in enumerate(rows, start=2):
        assert not any(row) or index in listed or (row[0], row[3]) in eyes
