"""The box in the hand against the plan: everything that must stop it, in plain sentences. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from ...day.plan import DayPlan, EyePlan
from ...exchange.barcodes import LensLabel
from ...lens.choice import LensChoice
from ...lens.model import Placement
from ...present import numbers
from ...present.words import PLACEMENT_WORDS, SIDE_WORDS
from ...shelf.box import Box

__all__ = [
    "FINDING_TITLES",
    "Found",
    "Held",
    "Planned",
    "Stop",
    "compare",
    "find_boxes",
    "held_from",
    "places_in_plan",
    "planned_for",
]

FINDING_TITLES: Mapping[str, str] = {
    "other-eye": "Another patient's lens",
    "wrong-power": "Wrong power",
    "wrong-model": "Wrong model",
    "wrong-place": "Not made for this place",
    "place-unknown": "Place not known",
    "expired": "Expired",
    "not-on-shelf": "Not on the shelf",
    "box-empty": "The box is empty on the record",
    "label-differs": "Label and shelf differ",
    "not-planned": "No such lens is planned",
}


@dataclass(frozen=True, slots=True)
class Held:
    """The box in the hand, as far as it is known."""

    model: str = ""
    power_d: float | None = None
    """``None`` when only its code is known, and the shelf holds no such box."""
    lot: str = ""
    serial: str = ""
    expires: date | None = None
    box: Box | None = None
    """The box on the shelf that it is; ``None`` when there is none such."""
    codes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Planned:
    """What the plan names for one place of an eye."""

    model: str
    power_d: float
    box_id: str | None


@dataclass(frozen=True, slots=True)
class Stop:
    """One reason to stop."""

    code: str
    words: str


@dataclass(frozen=True, slots=True)
class Found:
    """The boxes on the shelf that a label may be."""

    boxes: tuple[Box, ...]
    separator_lost: bool = False
    """True when they were found only by reading the code as if the scanner had dropped a separator."""


def planned_for(eye: EyePlan, placement: Placement) -> Planned | None:
    """The lens that the plan gives an eye for a place, or says to fetch; ``None`` when it names none."""
    for choice in (eye.lens, eye.backup, eye.chamber):
        if choice is not None and choice.placement is placement:
            return Planned(choice.model, choice.power_d, choice.box_id)
    needs = (*eye.needs, *((eye.chamber_need,) if eye.chamber_need else ()))
    need = next((each for each in needs if each.placement is placement), None)
    return Planned(need.model, need.power_d, None) if need else None


def find_boxes(label: LensLabel, boxes: Sequence[Box]) -> Found:
    """The boxes with the label's serial; where it has none, those with its lot."""
    found = matching(label, boxes)
    if found or not label.otherwise:
        return Found(found)
    again = {box.box_id: box for other in label.otherwise for box in matching(other, boxes)}
    return Found(tuple(again.values()), separator_lost=bool(again))


def matching(label: LensLabel, boxes: Sequence[Box]) -> tuple[Box, ...]:
    """Boxes by serial, else by lot; a lot that the box does not name never contradicts its serial."""
    serial, lot = label.serial.casefold(), label.lot.casefold()
    if serial:
        found = tuple(box for box in boxes if serial in (box.serial.casefold(), box.box_id.casefold()))
        if found:
            return found
    return tuple(box for box in boxes if lot and box.lot.casefold() == lot and not (serial and box.serial))


def held_from(box: Box, label: LensLabel) -> Held:
    """A box of the shelf, with what its code says of lot, serial and expiry."""
    return Held(
        box.model, box.power_d, lot=label.lot or box.lot, serial=label.serial or box.serial,
        expires=label.expires or box.expires, box=box, codes=label.codes,
    )  # fmt: skip


