"""Backups at their times while the site is served: when one is due, how many stay, and what administrators are told."""

import json
import subprocess
import sys
import threading
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured

__all__ = [
    "FOLDER_VARIABLE", "HOURS_VARIABLE", "KEEP_VARIABLE", "KEYS_VARIABLE", "BackupPlan", "LastBackup", "backup_keys",
    "backup_plan", "backup_words", "last_backup", "note_failed", "note_made", "run_when_due", "start_backups",
]  # fmt: skip

FOLDER_VARIABLE = "SIDEPORT_BACKUP_FOLDER"
KEYS_VARIABLE = "SIDEPORT_BACKUP_KEYS"
HOURS_VARIABLE = "SIDEPORT_BACKUP_HOURS"
KEEP_VARIABLE = "SIDEPORT_BACKUP_KEEP"
HOURS, KEEP = 24, 14
LONGEST_HOURS, MOST_KEPT = 24 * 31, 1000
STATE_FILE = "backup.json"
NAME, SUFFIX = "sideport-", ".backup"
LATE = 2
"""A backup older than so many times the time between two is worth a word."""
LOOK_S = 60.0
AGAIN = timedelta(hours=1)
"""How long after one that failed the next is tried."""
COMMAND = "from sideport.cli import main; main()"


@dataclass(frozen=True, slots=True)
class BackupPlan:
    """Where backups go while the site is served, how often, and how many stay."""

    folder: Path
    every: timedelta
    keep: int


@dataclass(frozen=True, slots=True)
class LastBackup:
    """How the last backups went."""

    made: datetime | None = None
    failed: datetime | None = None
    """When the newest try failed; ``None`` when it did not."""
    words: str = ""
    """Why."""


def backup_keys(environ: Mapping[str, str]) -> list[str]:
    """The addresses of the keys that open the backups."""
    return [each.strip() for each in environ.get(KEYS_VARIABLE, "").split(",") if each.strip()]


def backup_plan(environ: Mapping[str, str]) -> BackupPlan | None:
    """The times of backups, or ``None`` when none are made while the site is served.

    Raises
    ------
    ImproperlyConfigured
        When a folder is named but no key, or a number cannot be used.
    """
    every = timedelta(hours=whole(environ, HOURS_VARIABLE, HOURS, LONGEST_HOURS))
    keep = whole(environ, KEEP_VARIABLE, KEEP, MOST_KEPT)
    written = environ.get(FOLDER_VARIABLE, "").strip()
    if not written:
        return None
    if not backup_keys(environ):
        raise ImproperlyConfigured(
            f"{FOLDER_VARIABLE} is set but {KEYS_VARIABLE} is not. Make a key with: sideport backup-key FILE; "
            f"then put the address that it prints into {KEYS_VARIABLE}."
        )
    return BackupPlan(Path(written).expanduser().resolve(), every, keep)


def whole(environ: Mapping[str, str], name: str, otherwise: int, most: int) -> int:
    """A whole number from 1 on."""
    written = environ.get(name, "").strip() or str(otherwise)
    if not written.isascii() or not written.isdigit() or not 1 <= int(written) <= most:
        raise ImproperlyConfigured(f"{name} is {written!r}; write a whole number from 1 to {most}.")
    return int(written)


def last_backup(data: Path) -> LastBackup:
    """How the last backups of a data folder went; a note that cannot be read counts as none."""
    try:
        value = json.loads((data / STATE_FILE).read_text(encoding="utf-8"))
        times = {name: datetime.fromisoformat(value[name]) if value[name] else None for name in ("made", "failed")}
        return LastBackup(**times, words=str(value["words"]))
    except (OSError, ValueError, LookupError, TypeError):
        return LastBackup()


def note_made(data: Path, now: datetime) -> None:
    """Notes a backup that was made and proven."""
    note(data, LastBackup(made=now))


def note_failed(data: Path, now: datetime, words: str) -> None:
    """Notes a backup that failed, and why."""
    note(data, LastBackup(last_backup(data).made, now, words))


def note(data: Path, last: LastBackup) -> None:
    """Writes the note in place of the one before."""
    value = {"made": last.made and last.made.isoformat(), "failed": last.failed and last.failed.isoformat(),
             "words": last.words}  # fmt: skip
    part = data / f"{STATE_FILE}.part"
    part.write_text(json.dumps(value), encoding="utf-8")
    part.replace(data / STATE_FILE)


def backup_words(*, data: Path | None, plan: BackupPlan | None, now: datetime) -> str:
    """What an administrator is told; empty when the last backup is young and the newest try went well."""
    if data is None:
        return ""
    last = last_backup(data)
    every = plan.every if plan else timedelta(hours=HOURS)
    if last.failed is not None:
        return f"The backup of {last.failed:%d %B, %H:%M} UTC failed: {last.words}"
    if last.made is None:
        return "No backup was made yet. If this computer breaks, everything in it is lost."
    if now - last.made > LATE * every:
        return f"The last backup is of {last.made:%d %B %Y}. Make one today."
    return ""


def is_due(plan: BackupPlan, last: LastBackup, now: datetime) -> bool:
    """Whether a backup is due."""
    if last.failed is not None and timedelta(0) <= now - last.failed < min(AGAIN, plan.every):
        return False
    # A time that lies ahead was noted by a clock that was wrong.
    return last.made is None or not timedelta(0) <= now - last.made < plan.every


def run_when_due(*, data: Path, plan: BackupPlan, now: datetime) -> bool:
    """Makes a backup if one is due, in a process of its own; true when one was made."""
    if not is_due(plan, last_backup(data), now):
        return False
    if not plan.folder.is_dir():
        note_failed(data, now, f"{plan.folder} is not there. Plug the stick in, or make the folder.")
        return False
    file = plan.folder / f"{NAME}{now:%Y%m%dT%H%M%SZ}{SUFFIX}"
    command = [sys.executable, "-c", COMMAND, "backup", str(data), "--to", str(file)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)  # noqa: S603
    if done.returncode != 0:
        note_failed(data, now, (done.stderr.strip().splitlines() or ["it was ended"])[-1])
        return False
    remove_old(plan)
    return True


def remove_old(plan: BackupPlan) -> None:
    """Removes all but the newest backups that were made here, and halves that a killed one left; other files stay."""
    stamped = [path for path in plan.folder.glob(f"{NAME}*{SUFFIX}") if is_stamped(path)]
    parts = [part for part in plan.folder.glob(f"{NAME}*{SUFFIX}.part") if is_stamped(part.with_suffix(""))]
    for path in (*sorted(stamped)[: -plan.keep], *parts):
        path.unlink(missing_ok=True)


def is_stamped(path: Path) -> bool:
    """Whether a file's name is one that this module gives."""
    try:
        datetime.strptime(path.name, f"{NAME}%Y%m%dT%H%M%SZ{SUFFIX}").replace(tzinfo=UTC)
    except ValueError:
        return False
    return True


def start_backups(*, data: Path, plan: BackupPlan) -> threading.Event:
    """Looks every minute whether a backup is due, until the event is set; a thread that never holds the program up."""
    stop = threading.Event()

    def look() -> None:
        while not stop.wait(LOOK_S):
            try:
                run_when_due(data=data, plan=plan, now=datetime.now(UTC))
            except OSError as error:
                print(f"Backup: {error.strerror}", file=sys.stderr, flush=True)  # noqa: T201

    threading.Thread(target=look, name="backups", daemon=True).start()
    return stop
