"""Backups of this unit's database, proven by restoring them, and their restoring."""

import hashlib
import json
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, BinaryIO

from django.apps import apps
from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.management.color import no_style
from django.db import DEFAULT_DB_ALIAS, DatabaseError, connection, connections, models, transaction
from django.utils.connection import ConnectionDoesNotExist

from ... import __version__
from ...exchange.backup import (
    BackupError,
    BackupHeader,
    BackupTrailer,
    Row,
    backup_recipient,
    key_text,
    new_key,
    read_backup,
    write_backup,
)
from ...record.entry import Entry
from ..backup_times import note_made
from .device import this_device
from .models import Device, JournalEntry, Mention
from .project import PROJECTED, batches
from .services import own_device, rebuild

__all__ = ["BackupReport", "RestoreReport", "check_backup", "load_backup", "make_backup", "table_sums"]

LEFT_OUT = frozenset({"auth", "axes", "contenttypes", "sessions"})
"""Made by the program itself, or worth nothing on another day: who is signed in, who was refused."""
SNAPSHOT, SCRATCH, PART = "snapshot", ".backup-", ".part"
RESTORE = "from sideport.cli import main; main()"
CHUNK = 1000
ROUND = 1 << 256


Whole = tuple[BackupHeader, BackupTrailer]
"""What a backup says at its beginning and at its end."""


@dataclass(frozen=True, slots=True)
class BackupReport:
    """A backup that was made and proven."""

    file: Path
    size_bytes: int
    entries: int
    tables: int


@dataclass(frozen=True, slots=True)
class RestoreReport:
    """What was restored."""

    header: BackupHeader
    entries: int
    rows: int
    differing: tuple[str, ...]
    """Tables that this version of the program makes otherwise than the one that made the backup."""


def make_backup(*, file: Path, addresses: Iterable[str], now: datetime) -> BackupReport:
    """Writes a backup and proves it: the file is restored into a scratch database, which must come out the same.

    Parameters
    ----------
    file : Path
        Where it goes; it must not be there yet.
    addresses : iterable of str
        Addresses of the keys that are to open it; at least one.
    now : datetime
        The clock.

    Returns
    -------
    BackupReport

    Raises
    ------
    BackupError
        When it cannot be written or proven; no file is left then.

    Notes
    -----
    The scratch database needs three times the room of the database in the data folder. For the proof alone the file is
    also encrypted to a key that is thrown away with the scratch folder.
    """
    recipients = [backup_recipient(address) for address in addresses]
    if not recipients:
        raise BackupError("Say whose key opens the backup. Make a key first: sideport backup-key FILE")
    if file.exists():
        raise BackupError(f"{file} is there already; name another file.")
    part = file.with_name(file.name + PART)
    try:
        # What is not encrypted never leaves the data folder: the file may go to a stick.
        clear_scratch()
        with tempfile.TemporaryDirectory(prefix=SCRATCH, dir=settings.DATA) as scratch:
            work = Path(scratch)
            secret, address = new_key()
            with snapshot(work) as alias, part.open("wb") as out:
                trailer = write_from(out, alias, [*recipients, backup_recipient(address)], now)
                out.flush()
                os.fsync(out.fileno())
            prove(part, secret, work)
            put(part, file)
    except (OSError, sqlite3.Error, DatabaseError) as error:
        raise BackupError(f"The backup could not be written ({why(error)}). Nothing was left of it.") from None
    finally:
        part.unlink(missing_ok=True)
    size = file.stat().st_size
    if settings.DATA is not None:
        note_made(settings.DATA, now)
    return BackupReport(file, size, trailer.entries, len(trailer.tables))


def clear_scratch() -> None:
    """Removes what a backup left that was killed on another day."""
    yesterday = time.time() - 24 * 60 * 60
    for left in settings.DATA.glob(f"{SCRATCH}*") if settings.DATA else ():
        if left.stat().st_mtime < yesterday:
            shutil.rmtree(left, ignore_errors=True)


def why(error: Exception) -> str:
    """What the system said, without a row's content."""
    return (error.strerror if isinstance(error, OSError) else None) or type(error).__name__


