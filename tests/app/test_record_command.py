"""``sideport bundle`` and ``sideport rebuild``: what a person types and is told."""

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from sideport.app.record.services import append
from sideport.cli import app
from sideport.eye.person import Person as PersonFacts
from sideport.record.kinds import Kind

from .laptops import Laptop, Laptops

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(scope="module")
def laptops(django_db_setup: None, django_db_blocker: Any, tmp_path_factory: Any) -> Iterator[Laptops]:
    with django_db_blocker.unblock():
        made = Laptops(tmp_path_factory.mktemp("laptops"))
        yield made
        made.close()


def sideport(laptop: Laptop, *arguments: object, code: int = 0) -> str:
    """Types a command on a laptop."""
    with laptop.here(), pytest.MonkeyPatch.context() as patch:
        patch.setenv("SIDEPORT_DATA", str(laptop.folder))
        done = CliRunner().invoke(app, [str(argument) for argument in arguments])
    assert done.exit_code == code, done.output
    return done.output


def test_a_bundle_goes_from_one_folder_to_another(laptops: Laptops, tmp_path: Path) -> None:
    ward, boat, stick = laptops.new(), laptops.new(), tmp_path / "day.bundle"
    with ward.here():
        append(kind=Kind.PERSON_REGISTERED, subject="person/1", payload=PersonFacts("1", "Rukmini", ()), actor="A",
               now=ward.now, unit="Quill Island Eye Unit")  # fmt: skip
    address = sideport(boat, "bundle", "key").split("Address ")[1].strip()
    assert "Wrote 1 entries" in sideport(ward, "bundle", "out", stick, "--to", address)
    assert b"Rukmini" not in stick.read_bytes()
    said = sideport(boat, "bundle", "in", stick, "--data", boat.folder)
    assert "1 entries were new, 0 were here already" in said
    assert "not known before" in said
    again = sideport(boat, "bundle", "in", stick)
    assert "0 entries were new, 1 were here already" in again
    assert "not known before" not in again
    assert "The journal is whole: 1 entries" in sideport(boat, "rebuild")


def test_what_cannot_be_done_is_said_with_what_to_do(laptops: Laptops, tmp_path: Path) -> None:
    ward, boat, stick = laptops.new(), laptops.new(), tmp_path / "day.bundle"
    address = sideport(boat, "bundle", "key").split("Address ")[1].strip()
    sideport(ward, "bundle", "out", stick, "--to", address, "--all")
    assert "there already" in sideport(ward, "bundle", "out", stick, "--to", address, code=2)
    assert "made for another device" in sideport(ward, "bundle", "in", stick, code=2)
    assert "No such file" in sideport(boat, "bundle", "in", tmp_path / "nothing", code=2)
    assert "age1" in sideport(ward, "bundle", "out", tmp_path / "other", "--to", "somebody", code=2)
    stick.write_bytes(stick.read_bytes()[:-9])
    assert "cut off" in sideport(boat, "bundle", "in", stick, code=2)
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == ["day.bundle"]


@pytest.mark.parametrize(
    ("arguments", "words"), [(["rebuild"], "--data FOLDER"), (["bundle", "key", "--data", "nowhere"], "not a folder")]
)
def test_without_a_data_folder_it_says_what_to_do(arguments: list[str], words: str) -> None:
    quiet = {key: value for key, value in os.environ.items() if not key.startswith(("SIDEPORT", "DJANGO"))}
    command = [sys.executable, "-c", "from sideport.cli import main; main()", *arguments]
    done = subprocess.run(command, env=quiet, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert words in done.stderr
    assert "Traceback" not in done.stderr
