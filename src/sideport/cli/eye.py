"""``sideport eye``: both eyes of one patient, as believed and as every lens on the shelf would leave them."""

import json
from collections.abc import Iterable, Iterator
from pathlib import Path

import typer
from pydantic import TypeAdapter

from ..day.outlook import EyeOutlook, outlook
from ..day.settings import DayRequest
from ..errors import SideportError
from ..exchange import read_folder
from ..eye.person import Person
from ..eye.summary import Estimate
from ..knowledge import load_published
from ..lens.choice import LensChoice
from ..present import numbers, words
from ..present.caution import CAUTION

__all__ = ["show_eye"]

SHOWN, IDENTITIES = 5, 8


def show_eye(folder: Path, patient: str, *, as_json: bool) -> int:
    """Prints both eyes of a patient; returns 0, or 2 with a message that says what to do."""
    try:
        read = read_folder(folder)
        if read.request is None:
            rows = "; ".join(str(rejected) for rejected in read.rejected[:3])
            raise SideportError(f"No patient could be read from {folder}. Mend the files first. {rows}".rstrip())
        person = find_person(read.request, patient)
        eyes = outlook(person=person, request=read.request, knowledge=load_published())
    except (SideportError, OSError) as error:
        typer.echo(str(error), err=True)
        return 2
    if as_json:
        typer.echo(json.dumps(as_data(person, eyes), ensure_ascii=False))
    else:
        for line in as_text(person, eyes):
            typer.echo(line)
    return 0


def find_person(request: DayRequest, patient: str) -> Person:
    """The person of an identity, whatever the case of its letters.

    Raises
    ------
    SideportError
        When the register has none; the message lists some identities, never names.
    """
    wanted = patient.strip().casefold()
    for person in request.people:
        if person.person_id.casefold() == wanted:
            return person
    known = [person.person_id for person in request.people]
    more = f" and {len(known) - IDENTITIES} more" if len(known) > IDENTITIES else ""
    raise SideportError(
        f"No patient on the register has the identity {patient!r}. Write it as the register does: "
        f"{', '.join(known[:IDENTITIES])}{more}."
    )


def as_data(person: Person, eyes: Iterable[EyeOutlook]) -> dict[str, object]:
    """What ``--json`` prints; the fields of an eye are those of ``EyeOutlook``."""
    shape = TypeAdapter(EyeOutlook)
    return {
        "person_id": person.person_id,
        "name": person.name,
        "eyes": [shape.dump_python(eye, mode="json") for eye in eyes],
        "caution": CAUTION,
    }


def as_text(person: Person, eyes: Iterable[EyeOutlook]) -> Iterator[str]:
    """The same for a reader, with the nearest lenses only."""
    yield f"{person.person_id}  {person.name}"
    for eye in eyes:
        yield ""
        yield (
            f"{eye.side.value.upper()} eye{', to be operated on' if eye.listed else ''}; target "
            + numbers.refraction(eye.target_d)
        )
        yield from belief_lines(eye)
        for flag in eye.flags:
            yield f"  {flag.severity.value.upper()}  {flag.message} {flag.action}"
        for place, lenses in (("BAG", eye.bag), ("SULCUS", eye.sulcus), ("CHAMBER", eye.chamber)):
            yield f"  {place}" if lenses else f"  {place}: no lens on the shelf"
            yield from (lens_line(choice) for choice in lenses[:SHOWN])
            if len(lenses) > SHOWN:
                yield f"    ... and {len(lenses) - SHOWN} more on the shelf"
    yield ""
    yield (
        "6/12 and 6/18 before the cut: far off without glasses, if the eye sees 6/6 with them, by the cornea as it is. "
        "The eye sheets of a planned day (eyes.pdf) tell them after the cut."
    )
    yield CAUTION


def belief_lines(eye: EyeOutlook) -> Iterator[str]:
    """What is believed, with its standard deviation and where it comes from."""
    belief = eye.belief
    rows: tuple[tuple[str, Estimate, str], ...] = (
        ("axial length", belief.axial_length_mm, "mm"),
        ("mean keratometry", belief.mean_k_d, "D"),
        ("corneal astigmatism", belief.corneal_astigmatism_d, "D"),
        ("chamber depth", belief.chamber_depth_mm, "mm"),
        ("lens thickness", belief.lens_thickness_mm, "mm"),
        ("white to white", belief.white_to_white_mm, "mm"),
    )
    for name, estimate, unit in rows:
        axis = f", steep at {numbers.degrees(belief.steep_axis_deg)}" if name == "corneal astigmatism" else ""
        yield f"  {name:20}{numbers.with_spread(estimate.value, estimate.sd, unit)}{axis} ({estimate.origin})"


def lens_line(choice: LensChoice) -> str:
    """One lens: what it would leave, how surely, and by which formula."""
    return (
        f"    {numbers.power(choice.power_d):>9}  {choice.model:16}"
        f"{numbers.with_spread(choice.refraction_d, choice.sd_d, 'D', sign=True)}  "
        f"within 1 D {numbers.percent(choice.within_one)}, beyond 2 D {numbers.percent(choice.beyond_two)}, "
        f"before the cut 6/12 {numbers.percent(choice.sees_6_12)}, 6/18 {numbers.percent(choice.sees_6_18)}  "
        f"({words.formula_words(choice.formula)})"
    )