def compare(
    *, held: Held, placement: Placement, plan: DayPlan, eye: EyePlan, places: Mapping[str, frozenset[Placement]],
    today: date, done: frozenset[str] = frozenset(),
) -> tuple[Stop, ...]:  # fmt: skip
    """Every reason to stop.

    Parameters
    ----------
    held : Held
        The box in the hand.
    placement : Placement
        Where the lens is to go.
    plan, eye
        The day and the eye on the table.
    places : mapping of str to frozenset of Placement
        By lens model, where it may sit.
    today : date
        For the expiry.
    done : frozenset of str
        Eyes of the day whose lens is in already; nothing waits for them on the shelf.

    Returns
    -------
    tuple of Stop
        Worst first; empty when the lens may be opened.
    """
    if held.power_d is None:
        return tuple(stop for stop in (*shelf_stops(held), expiry_stop(held, today)) if stop is not None)
    found = [
        other_eyes_box(held, plan, eye, done),
        *against_plan(held, placement, eye),
        place_stop(held, placement, places),
        expiry_stop(held, today),
        *shelf_stops(held),
    ]
    return tuple(stop for stop in found if stop is not None)


def other_eyes_box(held: Held, plan: DayPlan, eye: EyePlan, done: frozenset[str]) -> Stop | None:
    """A box all of whose lenses are kept for other eyes of the day."""
    row = next((row for row in plan.shelf if held.box and row.box_id == held.box.box_id), None)
    if row is None or held.box is None or eye.key in row.given_to:
        return None
    waiting = [key for key in row.given_to if key not in done]
    if not waiting or held.box.count > len(waiting):
        return None
    theirs = [each for each in plan.eyes if each.key in waiting]
    names = " and ".join(f"{each.name}, {SIDE_WORDS[each.side]} eye, number {each.person_id}" for each in theirs)
    return Stop("other-eye", f"This box is kept for {names}.")


def against_plan(held: Held, placement: Placement, eye: EyePlan) -> tuple[Stop, ...]:
    """Power and model against what the plan names for the place."""
    planned = planned_for(eye, placement)
    where = PLACEMENT_WORDS[placement]
    if planned is None:
        return (Stop("not-planned", f"The plan names no lens for the {where} of this eye."),)
    stops = []
    if held.power_d != planned.power_d:
        turned = " Plus and minus are exchanged." if held.power_d == -planned.power_d else ""
        stops.append(Stop("wrong-power", f"This lens is {numbers.power(held.power_d)}. For the {where} the plan says "
                          f"{numbers.power(planned.power_d)}.{turned}"))  # fmt: skip
    if held.model.casefold() != planned.model.casefold():
        stops.append(Stop("wrong-model", f"This lens is a {held.model}. For the {where} the plan says "
                          f"{planned.model}."))  # fmt: skip
    return tuple(stops)


def place_stop(held: Held, placement: Placement, places: Mapping[str, frozenset[Placement]]) -> Stop | None:
    """A lens that is not made for the place."""
    allowed = places.get(held.model)
    where = PLACEMENT_WORDS[placement]
    if allowed is None:
        return Stop(
            "place-unknown", f"Nobody has said where a {held.model} may sit, so not that it may in the {where}."
        )
    if placement in allowed:
        return None
    words = " or ".join(PLACEMENT_WORDS[each] for each in Placement if each in allowed)
    return Stop("wrong-place", f"A {held.model} is made for the {words}. It must not go into the {where}.")


def expiry_stop(held: Held, today: date) -> Stop | None:
    """A lens past its date; it may be used on the day itself."""
    if held.expires is None or held.expires >= today:
        return None
    return Stop("expired", f"It expired on {numbers.long_date(held.expires)}.")


def shelf_stops(held: Held) -> tuple[Stop, ...]:
    """A box that the shelf does not know, or knows otherwise."""
    box = held.box
    if box is None:
        return (Stop("not-on-shelf", "The shelf holds no box with this label. Nobody here has received it."),)
    stops = []
    if box.count < 1:
        stops.append(Stop("box-empty", f"By the record no lens is left in box {box.box_id}."))
    if held.expires and box.expires and held.expires != box.expires:
        label, listed = numbers.long_date(held.expires), numbers.long_date(box.expires)
        words = (
            f"The label says it expires on {label}, the shelf's list says {listed}. One of them is about another box."
        )
        stops.append(Stop("label-differs", words))
    return tuple(stops)


def places_in_plan(plan: DayPlan) -> dict[str, set[Placement]]:
    """Where the plan itself lets each model sit."""
    places: dict[str, set[Placement]] = {}
    for eye in plan.eyes:
        given: tuple[LensChoice | None, ...] = (eye.lens, eye.backup, eye.chamber, *eye.choices)
        for choice in given:
            if choice is not None:
                places.setdefault(choice.model, set()).add(choice.placement)
    return places
