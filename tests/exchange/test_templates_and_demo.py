"""The empty workbook, the invented unit and the reference pages."""

from pathlib import Path

import pytest
from openpyxl import load_workbook

from sideport.exchange import inputs_sha256, read_folder, write_demo, write_templates
from sideport.exchange.catalogue import tables
from sideport.exchange.reference import columns_markdown, plan_format_markdown
from sideport.eye.measurement import Quantity
from sideport.eye.person import Cataract, Person
from sideport.optics.side import Side

DOCS = Path(__file__).parents[2] / "docs"


def test_the_empty_workbook_reads_whole_as_it_stands(tmp_path: Path) -> None:
    write_templates(tmp_path / "new")
    result = read_folder(tmp_path / "new")
    assert result.rejected == ()
    assert result.notes == ()
    assert result.request is not None
    assert len(result.request.people) == len(result.request.boxes) == len(result.request.team) == 1
    assert result.request.settings.unit == "Our Eye Unit"


def test_every_column_is_explained(tmp_path: Path) -> None:
    (path,) = write_templates(tmp_path)
    explained = {(row[0].value, row[1].value) for row in load_workbook(path)["Explain"].iter_rows(min_row=2)}
    assert explained >= {(spec.table.value, column.heading) for spec in tables().values() for column in spec.columns}


def test_nothing_is_ever_written_over(tmp_path: Path) -> None:
    write_templates(tmp_path)
    before = (tmp_path / "unit.xlsx").read_bytes()
    with pytest.raises(FileExistsError, match="empty folder"):
        write_templates(tmp_path)
    assert (tmp_path / "unit.xlsx").read_bytes() == before
    write_demo(tmp_path / "demo")
    with pytest.raises(FileExistsError, match="empty folder"):
        write_demo(tmp_path / "demo")


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo")
    write_demo(folder)
    return folder


def test_the_demo_unit_is_the_same_each_time(demo: Path, tmp_path: Path) -> None:
    write_demo(tmp_path)
    assert inputs_sha256(tmp_path) == inputs_sha256(demo)


def person(demo: Path, number: str) -> Person:
    request = read_folder(demo).request
    assert request is not None
    return next(found for found in request.people if found.person_id == number)


def lengths(found: Person, side: Side) -> list[float]:
    eye = found.eye(side)
    assert eye is not None
    return [reading.value for reading in eye.measurements if reading.quantity is Quantity.AXIAL_LENGTH]


def test_the_demo_day_holds_what_real_days_hold(demo: Path) -> None:
    result = read_folder(demo)
    assert result.request is not None
    request = result.request
    listed = [(found, eye) for found in request.people for eye in found.eyes if eye.listed]
    assert len(listed) == 25
    assert request.settings.day.strftime("%A") == "Tuesday"
    assert sum(surgeon.cases_wanted for surgeon in request.team) == 2
    words = [item.why for item in result.rejected]
    assert any("centimetres" in word for word in words)
    assert any("which eye" in word for word in words)
    assert len(words) == 2, words
    assert any(found.only_eye for found, _ in listed)
    assert any(eye.cataract is Cataract.HYPERMATURE and eye.fibrosed_capsule for _, eye in listed)
    for flag in ("alpha_blocker", "diabetic", "blood_borne_infection", "cannot_lie_flat", "anticoagulant"):
        assert any(getattr(found, flag) for found, _ in listed), flag
    assert any(eye.infected for _, eye in listed)
    days_left = [(box.expires - request.settings.day).days for box in request.boxes if box.expires]
    assert any(days < 0 for days in days_left)
    assert any(0 <= days < 60 for days in days_left)


def test_the_demo_names_come_in_three_scripts(demo: Path) -> None:
    request = read_folder(demo).request
    assert request is not None
    names = "".join(found.name for found in request.people)
    assert any("a" <= letter <= "z" for letter in names)
    assert any("\u0980" <= letter <= "\u09ff" for letter in names)
    assert any("\u0900" <= letter <= "\u097f" for letter in names)


def test_the_demo_biometry_holds_its_slips(demo: Path) -> None:
    """Eyes exchanged, one reading far too short, one eye without a length, one eye beyond the shelf."""
    swapped = person(demo, "QI-107")
    assert min(lengths(swapped, Side.RIGHT)) - min(lengths(swapped, Side.LEFT)) > 2
    assert max(lengths(swapped, Side.LEFT)) > 25, "the optical reading contradicts the contact ones"
    short = person(demo, "QI-108")
    assert max(lengths(short, Side.RIGHT)) < min(lengths(short, Side.LEFT)) - 1
    assert lengths(person(demo, "QI-111"), Side.RIGHT) == []
    assert lengths(person(demo, "QI-111"), Side.LEFT)
    assert min(lengths(person(demo, "QI-109"), Side.LEFT)) > 28


@pytest.mark.parametrize(
    ("page", "made"), [("reference/columns.md", columns_markdown), ("plan-format.md", plan_format_markdown)]
)
def test_the_reference_pages_are_what_the_program_says(page: str, made: object) -> None:
    assert callable(made)
    again = "run sideport.exchange.reference.write_reference(Path('docs'))"
    assert (DOCS / page).read_text(encoding="utf-8") == made(), again
