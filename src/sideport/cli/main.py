"""The command's root; heavy rooms are imported only by the command that needs them."""

from pathlib import Path
from typing import Annotated

import typer

from .record import bundle_app

__all__ = ["app"]

app = typer.Typer(
    name="sideport",
    help="Plans a cataract operating day. Decision support for licensed staff: check every number twice.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)

Json = Annotated[bool, typer.Option("--json", help="Print JSON and nothing else.")]


def print_version(wanted: bool) -> None:
    """Prints the version and ends."""
    if wanted:
        from .. import __version__

        typer.echo(f"sideport {__version__}")
        raise typer.Exit


@app.callback()
def root(
    version: Annotated[
        bool, typer.Option("--version", callback=print_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """Options that stand before a command."""


@app.command()
def new(folder: Annotated[Path, typer.Argument(help="A folder that does not hold a unit's files yet.")]) -> None:
    """Write an empty set of files with headings, a worked row each and an explanation of every column."""
    from .planning import new_folder

    raise typer.Exit(new_folder(folder))


@app.command()
def plan(
    folder: Annotated[Path, typer.Argument(help="The folder with the unit's files.")],
    out: Annotated[Path, typer.Option("--out", help="Where the plan and the sheets go.")],
) -> None:
    """Plan the day. Ends with 0 when all was planned, 1 when rows were set aside, 2 when nothing could be planned."""
    from .planning import plan_folder

    raise typer.Exit(plan_folder(folder, out))


@app.command()
def demo(
    folder: Annotated[Path, typer.Argument(help="Where the invented unit's files go.")],
    out: Annotated[Path, typer.Option("--out", help="Where the plan and the sheets go.")],
) -> None:
    """Write an invented unit and plan its day."""
    from .planning import plan_demo

    raise typer.Exit(plan_demo(folder, out))


@app.command()
def serve(
    out: Annotated[Path, typer.Argument(help="The folder that 'sideport plan' wrote.")],
    address: Annotated[str, typer.Option(help="Address and port.")] = "127.0.0.1:8477",
    new_administrator: Annotated[
        bool, typer.Option("--new-administrator", help="Print a code that makes another administrator.")
    ] = False,
) -> None:
    """Show a planned day in the browser: on this computer only, unless a certificate is named."""
    from ..errors import SideportError

    try:
        from ..app.serve import serve as serve_folder

        serve_folder(out, address, new_administrator=new_administrator)
    except SideportError as error:
        typer.echo(str(error), err=True)
        raise typer.Exit(2) from None


@app.command()
def lens(
    al: Annotated[float, typer.Option(help="Axial length [mm].")],
    k1: Annotated[float, typer.Option(help="Keratometry of one principal meridian [D], index 1.3375.")],
    k2: Annotated[float, typer.Option(help="Keratometry of the other principal meridian [D].")],
    formula: Annotated[str, typer.Option(help="srk-t, holladay-1, hoffer-q, haigis, t2; srk-ii for old records only.")],
    acd: Annotated[float | None, typer.Option(help="Anterior chamber depth, corneal front to lens front [mm].")] = None,
    constant: Annotated[float | None, typer.Option(help="The formula's own constant: A, SF, pACD.")] = None,
    a0: Annotated[float | None, typer.Option(help="Haigis a0.")] = None,
    a1: Annotated[float | None, typer.Option(help="Haigis a1.")] = None,
    a2: Annotated[float | None, typer.Option(help="Haigis a2.")] = None,
    target: Annotated[float | None, typer.Option(help="Wished refraction [D]: prints the power.")] = None,
    power: Annotated[float | None, typer.Option(help="Lens power [D]: prints the refraction.")] = None,
    json: Json = False,
) -> None:
    """Compute a lens power for a target refraction, or the refraction for a power."""
    from .lens import LensQuestion, answer_lens

    question = LensQuestion(al, k1, k2, acd, formula, constant, a0, a1, a2, target, power)
    raise typer.Exit(answer_lens(question, as_json=json))


@app.command()
def check(json: Json = False) -> None:
    """Run every published check value the project knows; ends with 1 when one disagrees."""
    from .check import show_checks

    raise typer.Exit(show_checks(as_json=json))


@app.command()
def eye(
    folder: Annotated[Path, typer.Argument(help="The folder with the unit's files.")],
    patient: Annotated[str, typer.Argument(help="The patient's identity, as the register writes it.")],
    json: Json = False,
) -> None:
    """Show what is believed of both eyes of a patient and what every lens on the shelf would do in them."""
    from .eye import show_eye

    raise typer.Exit(show_eye(folder, patient, as_json=json))


@app.command()
def wound(
    k1: Annotated[float, typer.Option(help="Keratometry of one principal meridian [D], index 1.3375.")],
    axis: Annotated[float, typer.Option(help="Meridian of --k1, 0 to 180 [deg].")],
    site: Annotated[str, typer.Option(help="superior, superotemporal, temporal or superonasal.")],
    length: Annotated[float, typer.Option(help="Outer cut [mm].")],
    k2: Annotated[float | None, typer.Option(help="Keratometry at right angles to --axis [D].")] = None,
    distance: Annotated[float | None, typer.Option(help="Centre of the cut behind the limbus [mm].")] = None,
    shape: Annotated[str | None, typer.Option(help="straight, frown, smile or chevron.")] = None,
    technique: Annotated[str, typer.Option(help="msics, phaco, ecce or icce.")] = "msics",
    side: Annotated[str | None, typer.Option(help="right or left; needed for oblique sites.")] = None,
    length_model: Annotated[str, typer.Option(help="near-linear, or cube to compare.")] = "near-linear",
    white_to_white: Annotated[float | None, typer.Option(help="Corneal diameter [mm].")] = None,
    nucleus_grade: Annotated[float | None, typer.Option(help="LOCS III nuclear opalescence.")] = None,
    sutured: Annotated[bool, typer.Option("--sutured", help="The cut gets a suture.")] = False,
    json: Json = False,
) -> None:
    """Say what a cut does to the cornea, whether the nucleus passes and whether the tunnel seals."""
    from .wound import WoundQuestion, answer_wound

    question = WoundQuestion(
        k1_d=k1, axis_deg=axis, k2_d=k2, site=site, length_mm=length, distance_mm=distance, shape=shape,
        technique=technique, side=side, length_model=length_model, white_to_white_mm=white_to_white,
        nucleus_grade=nucleus_grade, sutured=sutured,
    )  # fmt: skip
    raise typer.Exit(answer_wound(question, as_json=json))


@app.command()
def rebuild(data: Annotated[Path | None, typer.Option("--data", help="The folder that you serve.")] = None) -> None:
    """Check the journal of a data folder and make the tables that are made from it anew."""
    from .record import rebuild_tables

    raise typer.Exit(rebuild_tables(data))


@app.command()
def backup(
    data: Annotated[Path, typer.Argument(help="The folder that you serve.")],
    to: Annotated[Path, typer.Option("--to", help="The backup to write; it must not be there yet.")],
    key: Annotated[
        list[str] | None,
        typer.Option("--for", help="Address of a key that opens it, from backup-key. Unset: SIDEPORT_BACKUP_KEYS."),
    ] = None,
) -> None:
    """Write an encrypted backup and prove it by restoring it into a scratch database."""
    from .backup import back_up

    raise typer.Exit(back_up(data, to, key or []))


@app.command("backup-key")
def backup_key(
    file: Annotated[Path, typer.Argument(help="Where the key goes: a stick, not this computer.")],
    plain: Annotated[bool, typer.Option("--plain", help="Ask for no passphrase: whoever has it reads all.")] = False,
) -> None:
    """Make the key that opens backups, and print the address that they are made for."""
    from .backup import make_key

    raise typer.Exit(make_key(file, plain=plain))


@app.command()
def restore(
    file: Annotated[Path, typer.Argument(help="A backup.")],
    to: Annotated[Path, typer.Option("--to", help="A folder that is not there yet.")],
    key: Annotated[Path, typer.Option("--key", help="The key's file, from backup-key.")],
    exactly: Annotated[
        bool, typer.Option("--exactly", help="Refuse tables that this version makes otherwise, too.")
    ] = False,
) -> None:
    """Restore a backup into a new folder, checked before and after; it never overwrites one."""
    from .backup import restore_into

    raise typer.Exit(restore_into(file, to, key, exactly=exactly))


app.add_typer(bundle_app, name="bundle")
