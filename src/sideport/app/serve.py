"""``serve``: put a planned day into its own small database and show it on this computer."""

import os
import socket
import sys
from ipaddress import ip_address
from pathlib import Path

from ..errors import SideportError
from .environment import CERTIFICATE_VARIABLE, DATA_VARIABLE, HOSTS_VARIABLE, KEY_VARIABLE, certificate

__all__ = ["ServeError", "load_folder", "parse_address", "serve"]

PLAN_FILE = "plan.json"
SETTINGS = "sideport.app.settings"
TARGET = "sideport.app.wsgi:application"
THREADS = 4
PROGRAM = "sideport serve"
"""Who says in the record what a folder held."""


class ServeError(SideportError):
    """The site cannot be started as asked; the message says what to do."""


def serve(folder: Path, address: str, *, new_administrator: bool = False) -> None:
    """Show the day planned into a folder, until it is interrupted.

    Parameters
    ----------
    folder : Path
        The folder that ``sideport plan`` wrote; the database is kept in it.
    address : str
        Address and port, such as ``127.0.0.1:8477``; another than a loopback one needs a certificate.
    new_administrator : bool
        Print a code that makes another administrator, for a unit whose own cannot sign in any more.

    Raises
    ------
    ServeError
        When the address cannot be used as asked, or the folder holds no plan.
    PlanFormatError
        When the plan was written by a version that this one cannot read.
    """
    host, port = parse_address(address)
    refuse_taken(host, port)
    load_folder(folder)
    back_up_from(folder)
    for line in greeting(host, port, new_administrator=new_administrator):
        print(line, flush=True)  # noqa: T201
    run(host, port)


def back_up_from(folder: Path) -> None:
    """Makes backups at their times, where a folder for them is named."""
    from django.conf import settings

    from .backup_times import start_backups

    if settings.BACKUP_PLAN is not None:
        start_backups(data=folder.resolve(), plan=settings.BACKUP_PLAN)


def greeting(host: str, port: int, *, new_administrator: bool) -> list[str]:
    """What is said at the start: where to look and, while nobody can sign in as administrator, the one-time code."""
    from django.conf import settings
    from django.utils import timezone

    from .people.codes import new_code
    from .people.models import Account, CodePurpose

    where = f"{'https' if settings.HTTPS else 'http'}://{written(host)}:{port}"
    place = "in a browser" if settings.HTTPS else "in a browser on this computer"
    lines = [f"Open {where}/ {place}. Stop with Ctrl+C."]
    if settings.DEMO_DIGESTS and not settings.HTTPS and not new_administrator:
        return [*lines, "This is the invented demo unit: one click on the first page walks in."]
    if new_administrator or not Account.objects.active_administrators().exists():
        code = new_code(purpose=CodePurpose.FIRST, account=None, now=timezone.now())
        lines.append(f"To make an administrator open {where}/first/ and type this code within an hour: {code}")
    return lines


def load_folder(folder: Path) -> int:
    """Bring the folder's database up to date, write what was planned into the record; returns the plan's number.

    Raises
    ------
    ServeError
        When the folder holds no ``plan.json``.
    """
    document = folder / PLAN_FILE
    if not document.is_file():
        raise ServeError(
            f"{folder} holds no {PLAN_FILE}. Plan the day first: sideport plan FOLDER --out {folder}; "
            f"then: sideport serve {folder}"
        )
    start_django(folder)
    from django.conf import settings
    from django.core.management import call_command
    from django.utils import timezone

    from .people.services import close_demo_accounts
    from .planning.models import SheetKind
    from .record.planned import record_folder

    call_command("migrate", verbosity=0, interactive=False)
    sheets = {kind: path.read_bytes() for kind in SheetKind if (path := folder / f"{kind.value}.pdf").is_file()}
    stored = record_folder(
        folder=folder, document=document.read_text(encoding="utf-8"), actor=PROGRAM, now=timezone.now(), sheets=sheets
    )
    if not settings.DEMO_DIGESTS:
        close_demo_accounts()
    return int(stored.pk)


def start_django(folder: Path) -> None:
    """Point the settings at the folder and load the project."""
    os.environ[DATA_VARIABLE] = str(folder.resolve())
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", SETTINGS)
    import django

    django.setup()


def parse_address(address: str) -> tuple[str, int]:
    """Host and port of an address: a loopback one, or any where a certificate is named.

    Raises
    ------
    ServeError
        When it cannot be read, or other machines can reach it and there is no certificate.
    """
    name, _, number = address.rpartition(":")
    host = name.strip("[]").replace("localhost", "127.0.0.1")
    try:
        loopback, port = ip_address(host).is_loopback, int(number)
    except ValueError:
        raise ServeError(f"{address!r} is not an address; write it as 127.0.0.1:8477.") from None
    if not loopback and certificate(os.environ) is None:
        raise ServeError(
            f"{host} can be reached from other machines, which needs HTTPS. Use 127.0.0.1:{port} or name a certificate "
            f"in {CERTIFICATE_VARIABLE}, its key in {KEY_VARIABLE} and this computer's name in {HOSTS_VARIABLE}."
        )
    if not 0 < port < 2**16:
        raise ServeError(f"{port} is not a port; use a number from 1024 to 65535.")
    return host, port


def written(host: str) -> str:
    """A host as it stands in an address: IPv6 in brackets."""
    return f"[{host}]" if ":" in host else host


def refuse_taken(host: str, port: int) -> None:
    """Say so before starting when another program holds the port.

    Raises
    ------
    ServeError
        When the port is in use or may not be used.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as probe:
        if sys.platform != "win32":
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as error:
            raise ServeError(
                f"Port {port} on {host} cannot be used ({error.strerror}). Perhaps the site runs already: open "
                f"http://{written(host)}:{port}/ or choose another port with --address {written(host)}:{port + 1}"
            ) from None


def run(host: str, port: int) -> None:
    """Serve until interrupted: one worker process, a few threads."""
    from granian.constants import Interfaces
    from granian.log import LogLevels
    from granian.server import Server

    named = certificate(os.environ)
    Server(
        TARGET,
        address=host,
        port=port,
        interface=Interfaces.WSGI,
        blocking_threads=THREADS,
        log_level=LogLevels.warning,
        ssl_cert=named[0] if named else None,
        ssl_key=named[1] if named else None,
    ).serve()
