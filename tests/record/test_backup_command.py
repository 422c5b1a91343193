"""``sideport backup`` and ``restore`` as a person types them, with full disks, kills and damaged files."""

import json
import os
import resource
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest

from sideport.exchange.backup import key_text, new_key

from .backups import ADDRESS, AGAIN, APPEND, COMMAND, QUIET, SECRET, UNIT_OF, python, sideport


@pytest.fixture(scope="module")
def data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder with a journal, a plan, a sheet and an account."""
    folder = tmp_path_factory.mktemp("data")
    done = python(UNIT_OF, folder)
    assert done.returncode == 0, done.stderr
    return folder


@pytest.fixture(scope="module")
def key(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The key's file."""
    file = tmp_path_factory.mktemp("stick") / "key"
    file.write_bytes(key_text(secret=SECRET, passphrase=""))
    return file


@pytest.fixture(scope="module")
def made(data: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A backup of the folder."""
    file = tmp_path_factory.mktemp("made") / "monday.backup"
    assert "came out the same" in sideport("backup", data, "--to", file, "--for", ADDRESS)
    return file


def tables(folder: Path) -> dict[str, list[tuple[object, ...]]]:
    """Every row of every table, but for what belongs to one computer and one day."""
    passing = ("django_", "auth_", "sqlite_", "axes_", "record_device")
    with closing(sqlite3.connect(folder / "sideport.sqlite3")) as database:
        names = [row[0] for row in database.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return {name: sorted(database.execute(f"SELECT * FROM {name}"), key=repr)
                for name in names if not name.startswith(passing)}  # fmt: skip


def test_what_is_restored_is_what_was_there(data: Path, made: Path, key: Path, tmp_path: Path) -> None:
    said = sideport("restore", made, "--to", tmp_path / "new", "--key", key)
    assert "Quill Island Eye Unit" in said
    before, after = tables(data), tables(tmp_path / "new")
    assert len(before["record_person"]) == 30
    assert len(before["planning_storedsheet"]) == 1
    assert after == before
    assert python(AGAIN, tmp_path / "new").stdout.strip() == "True"


def test_the_restored_folder_is_a_new_device_of_the_same_unit(
    data: Path, made: Path, key: Path, tmp_path: Path
) -> None:
    sideport("restore", made, "--to", tmp_path / "new", "--key", key)
    assert (tmp_path / "new" / "device.key").read_text() != (data / "device.key").read_text()
    with closing(sqlite3.connect(tmp_path / "new" / "sideport.sqlite3")) as database:
        rows = database.execute("SELECT unit, sequence FROM record_device ORDER BY sequence").fetchall()
    assert rows == [("Quill Island Eye Unit", 0), ("Quill Island Eye Unit", 61)]
    done = python(APPEND.replace("5000", "101"), tmp_path / "new")
    assert "full" not in done.stdout


def test_a_folder_or_file_that_is_there_is_never_overwritten(data: Path, made: Path, key: Path, tmp_path: Path) -> None:
    (tmp_path / "there").mkdir()
    assert "is there already" in sideport("restore", made, "--to", tmp_path / "there", "--key", key, code=2)
    assert list((tmp_path / "there").iterdir()) == []
    before = made.read_bytes()
    assert "is there already" in sideport("backup", data, "--to", made, "--for", ADDRESS, code=2)
    assert made.read_bytes() == before


@pytest.mark.parametrize(
    ("harm", "words"),
    [(lambda whole: whole[: len(whole) // 2], "cut off"), (lambda whole: whole[:20], "not a backup"),
     (lambda whole: whole[:4000] + bytes([whole[4000] ^ 1]) + whole[4001:], "changed"),
     (lambda _: b"", "not a backup")],
    ids=["half", "beginning", "altered", "empty"],
)  # fmt: skip
def test_a_damaged_backup_is_refused_and_leaves_nothing(
    harm: object, words: str, made: Path, key: Path, tmp_path: Path
) -> None:
    bad = tmp_path / "bad"
    bad.write_bytes(harm(made.read_bytes()))  # type: ignore[operator]
    assert words in sideport("restore", bad, "--to", tmp_path / "new", "--key", key, code=2)
    assert [path.name for path in tmp_path.iterdir()] == ["bad"]


def test_a_wrong_key_is_refused_and_leaves_nothing(made: Path, tmp_path: Path) -> None:
    wrong = tmp_path / "wrong"
    wrong.write_bytes(key_text(secret=new_key()[0], passphrase=""))
    assert "does not open the backup" in sideport("restore", made, "--to", tmp_path / "new", "--key", wrong, code=2)
    assert [path.name for path in tmp_path.iterdir()] == ["wrong"]


def small_files() -> None:
    """Lets no file grow beyond 100 kB, as a full disk would."""
    resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))


def test_a_full_disk_leaves_no_backup_and_no_harm(data: Path, tmp_path: Path) -> None:
    before = tables(data)
    said = sideport("backup", data, "--to", tmp_path / "b", "--for", ADDRESS, code=2, preexec_fn=small_files)
    assert "could not be written" in said or "did not restore" in said
    assert list(tmp_path.iterdir()) == []
    assert not list(data.glob(".backup-*"))
    assert tables(data) == before


def test_a_restore_onto_a_full_disk_leaves_nothing(made: Path, key: Path, tmp_path: Path) -> None:
    sideport("restore", made, "--to", tmp_path / "new", "--key", key, code=2, preexec_fn=small_files)
    assert list(tmp_path.iterdir()) == []


def test_a_disk_that_fills_while_writing_loses_no_acknowledged_entry(tmp_path: Path) -> None:
    assert python(UNIT_OF, tmp_path).returncode == 0
    size = (tmp_path / "sideport.sqlite3").stat().st_size + 600_000

    def almost_full() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))

    lines = python(APPEND, tmp_path, preexec_fn=almost_full).stdout.split("\n")
    acknowledged = [line for line in lines if line and not line.startswith("full")]
    assert len(acknowledged) >= 10
    assert any(line.startswith("full") for line in lines), "the disk never filled"
    assert python(AGAIN, tmp_path).stdout.strip() == "True"
    with closing(sqlite3.connect(tmp_path / "sideport.sqlite3")) as database:
        there = {row[0] for row in database.execute("SELECT entry_id FROM record_journalentry")}
    assert set(acknowledged) <= there


@pytest.mark.parametrize("after_s", [1.5, 3.0, 4.5])
def test_a_killed_backup_leaves_no_file_of_its_name_and_no_harm(after_s: float, data: Path, tmp_path: Path) -> None:
    before = tables(data)
    command = [sys.executable, "-c", COMMAND, "backup", str(data), "--to", str(tmp_path / "b"), "--for", ADDRESS]
    with subprocess.Popen(
        command, env=QUIET, stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True
    ) as one:
        time.sleep(after_s)
        os.killpg(one.pid, signal.SIGKILL)
    if (tmp_path / "b").exists():
        pytest.skip("the backup was quicker")
    assert tables(data) == before
    assert "came out the same" in sideport("backup", data, "--to", tmp_path / "b", "--for", ADDRESS)


def test_a_backup_of_tables_that_differ_from_the_journal_says_what_to_do(data: Path, tmp_path: Path) -> None:
    folder = tmp_path / "folder"
    folder.mkdir()
    with closing(sqlite3.connect(data / "sideport.sqlite3")) as database, \
            closing(sqlite3.connect(folder / "sideport.sqlite3")) as copy:  # fmt: skip
        database.backup(copy)
        copy.execute("UPDATE record_person SET name = 'Somebody' WHERE person_id = '7'")
        copy.commit()
    said = sideport("backup", folder, "--to", tmp_path / "b", "--for", ADDRESS, code=2)
    assert "record.person" in said
    assert "sideport rebuild" in said
    assert not (tmp_path / "b").exists()
    sideport("rebuild", "--data", folder)
    sideport("backup", folder, "--to", tmp_path / "b", "--for", ADDRESS)


def test_without_a_key_it_says_how_to_make_one(data: Path, tmp_path: Path) -> None:
    assert "backup-key FILE" in sideport("backup", data, "--to", tmp_path / "b", code=2)


def test_a_key_is_made_once_and_opens_with_its_passphrase(data: Path, tmp_path: Path) -> None:
    typed = "ten herons over the mud\n"
    said = sideport("backup-key", tmp_path / "key", input=typed * 2)
    address = next(word for word in said.split() if word.startswith("age1"))
    assert (tmp_path / "key").stat().st_mode & 0o077 == 0
    assert "is there already" in sideport("backup-key", tmp_path / "key", "--plain", code=2)
    sideport("backup", data, "--to", tmp_path / "b", "--for", address, "--for", ADDRESS)
    sideport("restore", tmp_path / "b", "--to", tmp_path / "new", "--key", tmp_path / "key", input=typed)
    assert json.loads((data / "backup.json").read_text())["failed"] is None
