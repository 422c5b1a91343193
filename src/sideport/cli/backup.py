"""``sideport backup``, ``restore`` and ``backup-key``."""

import os
import shutil
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from ..errors import SideportError
from .record import DONE, in_database, refuse

if TYPE_CHECKING:
    from ..app.record.backups import BackupReport, RestoreReport

__all__ = ["back_up", "make_key", "restore_into"]


def make_key(file: Path, *, plain: bool) -> int:
    """Makes a backup's key and prints its address; returns the exit code."""
    from ..exchange.backup import key_text, new_key

    passphrase = "" if plain else typer.prompt("Passphrase for the key", hide_input=True, confirmation_prompt=True)
    secret, address = new_key()
    try:
        handle = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        refuse(FileExistsError(f"{file} is there already; name another file. A lost key opens no backup."))
    except OSError as error:
        refuse(error)
    with os.fdopen(handle, "wb") as out:
        out.write(key_text(secret=secret, passphrase=passphrase))
        out.flush()
        os.fsync(out.fileno())
    typer.echo(f"Address {address}")
    typer.echo(f"Keep {file} away from this computer, on two sticks. Without it no backup opens.")
    return DONE


def back_up(data: Path | None, file: Path, addresses: list[str]) -> int:
    """Makes a backup of a data folder and proves it; returns the exit code."""

    def work() -> "BackupReport":
        from django.conf import settings

        from ..app.record.backups import make_backup

        return make_backup(file=file, addresses=addresses or settings.BACKUP_KEYS, now=datetime.now(UTC))

    if data is not None and not data.is_dir():
        refuse(SideportError(f"{data} is not a folder. Name the one that you serve."))
    report = in_database(data, work)
    typer.echo(f"Wrote {report.entries} entries to {report.file} ({report.size_bytes / 1e6:.1f} MB). It was restored "
               "into a scratch database, which came out the same.")  # fmt: skip
    return DONE


def restore_into(file: Path, data: Path, key: Path, *, exactly: bool) -> int:
    """Restores a backup into a new data folder; returns the exit code."""
    from ..exchange.backup import read_key

    if data.exists():
        refuse(
            FileExistsError(f"{data} is there already. A backup is restored into a new folder; nothing was changed.")
        )
    part: Path | None = None
    try:
        opener = read_key(text=key.read_bytes(), passphrase=lambda: str(typer.prompt("Passphrase", hide_input=True)))
        part = Path(tempfile.mkdtemp(prefix=".restore-", dir=data.resolve().parent))
        report = load(file, part, opener, exactly=exactly)
        part.rename(data)
    except (SideportError, OSError) as error:
        refuse(error)
    finally:
        if part is not None:
            shutil.rmtree(part, ignore_errors=True)
    header = report.header
    typer.echo(f"Restored what {header.unit or 'a device without a unit'} had on {header.made[:16]} UTC into {data}: "
               f"{report.entries} entries, {report.rows} other rows.")  # fmt: skip
    typer.echo("This folder is a new device: exchange bundles with its own address. Everybody signs in again.")
    if report.differing:
        typer.echo(f"Another version of the program ({header.program}) made these tables otherwise, which is no loss: "
                   f"{', '.join(report.differing)}")  # fmt: skip
    return DONE


def load(file: Path, part: Path, opener: object, *, exactly: bool) -> "RestoreReport":
    """Restores into a folder that nobody sees yet."""
    from ..app.environment import DATA_VARIABLE

    os.environ[DATA_VARIABLE] = str(part)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "sideport.app.settings")
    import django
    from django.core.exceptions import ImproperlyConfigured
    from django.core.management import call_command
    from django.db import DatabaseError, connections

    try:
        django.setup()
        from ..app.record.backups import check_backup, load_backup

        whole = check_backup(file=file, key=opener)
        call_command("migrate", verbosity=0, interactive=False)
        return load_backup(file=file, key=opener, whole=whole, now=datetime.now(UTC), exactly=exactly)
    except ImproperlyConfigured as error:
        raise SideportError(str(error)) from None
    except DatabaseError as error:
        raise SideportError(f"The database could not be written ({error}). Is the disk full?") from None
    finally:
        connections.close_all()
