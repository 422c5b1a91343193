"""CSV as it leaves real programs: encodings, delimiters, line ends, and damage."""

from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from exchange.folders import DAY, REGISTER, read
from sideport.exchange import FolderRead, read_folder

ROW = "P1,রহিমা বেগম,60,F,R,white,HM\n"


def names(result: FolderRead) -> list[str]:
    return [person.name for person in result.request.people] if result.request else []


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le-mark", "utf-32"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
def test_every_unicode_encoding_and_line_end_reads(tmp_path: Path, encoding: str, line_end: str) -> None:
    text = (REGISTER + ROW).replace("\n", line_end)
    content = ("\ufeff" + text).encode("utf-16-le") if encoding == "utf-16-le-mark" else text.encode(encoding)
    result = read(tmp_path, register=content)
    assert names(result) == ["রহিমা বেগম"]
    assert result.rejected == ()


def test_western_windows_text_reads_with_a_note(tmp_path: Path) -> None:
    result = read(tmp_path, register=(REGISTER + "P1,José,60,M,R,white,HM\n").encode("cp1252"))
    assert names(result) == ["José"]
    assert any("not UTF-8" in note for note in result.notes)


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_the_delimiter_is_found_by_the_headings(tmp_path: Path, delimiter: str) -> None:
    register = "Title without meaning\n\nPatient no,Name,Eye,AL\nP1,Ana,R,23.5\n".replace(",", delimiter)
    result = read(tmp_path, register=register)
    assert names(result) == ["Ana"]


def test_semicolons_leave_decimal_commas_alone(tmp_path: Path) -> None:
    result = read(tmp_path, register="sep=;\nPatient no;Name;Eye;AL\nP1;Ana;R;23,5\n")
    assert result.request is not None
    assert result.request.people[0].eyes[0].measurements[0].value == 23.5
    assert result.request.people[0].eyes[0].measurements[0].as_written == "23,5"


def test_a_decimal_comma_without_quotes_is_not_read_as_two_cells(tmp_path: Path) -> None:
    """Else 23,5 would be the length 23 with the method 5."""
    result = read(tmp_path, register="Patient no,Name,Eye,AL,AL method\nP1,Ana,R,23,5,contact\nP2,Bea,R,23.5,contact\n")
    assert names(result) == ["Bea"]
    assert result.rejected[0].row == 2
    assert "decimal comma" in result.rejected[0].accepted


def test_rows_are_counted_as_a_spreadsheet_counts(tmp_path: Path) -> None:
    """Blank lines count, and a cell with a line break is one row."""
    register = 'Patient no,Name,Eye,Remarks\n\nP1,Ana,R,"two\nlines"\nP2,Bea,up,\n'
    result = read(tmp_path, register=register)
    assert [item.row for item in result.rejected] == [4]


def test_a_nul_byte_costs_its_row_only(tmp_path: Path) -> None:
    result = read(tmp_path, register=REGISTER + "P1,An\0a,60,F,R,white,HM\nP2,Bea,60,F,R,white,HM\n")
    assert names(result) == ["Bea"]
    assert "NUL" in result.rejected[0].why


def test_a_quotation_mark_that_never_closes_is_found(tmp_path: Path) -> None:
    lines = "".join(f"P{index},Ana {index},60,F,R,white,HM\n" for index in range(2, 60))
    result = read(tmp_path, register=REGISTER + "P0,Bea,60,F,R,white,HM\n" + 'P1,"Ana,60,F,R,white,HM\n' + lines)
    assert names(result) == ["Bea"]
    assert any("does not close" in item.why for item in result.rejected)


def test_a_cell_longer_than_any_person_writes_is_said(tmp_path: Path) -> None:
    result = read(tmp_path, register=REGISTER + "P1," + "x" * 200_000 + ",60,F,R,white,HM\nP2,Bea,60,F,R,white,HM\n")
    assert "Bea" in names(result)
    assert result.rejected


def test_unknown_and_repeated_headings_are_named(tmp_path: Path) -> None:
    result = read(tmp_path, register="Patient no,Name,Eye,Shoe size,Age,Age (yrs)\nP1,Ana,R,38,60,61\n")
    assert any("Shoe size" in note for note in result.notes)
    assert any("Age (yrs)" in note for note in result.notes)


def test_a_sheet_without_a_needed_heading_says_which(tmp_path: Path) -> None:
    result = read(tmp_path, register="Patient no,Name,Age\nP1,Ana,60\n")
    assert result.request is None
    assert "no column for Eye" in result.rejected[0].why


def test_right_and_left_columns_side_by_side_become_two_eyes(tmp_path: Path) -> None:
    register = ",,,Right eye,,,Left eye,,\nPatient no,Name,Eye,AL,K1,Axis,AL,K1,Axis\nP1,Ana,R,23.1,43,10,24.2,44,80\n"
    result = read(tmp_path, register=register)
    assert result.rejected == ()
    assert result.request is not None
    right, left = result.request.people[0].eyes
    assert (right.listed, left.listed) == (True, False)
    assert [(reading.value, reading.axis_deg) for reading in right.measurements] == [(23.1, None), (43.0, 10.0)]
    assert [(reading.value, reading.axis_deg) for reading in left.measurements] == [(24.2, None), (44.0, 80.0)]


def test_a_side_in_the_heading_is_never_dropped(tmp_path: Path) -> None:
    register = "Patient no,Name,Eye,AL (RE),AL (LE)\nP1,Ana,L,23.1,24.2\n"
    result = read(tmp_path, register=register)
    assert result.request is not None
    values = {eye.side.value: eye.measurements[0].value for eye in result.request.people[0].eyes}
    assert values == {"right": 23.1, "left": 24.2}


def test_a_hundred_thousand_rows_are_read_to_the_last(tmp_path: Path) -> None:
    lines = [f"P{index},রহিমা {index},{40 + index % 50},F,R,white,HM" for index in range(100_000)]
    (tmp_path / "day.csv").write_text(DAY, encoding="utf-8")
    (tmp_path / "register.csv").write_bytes(("\ufeff" + REGISTER + "\n".join(lines)).replace("\n", "\r\n").encode())
    result = read_folder(tmp_path)
    assert result.rejected == ()
    assert result.request is not None
    assert len(result.request.people) == 100_000


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=150)
@given(
    content=st.binary(max_size=400), table=st.sampled_from(["register", "shelf", "measurements", "team", "day", "odd"])
)
@example(content=b"\xff\xfe\x00", table="register")
@example(content=b"sep=\n", table="register")
@example(content=b'"', table="day")
def test_any_bytes_give_rows_or_findings(tmp_path: Path, content: bytes, table: str) -> None:
    for path in tmp_path.iterdir():
        path.unlink()
    result = read(tmp_path, **{table: content})
    assert result.request is not None or result.rejected


CELLS = st.sampled_from(
    [
        "",
        "P1",
        "P2",
        "Ana",
        "R",
        "L",
        "23,5",
        "-1",
        "2.35",
        "43.5@90",
        "white",
        "yes",
        "?",
        "\u0663",
        "1e9",
        "=1",
        "01/02/2026",
    ]
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=100)
@given(rows=st.lists(st.lists(CELLS, max_size=10), max_size=6))
def test_any_cells_under_known_headings_give_rows_or_findings(tmp_path: Path, rows: list[list[str]]) -> None:
    head = "Patient no;Name;Eye;Age;AL;K1;K1 axis;Cataract;Diabetic;DOB\n"
    result = read(tmp_path, register=head + "\n".join(";".join(row) for row in rows))
    assert result.request is not None or result.rejected
