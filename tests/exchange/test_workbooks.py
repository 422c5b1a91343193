"""Workbooks as they leave spreadsheet programs, and workbooks made to harm."""

import io
import zipfile
from datetime import date
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from exchange.folders import workbook_of
from sideport.exchange import FolderRead, read_folder
from sideport.optics.side import Side

DAY: list[list[object]] = [["Setting", "Value"], ["Unit", "Test Unit"], ["Operating day", date(2026, 12, 1)]]
HEAD: list[object] = ["Patient no", "Name", "Age", "Eye", "AL"]


def rewritten(path: Path, part: str, content: bytes) -> None:
    """Replaces one part of a packed workbook."""
    with zipfile.ZipFile(path) as packed:
        parts = {name: packed.read(name) for name in packed.namelist()}
    assert part in parts
    parts[part] = content
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, data in parts.items():
            packed.writestr(name, data)


def worksheet(cells: str) -> bytes:
    space = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    return f'<worksheet xmlns="{space}"><sheetData>{cells}</sheetData></worksheet>'.encode()


def read_sheets(folder: Path, **sheets: list[list[object]]) -> FolderRead:
    workbook_of(folder / "unit.xlsx", {"day": DAY, **sheets})
    return read_folder(folder)


def test_one_workbook_with_a_sheet_a_table_reads(tmp_path: Path) -> None:
    result = read_sheets(tmp_path, register=[HEAD, ["P1", "আমিনা", 60, "R", 23.5], [102, "Bea", 61.0, "L", "23,4"]])
    assert result.rejected == ()
    assert result.request is not None
    assert [(person.person_id, person.age_years) for person in result.request.people] == [("P1", 60.0), ("102", 61.0)]
    assert result.request.settings.day == date(2026, 12, 1)


def test_dates_from_date_cells_text_and_serials_agree(tmp_path: Path) -> None:
    rows: list[list[object]] = [["Patient no", "Name", "Eye", "DOB"], ["P1", "A", "R", date(1960, 5, 4)],
            ["P2", "B", "R", "4/5/1960"], ["P3", "C", "R", 22040]]  # fmt: skip
    result = read_sheets(tmp_path, register=rows)
    assert result.request is not None
    assert [person.age_years for person in result.request.people] == [66.0, 66.0, 66.0]


def test_merged_headings_title_rows_and_merged_identities_read(tmp_path: Path) -> None:
    rows: list[list[object]] = [
        ["The list of Tuesday"], ["Patient", None, None, "Right eye", None, "Left eye", None, "Of both"],
        ["Patient no", "Name", "Eye", "AL", "K1", "AL", "K1", "Remarks"],
        ["P1", "Ana", "R", 23.1, 43, 24.2, 44, "one row"],
    ]  # fmt: skip
    workbook = workbook_of(tmp_path / "register.xlsx", {"Sheet1": rows})
    sheet = workbook["Sheet1"]
    for span in ("A1:H1", "A2:C2", "D2:E2", "F2:G2"):
        sheet.merge_cells(span)
    workbook.save(tmp_path / "register.xlsx")
    result = read_folder(tmp_path, day=date(2026, 12, 1))
    assert result.rejected == ()
    assert result.request is not None
    by_side = {eye.side: [reading.value for reading in eye.measurements] for eye in result.request.people[0].eyes}
    assert by_side == {Side.RIGHT: [23.1, 43.0], Side.LEFT: [24.2, 44.0]}


def test_an_identity_merged_over_two_rows_belongs_to_both(tmp_path: Path) -> None:
    rows: list[list[object]] = [HEAD, ["P1", "Ana", 60, "R", 23.5], [None, None, None, "L", 23.6]]
    workbook = workbook_of(tmp_path / "register.xlsx", {"Sheet1": rows})
    for span in ("A2:A3", "B2:B3", "C2:C3"):
        workbook["Sheet1"].merge_cells(span)
    workbook.save(tmp_path / "register.xlsx")
    result = read_folder(tmp_path, day=date(2026, 12, 1))
    assert result.request is not None
    assert {eye.side for eye in result.request.people[0].eyes} == {Side.RIGHT, Side.LEFT}


def test_a_formula_reads_as_its_stored_value_and_one_without_is_listed(tmp_path: Path) -> None:
    read_sheets(tmp_path, register=[HEAD, ["P1", "Ana", 60, "R", 23.5]])
    cells = "".join(
        f'<c r="{letter}1" t="inlineStr"><is><t>{text}</t></is></c>'
        for letter, text in zip("ABCDE", map(str, HEAD), strict=True)
    )
    words = "".join(
        f'<c r="{letter}2" t="inlineStr"><is><t>{text}</t></is></c>'
        for letter, text in zip("ABD", ("P1", "Ana", "R"), strict=True)
    )
    formulas = '<c r="C2"><f>50+10</f><v>60</v></c><c r="E2"><f>23+0.5</f><v></v></c>'
    rewritten(
        tmp_path / "unit.xlsx",
        "xl/worksheets/sheet2.xml",
        worksheet(f'<row r="1">{cells}</row><row r="2">{words}{formulas}</row>'),
    )
    result = read_folder(tmp_path)
    assert result.request is not None
    assert result.request.people[0].age_years == 60
    assert result.request.people[0].eyes[0].measurements == ()
    assert [(item.row, item.column) for item in result.rejected] == [(2, "E")]
    assert "never worked out" in result.rejected[0].why


