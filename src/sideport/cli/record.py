"""``sideport rebuild`` and ``sideport bundle``: the journal of a data folder."""

import os
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn, TypeVar

import typer

from ..errors import SideportError

if TYPE_CHECKING:
    from ..app.record.bundles import BundleReport

__all__ = ["bundle_app", "rebuild_tables"]

DONE, REFUSED = 0, 2
T = TypeVar("T")
Data = Annotated[
    Path | None, typer.Option("--data", help="The folder with the database: the one you serve. Unset: SIDEPORT_DATA.")
]

bundle_app = typer.Typer(
    help="Exchange the journal with another device, by file or stick: the last word holds, nothing is lost.",
    no_args_is_help=True,
)  # fmt: skip


@bundle_app.command("key")
def bundle_key(data: Data = None) -> None:
    """Print this device's address; who has it can make bundles that only this device opens."""

    def look() -> str:
        from ..app.record.device import this_device

        keys = this_device()
        return f"Device  {keys.device}\nAddress {keys.address}"

    typer.echo(in_database(data, look))


@bundle_app.command("out")
def bundle_out(
    file: Annotated[Path, typer.Argument(help="The bundle to write; it must not be there yet.")],
    to: Annotated[str, typer.Option("--to", help="The other device's address, from: sideport bundle key")],
    everything: Annotated[bool, typer.Option("--all", help="Send all, for a device that lost some of it.")] = False,
    data: Data = None,
) -> None:
    """Write a bundle of what the other device is not known to have."""

    def give() -> int:
        from ..app.record.bundles import give_bundle

        part = file.with_name(file.name + ".part")
        try:
            with part.open("wb") as out:
                count = give_bundle(out=out, to=to, now=datetime.now(UTC), everything=everything)
                out.flush()
                os.fsync(out.fileno())
            part.replace(file)
        finally:
            part.unlink(missing_ok=True)
        return count

    if file.exists():
        refuse(FileExistsError(f"{file} is there already; name another file."))
    typer.echo(f"Wrote {in_database(data, give)} entries to {file}. Only the device with that address can open it.")


@bundle_app.command("in")
def bundle_in(
    file: Annotated[Path, typer.Argument(help="A bundle that was made for this device.")], data: Data = None
) -> None:
    """Take in a bundle. Taking it in twice changes nothing; a damaged one changes nothing."""

    def take() -> "BundleReport":
        from ..app.record.bundles import take_bundle

        with file.open("rb") as source:
            return take_bundle(source=source, now=datetime.now(UTC))

    report = in_database(data, take)
    typer.echo(f"From device {report.sender} of {report.unit or 'no unit yet'}: {report.brought} entries were new, "
               f"{report.known} were here already.")  # fmt: skip
    if report.first_time:
        typer.echo("This device was not known before. Make sure that its name is the one on the other screen: "
                   "sideport bundle key")  # fmt: skip
    if report.clock_ahead_min:
        typer.echo(f"A clock is wrong: the newest entry is {report.clock_ahead_min} minutes ahead of this device.")
    if report.open_tasks:
        typer.echo(f"{report.open_tasks} contradictions wait for a person.")


def rebuild_tables(data: Path | None) -> int:
    """Checks the journal and makes the tables anew; returns the exit code."""

    def work() -> tuple[int, int]:
        from ..app.record.services import rebuild, verify_journal

        return verify_journal(), rebuild()

    entries, subjects = in_database(data, work)
    typer.echo(f"The journal is whole: {entries} entries. The tables of {subjects} subjects were made anew.")
    return DONE


def in_database(data: Path | None, work: Callable[[], T]) -> T:
    """Does something with a data folder's database, brought up to date; ends the command when it is refused."""
    from ..app.environment import DATA_VARIABLE

    if data is not None:
        os.environ[DATA_VARIABLE] = str(data.resolve())
    if not os.environ.get(DATA_VARIABLE):
        refuse(SideportError("Say which data folder: --data FOLDER, the one that you serve."))
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "sideport.app.settings")
    import django
    from django.core.exceptions import ImproperlyConfigured

    try:
        django.setup()
        from django.core.management import call_command

        call_command("migrate", verbosity=0, interactive=False)
        return work()
    except (SideportError, ImproperlyConfigured, OSError) as error:
        refuse(error)


def refuse(error: Exception) -> NoReturn:
    """Says what went wrong and what to do, and ends."""
    typer.echo(str(error), err=True)
    raise typer.Exit(REFUSED)
