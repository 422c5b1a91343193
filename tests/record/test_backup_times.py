"""Backups while the site is served: when they are due, what stays, what administrators read."""

import subprocess
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from django.core.exceptions import ImproperlyConfigured

from sideport.app import backup_times
from sideport.app.backup_times import (
    BackupPlan,
    backup_plan,
    backup_words,
    last_backup,
    note_failed,
    note_made,
    run_when_due,
    start_backups,
)

NOW = datetime(2031, 3, 4, 22, 0, tzinfo=UTC)
DAY, HOUR = timedelta(days=1), timedelta(hours=1)


@pytest.fixture
def commands(monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """The commands that were run instead of real ones; each writes its file and its note, as the real one does."""
    seen: list[list[str]] = []

    def run(command: list[str], **_: object) -> "subprocess.CompletedProcess[str]":
        seen.append(command)
        file = Path(command[-1])
        file.write_bytes(b"sealed")
        note_made(Path(command[4]), datetime.strptime(file.name, "sideport-%Y%m%dT%H%M%SZ.backup").replace(tzinfo=UTC))
        return subprocess.CompletedProcess(command, 0, "", "")

    monkeypatch.setattr(subprocess, "run", run)
    return seen


def plan(folder: Path, keep: int = 3) -> BackupPlan:
    folder.mkdir(exist_ok=True)
    return BackupPlan(folder, DAY, keep)


def test_without_a_folder_none_are_made() -> None:
    assert backup_plan({}) is None


def test_the_settings_are_read(tmp_path: Path) -> None:
    found = backup_plan({
        "SIDEPORT_BACKUP_FOLDER": str(tmp_path), "SIDEPORT_BACKUP_KEYS": "age1a, age1b", "SIDEPORT_BACKUP_HOURS": "6",
        "SIDEPORT_BACKUP_KEEP": "30",
    })  # fmt: skip
    assert found == BackupPlan(tmp_path.resolve(), timedelta(hours=6), 30)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [({"SIDEPORT_BACKUP_FOLDER": "x"}, "backup-key FILE"), ({"SIDEPORT_BACKUP_HOURS": "0"}, "from 1"),
     ({"SIDEPORT_BACKUP_KEEP": "none"}, "from 1"), ({"SIDEPORT_BACKUP_HOURS": "1.5"}, "whole number")],
)  # fmt: skip
def test_a_setting_that_cannot_be_used_is_said(wrong: dict[str, str], words: str) -> None:
    with pytest.raises(ImproperlyConfigured, match=words):
        backup_plan(wrong)


def test_one_is_made_when_it_is_due_and_not_before(tmp_path: Path, commands: list[list[str]]) -> None:
    stick = plan(tmp_path / "stick")
    made = [run_when_due(data=tmp_path, plan=stick, now=NOW + number * 8 * HOUR) for number in range(7)]
    assert made == [True, False, False, True, False, False, True]
    assert len(commands) == 3


def test_the_newest_stay_and_strangers_files_are_left_alone(tmp_path: Path, commands: list[list[str]]) -> None:
    stick = plan(tmp_path / "stick", keep=2)
    for name in ("holiday.jpg", "sideport-monday.backup", "sideport-20300101T000000Z.backup.part"):
        (stick.folder / name).touch()
    for number in range(4):
        run_when_due(data=tmp_path, plan=stick, now=NOW + number * DAY)
    assert sorted(path.name for path in stick.folder.iterdir()) == [
        "holiday.jpg", "sideport-20310306T220000Z.backup", "sideport-20310307T220000Z.backup", "sideport-monday.backup",
    ]  # fmt: skip


def test_a_stick_that_is_not_there_is_said_and_tried_again_after_an_hour(
    tmp_path: Path, commands: list[list[str]]
) -> None:
    stick = BackupPlan(tmp_path / "stick", DAY, 3)
    assert not run_when_due(data=tmp_path, plan=stick, now=NOW)
    assert "Plug the stick in" in backup_words(data=tmp_path, plan=stick, now=NOW)
    stick.folder.mkdir()
    assert not run_when_due(data=tmp_path, plan=stick, now=NOW + HOUR / 2)
    assert run_when_due(data=tmp_path, plan=stick, now=NOW + HOUR)
    assert backup_words(data=tmp_path, plan=stick, now=NOW + HOUR) == ""


def test_a_command_that_fails_keeps_its_last_word(tmp_path: Path) -> None:
    stick = plan(tmp_path / "stick")
    missing = tmp_path / "gone"
    missing.mkdir()
    assert not run_when_due(data=missing, plan=stick, now=NOW)
    last = last_backup(missing)
    assert (last.made, last.failed) == (None, NOW)
    assert "backup-key FILE" in last.words


def test_administrators_are_told_what_is_wrong_and_nothing_otherwise(tmp_path: Path) -> None:
    stick = plan(tmp_path / "stick")

    def words(now: datetime) -> str:
        return backup_words(data=tmp_path, plan=stick, now=now)

    assert "No backup was made yet" in words(NOW)
    note_made(tmp_path, NOW)
    assert words(NOW + 2 * DAY) == ""
    assert "The last backup is of 04 March 2031" in words(NOW + 2 * DAY + HOUR)
    note_failed(tmp_path, NOW + DAY, "The disk is full.")
    assert "The disk is full." in words(NOW + DAY)
    assert last_backup(tmp_path).made == NOW
    assert backup_words(data=None, plan=None, now=NOW) == ""


@pytest.mark.parametrize("note", ["", "{", "[]", '{"made": 3, "failed": null, "words": ""}', '{"made": "yesterday"}'])
def test_a_damaged_note_counts_as_none(tmp_path: Path, note: str) -> None:
    (tmp_path / "backup.json").write_text(note)
    assert last_backup(tmp_path).made is None


def test_the_thread_goes_on_after_an_error_and_ends_when_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    looks: list[int] = []

    def look(**_: object) -> bool:
        looks.append(1)
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(backup_times, "LOOK_S", 0.01)
    monkeypatch.setattr(backup_times, "run_when_due", look)
    stop = start_backups(data=tmp_path, plan=plan(tmp_path / "stick"))
    until = time.monotonic() + 10
    while len(looks) < 3 and time.monotonic() < until:
        time.sleep(0.01)
    stop.set()
    assert len(looks) >= 3
    assert "No space left" in capsys.readouterr().err
