"""``sideport new``, ``plan`` and ``demo``: folders in, a plan and its sheets out."""

from collections.abc import Callable
from pathlib import Path

import typer

from ..app.demo_marker import mark_demo
from ..day import DayPlan, plan_day
from ..errors import SideportError
from ..exchange import (
    FolderRead,
    as_set_aside,
    inputs_sha256,
    read_folder,
    write_demo,
    write_plan,
    write_rejected,
    write_templates,
)
from ..exchange.request_file import REQUEST_FILE, write_request
from ..knowledge import load_published
from ..present.caution import CAUTION
from ..present.sheets import day_pdf, eye_pdf
from ..present.words import SIDE_WORDS

__all__ = ["new_folder", "plan_demo", "plan_folder"]

PLANNED, SET_ASIDE, NOTHING_PLANNED = 0, 1, 2
SHOWN = 10


def new_folder(folder: Path) -> int:
    """Writes the empty set of files; returns the exit code."""
    try:
        written = write_templates(folder)
    except (SideportError, OSError) as error:
        return refuse(error)
    typer.echo(f"Wrote {', '.join(path.name for path in written)} to {folder}.")
    typer.echo(f"Replace the worked rows with your own, then: sideport plan {folder} --out {folder}-plan")
    return PLANNED


def plan_demo(folder: Path, out: Path) -> int:
    """Writes the invented unit and plans its day; the rows set aside on purpose do not count as a failure."""
    try:
        write_demo(folder)
    except (SideportError, OSError) as error:
        return refuse(error)
    typer.echo(f"Wrote the invented Quill Island Eye Unit to {folder}.")
    code = plan_folder(folder, out)
    if code != NOTHING_PLANNED:
        mark_demo(out)
    return PLANNED if code == SET_ASIDE else code


def plan_folder(folder: Path, out: Path) -> int:
    """Plans a folder's day into ``out``; returns the exit code."""
    try:
        read = read_folder(folder)
        out.mkdir(parents=True, exist_ok=True)
        write_rejected(read, out / "set-aside.csv")
        report(read, out)
        if read.request is None:
            typer.echo(
                "Nothing could be planned: no eye could be read. Mend the rows above and run it again.", err=True
            )
            return NOTHING_PLANNED
        plan = plan_day(
            read.request, load_published(), seed=0, inputs_sha256=inputs_sha256(folder),
            set_aside=tuple(as_set_aside(item) for item in read.rejected),
        )  # fmt: skip
        write_all(plan, out)
        write_request(read.request, out / REQUEST_FILE)
    except (SideportError, OSError) as error:
        return refuse(error)
    summarise(plan, out)
    return SET_ASIDE if read.rejected else PLANNED


def write_all(plan: DayPlan, out: Path) -> None:
    """Writes the plan and both sheets; each file is whole or not there."""
    whole(out / "day.pdf", lambda path: path.write_bytes(day_pdf(plan)))
    whole(out / "eyes.pdf", lambda path: path.write_bytes(eye_pdf(plan)))
    whole(out / "plan.json", lambda path: write_plan(plan, path))


def whole(path: Path, write: Callable[[Path], object]) -> None:
    """Writes beside the place and moves in, so that a cut never leaves half a sheet."""
    beside = path.with_name(path.name + ".part")
    write(beside)
    beside.replace(path)


def report(read: FolderRead, out: Path) -> None:
    """Says what was set aside and what was noted."""
    for note in read.notes:
        typer.echo(f"Note: {note}")
    for rejected in read.rejected[:SHOWN]:
        typer.echo(f"Set aside: {rejected}", err=True)
    if len(read.rejected) > SHOWN:
        typer.echo(f"... and {len(read.rejected) - SHOWN} more.", err=True)
    if read.rejected:
        typer.echo(f"{len(read.rejected)} set aside; all of them are listed in {out / 'set-aside.csv'}.", err=True)


def summarise(plan: DayPlan, out: Path) -> None:
    """The day in a few lines, then where the rest is."""
    listed = [eye for eye in plan.eyes if eye.slot is not None]
    on_list = eyes_on_list(len(listed))
    typer.echo(f"{plan.unit}, {plan.day:%A %d %B %Y}: {on_list} on the list, {len(plan.eyes) - len(listed)} off it.")
    if plan.finishes is not None:
        late = f", {plan.overtime_min:.0f} min late" if plan.overtime_min > 0 else ""
        typer.echo(f"Starts {plan.starts:%H:%M}, expected to end {plan.finishes:%H:%M}{late}.")
    urgent = [item for item in plan.tonight if item.severity != "note"]
    typer.echo(f"To sort out tonight: {len(urgent)}.")
    whose = {eye.key: f"{eye.person_id} {eye.name}, {SIDE_WORDS[eye.side]} eye: " for eye in plan.eyes}
    for item in urgent[:SHOWN]:
        typer.echo(f"  {item.severity.upper()}  {whose.get(item.eye_key or '', '')}{item.message} {item.action}")
    if len(urgent) > SHOWN:
        typer.echo(f"  ... and {len(urgent) - SHOWN} more in day.pdf.")
    typer.echo(f"Wrote day.pdf, eyes.pdf and plan.json to {out}.")
    typer.echo(CAUTION)


def refuse(error: Exception) -> int:
    """Says what went wrong and what to do."""
    typer.echo(str(error), err=True)
    return NOTHING_PLANNED


def eyes_on_list(number: int) -> str:
    """The number of eyes in words that agree with it."""
    return "1 eye" if number == 1 else f"{number} eyes"