def put(part: Path, file: Path) -> None:
    """Gives a finished file its name without ever replacing another."""
    try:
        os.link(part, file)
    except FileExistsError:
        raise BackupError(f"{file} is there already; name another file.") from None
    except OSError:
        # Sticks are often formatted so that no file can have two names.
        if file.exists():
            raise BackupError(f"{file} is there already; name another file.") from None
        part.rename(file)
    if os.name == "posix":
        folder = os.open(file.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


@contextmanager
def snapshot(work: Path) -> Iterator[str]:
    """The database as it is at one moment, under an alias; others go on writing."""
    known = connections.settings
    known[SNAPSHOT] = {**connection.settings_dict, "OPTIONS": dict(connection.settings_dict["OPTIONS"])}
    try:
        if connection.vendor == "sqlite":
            known[SNAPSHOT]["NAME"] = str(copied(work / "snapshot.sqlite3"))
            yield SNAPSHOT
        else:
            with transaction.atomic(using=SNAPSHOT):
                with connections[SNAPSHOT].cursor() as cursor:
                    cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
                yield SNAPSHOT
    finally:
        forget(SNAPSHOT)


def forget(alias: str) -> None:
    """Closes a connection and drops its alias."""
    try:
        connections[alias].close()
        del connections[alias]
    except (ConnectionDoesNotExist, AttributeError):
        pass
    connections.settings.pop(alias, None)


def copied(path: Path) -> Path:
    """A copy of the SQLite database, by its own means for copying one that is in use."""
    connection.ensure_connection()
    source: sqlite3.Connection = connection.connection
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    os.close(handle)
    with closing(sqlite3.connect(path)) as target:
        source.backup(target)
    return path


def write_from(out: BinaryIO, alias: str, recipients: list[Any], now: datetime) -> BackupTrailer:
    """Writes what a database holds."""
    device = this_device().device
    own = Device.objects.using(alias).filter(pk=device).first()
    header = BackupHeader(__version__, now.isoformat(), device, own.unit if own else "")
    sums = Sums()
    return write_backup(
        out=out, header=header, entries=entries_of(alias), rows=sums.counting(rows_of(alias)),
        tables=lambda: sums.known | table_sums(alias, PROJECTED), recipients=recipients,
    )  # fmt: skip


def entries_of(alias: str) -> Iterator[Entry]:
    """The whole journal, device by device."""
    for row in JournalEntry.objects.using(alias).order_by("device", "sequence").iterator(chunk_size=CHUNK):
        yield row.entry()


def kept_models() -> list[type[models.Model]]:
    """The tables that are neither the journal nor made from it."""
    made = {*PROJECTED, Mention, JournalEntry}
    return [
        model for model in apps.get_models()
        if model not in made and model._meta.app_label not in LEFT_OUT and model._meta.managed
    ]  # fmt: skip


def rows_of(alias: str) -> Iterator[Row]:
    """The rows of those tables."""
    for model in kept_models():
        for each in model._default_manager.using(alias).order_by("pk").iterator(chunk_size=CHUNK):
            yield Row(model._meta.label_lower, plain(each))


def plain(row: models.Model) -> dict[str, Any]:
    """A row's fields as JSON has them."""
    return {field.attname: plain_value(field, row) for field in row._meta.concrete_fields}


def plain_value(field: Any, row: models.Model) -> Any:
    """One field's value as JSON has it."""
    value = field.value_from_object(row)
    if value is None or isinstance(field, models.JSONField) or isinstance(value, (bool, int, float, str)):
        return value
    return field.value_to_string(row)


class Sums:
    """Counts rows and adds up their digests, so that their order does not matter."""

    def __init__(self) -> None:
        self.count: dict[str, int] = {}
        self.total: dict[str, int] = {}

    def add(self, table: str, fields: Mapping[str, Any]) -> None:
        """Takes a row."""
        text = json.dumps(fields, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
        digest = int.from_bytes(hashlib.sha256(text.encode()).digest(), "big")
        self.count[table] = self.count.get(table, 0) + 1
        self.total[table] = (self.total.get(table, 0) + digest) % ROUND

    def counting(self, rows: Iterable[Row]) -> Iterator[Row]:
        """Lets rows through and takes them."""
        for row in rows:
            # A restored database has a device more: its own.
            if row.table != Device._meta.label_lower:
                self.add(row.table, row.fields)
            yield row

    @property
    def known(self) -> dict[str, tuple[int, str]]:
        """By table, how many rows and their digest."""
        return {table: (count, f"{self.total[table]:064x}") for table, count in self.count.items()}


def table_sums(alias: str, tables: Iterable[type[models.Model]]) -> dict[str, tuple[int, str]]:
    """How many rows each table holds, and a digest of them that does not depend on their order."""
    sums = Sums()
    for model in tables:
        for row in model._default_manager.using(alias).iterator(chunk_size=CHUNK):
            sums.add(model._meta.label_lower, plain(row))
    return sums.known


def prove(part: Path, secret: str, work: Path) -> None:
    """Restores a backup into a scratch database in a process of its own, which compares what comes out.

    Raises
    ------
    BackupError
        When anything differs.
    """
    key = work / "key"
    key.touch(mode=0o600)
    key.write_bytes(key_text(secret=secret, passphrase=""))
    quiet = {name: value for name, value in os.environ.items() if not name.startswith(("SIDEPORT_", "DJANGO_"))}
    command = [sys.executable, "-c", RESTORE, "restore", str(part), "--to", str(work / "proof"), "--key", str(key),
               "--exactly"]  # fmt: skip
    done = subprocess.run(command, env=quiet, capture_output=True, text=True, check=False)  # noqa: S603
    if done.returncode != 0:
        said = (done.stderr.strip().splitlines() or ["it ended without a word"])[-1]
        raise BackupError(f"The backup was written but did not restore: {said} No file was left.")


def check_backup(*, file: Path, key: Any) -> Whole:
    """Reads a backup from end to end without writing anything.

    Parameters
    ----------
    file : Path
        The backup.
    key : x25519.Identity
        What opens it.

    Returns
    -------
    Whole

    Raises
    ------
    BackupError, JournalError
        When it cannot be restored.
    """
    with file.open("rb") as source:
        return read_backup(source=source, key=key, on_entry=lambda _: None, on_row=check_row)


def load_backup(*, file: Path, key: Any, whole: Whole, now: datetime, exactly: bool = False) -> RestoreReport:
    """Restores a checked backup into this process's database, which must be empty.

    Parameters
    ----------
    file, key
        As for `check_backup`.
    whole : Whole
        What `check_backup` gave.
    now : datetime
        The clock.
    exactly : bool
        Refuse tables that come out otherwise even when another version of the program made the backup.

    Returns
    -------
    RestoreReport

    Raises
    ------
    BackupError, JournalError
        When it cannot be restored; nothing was changed.

    Notes
    -----
    The restored folder is a new device: the old one may still be somewhere and write on under its own name.
    """
    refuse_used()
    header, trailer = whole
    loading = Loading()
    try:
        with file.open("rb") as source, transaction.atomic():
            if read_backup(source=source, key=key, on_entry=loading.entry, on_row=loading.row) != whole:
                raise BackupError("The backup was exchanged while it was read; restore it again.")
            loading.flush()
            settle_sequences()
            Device.objects.filter(pk=own_device(now=now).pk).update(unit=header.unit)
            rebuild()
            differing = compare(trailer)
            if differing and (exactly or header.program == __version__):
                raise BackupError(
                    f"Restored tables differ from those that were backed up: {', '.join(differing)}. On the computer "
                    "that made the backup run: sideport rebuild; then make it again."
                )
    except (DatabaseError, OverflowError, ValidationError) as error:
        raise BackupError(f"The database refused a row of the backup ({type(error).__name__}).") from None
    return RestoreReport(header, trailer.entries, loading.rows, differing)


def refuse_used() -> None:
    """Refuses a database that holds anything."""
    if JournalEntry.objects.exists() or any(model._default_manager.exists() for model in kept_models()):
        raise BackupError("The database holds something already. Restore into an empty one; nothing was changed.")


def compare(trailer: BackupTrailer) -> tuple[str, ...]:
    """The tables that came out otherwise than they were."""
    kept = [model for model in kept_models() if model is not Device]
    now = table_sums(DEFAULT_DB_ALIAS, [*kept, *PROJECTED])
    return tuple(
        sorted(name for name in now.keys() | trailer.tables.keys() if now.get(name) != trailer.tables.get(name))
    )


def check_row(row: Row) -> None:
    """Refuses a row that this program has no place for."""
    try:
        model = apps.get_model(row.table)
    except (LookupError, ValueError):
        model = None
    if model is None or not row.fields.keys() <= {field.attname for field in model._meta.concrete_fields}:
        raise BackupError("The backup holds what this program does not know; update the program.")
    if model not in kept_models():
        raise BackupError("The backup holds rows of a table that is not kept in backups; it was refused.")


class Loading:
    """Writes what a backup holds."""

    def __init__(self) -> None:
        self.waiting: list[models.Model] = []
        self.rows = 0

    def entry(self, entry: Entry) -> None:
        """Takes an entry."""
        self.take(JournalEntry.of(entry))

    def row(self, row: Row) -> None:
        """Takes a row."""
        self.rows += 1
        model = apps.get_model(row.table)
        known = {field.attname: field for field in model._meta.concrete_fields}
        try:
            self.take(model(**{name: known[name].to_python(value) for name, value in row.fields.items()}))
        except (LookupError, ValidationError, TypeError, ValueError):
            raise BackupError(f"A row of {row.table} cannot be read; it was refused.") from None

    def take(self, row: models.Model) -> None:
        """Lets a row wait for others of its table."""
        if self.waiting and (type(row) is not type(self.waiting[0]) or len(self.waiting) >= CHUNK):
            self.flush()
        self.waiting.append(row)

    def flush(self) -> None:
        """Writes what waits."""
        for batch in batches(self.waiting, CHUNK):
            type(batch[0])._default_manager.bulk_create(batch)
        self.waiting = []


def settle_sequences() -> None:
    """Lets new rows be numbered after those that were restored."""
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), kept_models()):
            cursor.execute(statement)