@pytest.mark.parametrize(
    "cells",
    [
        '<row r="1"><c r="A1"><v>1</v></c></row><row r="1048576"><c r="XFD1048576"><v>2</v></c></row>',
        "<row r='1'><c r='A1'><v>1</v></c></row><row r='1048576'><c r='XFD1048576'><v>2</v></c></row>",
        '<row r="1"><c r="A1"><v>1</v></c></row><row r="1048576"><c s="0" r="XF&#68;1048576"><v>2</v></c></row>',
        '<row r="9999999"><c r="ZZZ9999999"><v>2</v></c></row>',
        '<row r="1">' + "<c/>" * 10_000 + '</row><row r="1048576"><c><v>1</v></c></row>',
    ],
)
def test_a_stray_cell_far_out_is_refused_before_it_takes_the_memory(tmp_path: Path, cells: str) -> None:
    read_sheets(tmp_path, register=[HEAD])
    rewritten(tmp_path / "unit.xlsx", "xl/worksheets/sheet2.xml", worksheet(cells))
    result = read_folder(tmp_path)
    assert result.request is None
    assert "so far down or right" in result.rejected[0].why


def test_a_bomb_is_refused_by_its_unpacked_size(tmp_path: Path) -> None:
    read_sheets(tmp_path, register=[HEAD])
    rewritten(tmp_path / "unit.xlsx", "xl/worksheets/sheet2.xml", b"<worksheet>" + b" " * 310_000_000)
    assert (tmp_path / "unit.xlsx").stat().st_size < 1_000_000
    assert "would unpack to 310 MB" in read_folder(tmp_path).rejected[0].why


def test_a_bomb_that_lies_about_its_size_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "unit.xlsx"
    read_sheets(tmp_path, register=[HEAD])
    rewritten(path, "xl/worksheets/sheet2.xml", worksheet("") + b" " * 1_000_000)
    with zipfile.ZipFile(path) as packed:
        size = packed.getinfo("xl/worksheets/sheet2.xml").file_size
    path.write_bytes(path.read_bytes().replace(size.to_bytes(4, "little"), (100).to_bytes(4, "little")))
    assert "damaged" in read_folder(tmp_path).rejected[0].why


def test_an_old_or_locked_workbook_says_how_to_save_it(tmp_path: Path) -> None:
    (tmp_path / "register.xls").write_bytes(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600)
    assert "saved again as XLSX" in read_folder(tmp_path).rejected[0].accepted


def open_document(rows: str) -> bytes:
    """A minimal ODS workbook with one sheet called register."""
    office, table, text = (f"urn:oasis:names:tc:opendocument:xmlns:{name}:1.0" for name in ("office", "table", "text"))
    content = (
        f'<office:document-content xmlns:office="{office}" xmlns:table="{table}" xmlns:text="{text}">'
        "<office:body>"
        f'<office:spreadsheet><table:table table:name="register">{rows}</table:table>'
        "</office:spreadsheet></office:body>"
        "</office:document-content>"
    )
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as packed:
        packed.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        packed.writestr("META-INF/manifest.xml", "<manifest/>")
        packed.writestr("content.xml", content)
    return stream.getvalue()


def text_cells(*words: str) -> str:
    return "".join(
        f'<table:table-cell office:value-type="string"><text:p>{word}</text:p></table:table-cell>' for word in words
    )


def test_an_open_document_reads(tmp_path: Path) -> None:
    rows = "".join(
        f"<table:table-row>{text_cells(*row)}</table:table-row>"
        for row in (("Patient no", "Name", "Eye"), ("P1", "Ana", "R"))
    )
    blank = '<table:table-cell table:number-columns-repeated="16000"/>'
    empty = f'<table:table-row table:number-rows-repeated="1048000">{blank}</table:table-row>'
    (tmp_path / "register.ods").write_bytes(open_document(rows + empty))
    result = read_folder(tmp_path, day=date(2026, 12, 1))
    assert result.request is not None
    assert result.request.people[0].name == "Ana"


def test_an_open_document_that_repeats_cells_without_end_is_refused(tmp_path: Path) -> None:
    cell = text_cells("x").replace("<table:table-cell", '<table:table-cell table:number-columns-repeated="16000"')
    rows = f'<table:table-row table:number-rows-repeated="1048000">{cell}</table:table-row>'
    (tmp_path / "register.ods").write_bytes(open_document(rows))
    assert "so far down or right" in read_folder(tmp_path).rejected[0].why


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=60)
@given(
    content=st.binary(max_size=300),
    name=st.sampled_from(["register.xlsx", "register.ods", "register.xlsm", "register.xls"]),
)
def test_any_bytes_as_a_workbook_give_findings(tmp_path: Path, content: bytes, name: str) -> None:
    for path in tmp_path.iterdir():
        path.unlink()
    (tmp_path / name).write_bytes(content)
    result = read_folder(tmp_path)
    assert result.request is None
    assert result.rejected


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The bytes of a workbook that reads."""
    path = tmp_path_factory.mktemp("sound") / "unit.xlsx"
    workbook_of(path, {"day": DAY, "register": [HEAD, ["P1", "Ana", 60, "R", 23.5]]})
    return path.read_bytes()


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=80)
@given(data=st.data())
def test_a_sound_workbook_with_any_part_changed_gives_rows_or_findings(
    tmp_path: Path, sound: bytes, data: st.DataObject
) -> None:
    """Changes inside the unpacked parts get past the sums of the packed file."""
    with zipfile.ZipFile(io.BytesIO(sound)) as packed:
        parts = {name: packed.read(name) for name in packed.namelist()}
    part = data.draw(st.sampled_from(sorted(parts)))
    where = data.draw(st.integers(0, len(parts[part])))
    gone = data.draw(st.integers(0, 40))
    parts[part] = parts[part][:where] + data.draw(st.binary(max_size=20)) + parts[part][where + gone :]
    with zipfile.ZipFile(tmp_path / "unit.xlsx", "w") as packed:
        for name, content in parts.items():
            packed.writestr(name, content)
    result = read_folder(tmp_path)
    assert result.request is not None or result.rejected
