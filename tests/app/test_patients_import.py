"""Files through the browser: good rows go in, the others stay listed, and hostile ones change nothing."""

import io
import zipfile
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from sideport.app.limits import MOST_SENT
from sideport.app.patients.models import FolderImport
from sideport.app.people.roles import Role
from sideport.app.record.models import Box, JournalEntry, Person, Task
from sideport.exchange import write_demo

from .cast import OTHER_UNIT, as_role
from .register import TANSY, on_register

pytestmark = pytest.mark.django_db

REGISTER = (
    "Patient number,Name,Age,Sex,Eye,Cataract,Acuity,AL (mm)\n"
    'QR-1,Tansy Weir,61,F,R,white,HM,"23,1"\n'
    "QR-2,শিউলি খাল,70,F,L,brown,=CMD(1),2.35\n"
    "QR-3,No Side,50,M,,white,6/60,23.0\n"
)
DAY = "Setting,Value\nUnit,Quill Island Eye Unit\nOperating day,2031-03-04\n"


def sheet(name: str, text: str | bytes) -> SimpleUploadedFile:
    return SimpleUploadedFile(name, text.encode() if isinstance(text, str) else text)


def sent(client: Client, *files: SimpleUploadedFile, **cells: str) -> str:
    response = client.post(reverse("import"), {"sheets": list(files), **cells}, follow=True)
    assert response.status_code == 200
    return response.content.decode()


def test_good_rows_go_in_and_the_others_are_listed_with_what_would_be_accepted(client: Client) -> None:
    page = sent(client, sheet("register.csv", REGISTER), sheet("day.csv", DAY))
    assert set(Person.objects.values_list("person_id", flat=True)) == {"QR-1", "QR-2"}
    for said in ("looks like centimetres", "R or L", "register.csv", "is not an acuity", "Go to Tuesday 4 March 2031"):
        assert said in page
    row = FolderImport.objects.get()
    assert len(row.rejected) == 3
    assert row.open


def test_what_was_set_aside_is_a_file_in_which_nothing_runs(client: Client) -> None:
    sent(client, sheet("register.csv", REGISTER), sheet("day.csv", DAY))
    response = client.get(reverse("brought-csv", args=[FolderImport.objects.get().pk]))
    text = response.content.decode("utf-8-sig")
    assert "'=CMD(1)" in text
    assert ",=CMD" not in text


def test_what_was_set_aside_stays_listed_until_a_person_says_that_it_is_mended(client: Client) -> None:
    sent(client, sheet("register.csv", REGISTER), sheet("day.csv", DAY))
    row = FolderImport.objects.get()
    assert reverse("brought", args=[row.pk]) in client.get(reverse("tasks")).content.decode()
    client.post(reverse("mended", args=[row.pk]))
    row.refresh_from_db()
    assert row.closed_by == "Wren Hollis"
    assert reverse("brought", args=[row.pk]) not in client.get(reverse("tasks")).content.decode()


def test_the_same_files_twice_add_nothing(client: Client) -> None:
    for _ in range(2):
        sent(client, sheet("register.csv", REGISTER), sheet("day.csv", DAY))
    entries = JournalEntry.objects.count()
    page = sent(client, sheet("register.csv", REGISTER), sheet("day.csv", DAY))
    assert "it was there already" in page
    assert JournalEntry.objects.count() == entries


def test_the_day_may_be_typed_where_no_sheet_names_it(client: Client) -> None:
    assert "the operating day is not known" in sent(client, sheet("register.csv", REGISTER))
    assert not Person.objects.exists()
    sent(client, sheet("register.csv", REGISTER), day="4 March 2031")
    assert Person.objects.count() == 2


def test_people_who_look_like_others_on_the_register_become_questions(client: Client) -> None:
    on_register(TANSY.__class__("OLD-9", "Weir, Tansy", (), age_years=60.0))
    sent(client, sheet("register.csv", REGISTER), sheet("day.csv", DAY))
    assert [task.code for task in Task.objects.all()] == ["maybe-same-person"]


def test_the_invented_unit_reads_in_whole(client: Client, tmp_path: Path) -> None:
    write_demo(tmp_path / "unit")
    files = [sheet(path.name, path.read_bytes()) for path in sorted((tmp_path / "unit").iterdir())]
    sent(client, *files)
    assert Person.objects.count() > 10
    assert Box.objects.count() > 10


def test_the_files_of_another_unit_are_refused_whole() -> None:
    stranger = as_role(Role.LEAD_SURGEON, unit=OTHER_UNIT)
    page = sent(stranger, sheet("register.csv", REGISTER), sheet("day.csv", DAY))
    assert "Nothing was taken" in page
    assert not JournalEntry.objects.exists()
    assert not FolderImport.objects.exists()


def bomb() -> bytes:
    """A workbook of a few kilobytes that would unpack to gigabytes."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as file:
        file.writestr("xl/worksheets/sheet1.xml", b"0" * 350_000_000)
    return packed.getvalue()


@pytest.mark.parametrize(
    ("name", "content"),
    [("register.xlsx", b"PK\x03\x04 not a workbook"), ("register.csv", bytes(range(256)) * 40),
     ("register.csv", b'"' + b"a\n" * 5000), ("picture.png", b"\x89PNG"), ("../../register.csv", b"\0\0\0\0"),
     ("register.csv", b"\n")],
)  # fmt: skip
def test_hostile_files_change_nothing_and_say_so(client: Client, name: str, content: bytes) -> None:
    page = sent(client, sheet(name, content))
    assert "Written into the record" in page or "Mend this" in page
    assert not JournalEntry.objects.exists()


def test_a_workbook_that_would_fill_the_memory_is_not_opened(client: Client) -> None:
    page = sent(client, sheet("register.xlsx", bomb()))
    assert "would unpack to 350 MB" in page
    assert not JournalEntry.objects.exists()


def test_two_files_of_one_name_are_refused(client: Client) -> None:
    page = sent(client, sheet("register.csv", REGISTER), sheet("register.csv", DAY))
    assert "Two files are named register.csv" in page
    assert not JournalEntry.objects.exists()


def test_a_gigabyte_is_refused_before_a_byte_of_it_is_read(client: Client) -> None:
    class Untouched(io.BytesIO):
        def read(self, *args: int) -> bytes:
            raise AssertionError("the body was read")

    response = client.generic("POST", reverse("import"), b"", CONTENT_LENGTH=str(10**9), **{"wsgi.input": Untouched()})
    assert response.status_code == 413
    assert f"{MOST_SENT // 1_000_000} MB" in response.content.decode()
    assert not JournalEntry.objects.exists()
