"""What is worth measuring again tonight, the most worthwhile first."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..eye.belief import believe
from ..eye.coordinates import Coordinate
from ..eye.measurement import Measurement, Method, Quantity
from ..eye.method import method_key
from ..eye.person import EyeRecord, Person
from ..knowledge import Knowledge
from ..lens.forecast import forecast
from ..lens.model import Placement
from ..lens.remeasure import sight_gain
from ..lens.sight import Cylinder
from ..optics.arrays import FloatArray
from ..shelf.stock import lenses_on_shelf, usable
from .case import ListedEye
from .plan import Remeasurement
from .settings import DayRequest

__all__ = ["Option", "options_for", "remeasurements"]

READ = {
    "axial_length": (Quantity.AXIAL_LENGTH,),
    "keratometry": (Quantity.K1, Quantity.K2),
    "chamber_depth": (Quantity.ANTERIOR_CHAMBER_DEPTH,),
}
WHAT = {"axial_length": "axial length", "keratometry": "keratometry", "chamber_depth": "anterior chamber depth"}
WORDS = {"axial_length": "the axial length", "keratometry": "the cornea", "chamber_depth": "the chamber depth"}
THROUGH_THE_LENS = {"axial_length", "chamber_depth"}
MERIDIANS_DEG = {Quantity.K1: 180.0, Quantity.K2: 90.0}


@dataclass(frozen=True, slots=True)
class Option:
    """A set of readings that could be taken tonight."""

    eye: int
    """Place among the eyes given."""
    what: str
    """A table of ``remeasure.toml``."""
    method: Method
    readings: int


def options_for(
    *, eyes: Sequence[ListedEye], wanted: Sequence[bool], people: Sequence[Person], knowledge: Knowledge
) -> tuple[Option, ...]:
    """Everything that could be measured again.

    Parameters
    ----------
    eyes : sequence of ListedEye
    wanted : sequence of bool
        Which of them are to be operated on.
    people : sequence of Person
        The whole register: a method that nobody on it was measured with is taken not to be at hand.
    knowledge : Knowledge
        Holds ``remeasure.toml``.

    Returns
    -------
    tuple of Option
        By eye, then in the order of the table. Optical readings through a dense lens are left out.
    """
    at_hand = {
        what: {
            reading.method
            for person in people
            for record in person.eyes
            for reading in record.measurements
            if reading.quantity in quantities
        }
        for what, quantities in READ.items()
    }
    found = []
    for index, (eye, wants) in enumerate(zip(eyes, wanted, strict=True)):
        dense = eye.record.cataract is not None and eye.record.cataract.dense
        for what in READ if wants else ():
            for method in Method:
                number = knowledge.numbers.get(f"remeasure.{what}.{method_key(method)}")
                blocked = dense and method is Method.OPTICAL and what in THROUGH_THE_LENS
                if number is not None and method in at_hand[what] and not blocked:
                    found.append(Option(index, what, method, int(number.value)))
    return tuple(found)


def remeasurements(
    *,
    eyes: Sequence[ListedEye],
    keys: Sequence[str],
    wanted: Sequence[bool],
    cylinder: Cylinder,
    request: DayRequest,
    knowledge: Knowledge,
) -> tuple[Remeasurement, ...]:
    """The readings most worth taking tonight.

    Parameters
    ----------
    eyes : sequence of ListedEye, length n
    keys : sequence of str, length n
        The plan's key of each eye.
    wanted : sequence of bool, length n
        Which of them are to be operated on.
    cylinder : Cylinder
        Of the n eyes as the planned cut will leave them.
    request : DayRequest
        The register, the shelf and the settings.
    knowledge : Knowledge
        Holds ``remeasure.toml``.

    Returns
    -------
    tuple of Remeasurement
        The most worthwhile first, at most one way for each quantity of an eye, none below the worth of the walk.

    Notes
    -----
    Each set of readings is added to the person's own, as if taken in the same session, and the belief worked out anew:
    the error that an operator or instrument makes in every reading is not thought to shrink. Its covariance does not
    depend on what will be read, so ``sight_gain`` can weigh the readings before they are taken. A doubted reading
    widens the belief, and is taken to be settled by the new readings as a wide normal one would be. Every lens on the
    shelf is open to the eye, as if it came first. Sight is far off, but at the distance aimed for where the target is
    nearer than a metre. Only the change of lens is counted: not the peace of mind, nor the mistakes it would uncover.
    """
    options = options_for(eyes=eyes, wanted=wanted, people=request.people, knowledge=knowledge)
    boxes = usable(request.boxes, request.settings.day)
    lenses = lenses_on_shelf(
        boxes=boxes, models={model.name: model for model in request.lenses}, placement=Placement.BAG
    )
    if not options or not len(lenses.power_d):
        return ()
    rows = [option.eye for option in options]
    mean = np.array([eyes[row].belief.mean for row in rows])
    before = np.array([eyes[row].belief.covariance for row in rows])
    depth_measured = np.array([eyes[row].summary.chamber_depth_mm.readings > 0 for row in rows])
    now, then = (
        forecast(
            mean=mean, covariance=covariance, lenses=lenses, placement=Placement.BAG, policy=request.settings.formula,
            knowledge=knowledge, depth_measured=depth_measured,
        )
        for covariance in (before, covariance_after(eyes, options, request, knowledge))
    )  # fmt: skip
    near = knowledge.value("target.near.from_d")
    target = np.array([eyes[row].target_d for row in rows])
    worth = sight_gain(
        forecast=now,
        measuring_after_d=then.measuring_sd_d,
        cylinder=Cylinder(cylinder.mean_d[rows], cylinder.covariance_d2[rows]),
        aim_d=np.where(target <= near, target, 0.0),
    )
    every = [
        described(option, eyes[option.eye], keys[option.eye], float(best), float(gain), near)
        for option, best, gain in zip(options, worth.now, worth.gain, strict=True)
        if gain >= knowledge.value("remeasure.worth.gain")
    ]
    return most_worthwhile(every, int(knowledge.value("remeasure.worth.listed")))


def covariance_after(
    eyes: Sequence[ListedEye], options: Sequence[Option], request: DayRequest, knowledge: Knowledge
) -> FloatArray:
    """The covariance of each option's eye once its readings are in, shape (options, 7, 7).

    What the readings add to the information (the inverse covariance) is worked out without any doubt of the others, and
    added to what is believed with all doubt: an eye whose length is doubted has the more to gain.
    """
    believed = np.array([eyes[option.eye].belief.covariance for option in options])
    sides = [eyes[option.eye].side for option in options]
    now, then = (
        believe(people, population=request.settings.population, knowledge=knowledge, doubt=False)
        .eyes(range(len(people)), sides)
        .covariance
        for people in (
            [eyes[option.eye].person for option in options],
            [with_readings(eyes[option.eye], option) for option in options],
        )
    )
    return np.asarray(np.linalg.inv(np.linalg.inv(believed) + np.linalg.inv(then) - np.linalg.inv(now)))


def with_readings(eye: ListedEye, option: Option) -> Person:
    """The person with the readings added; what they would show does not matter, so they show what is believed."""
    record = eye.record
    added = (*record.measurements, *imagined(eye, option))
    renewed = tuple(
        replace(other, measurements=added) if other.side is record.side else other for other in eye.person.eyes
    )
    return replace(eye.person, eyes=renewed)


def imagined(eye: ListedEye, option: Option) -> Iterator[Measurement]:
    """The readings of an option, numbered after those there are."""
    believed = {
        "axial_length": Coordinate.AXIAL_LENGTH,
        "keratometry": Coordinate.MEAN_K,
        "chamber_depth": Coordinate.CHAMBER_DEPTH,
    }[option.what]
    last = max((reading.reading for reading in eye.record.measurements), default=0)
    for number in range(1, option.readings + 1):
        for quantity in READ[option.what]:
            yield Measurement(
                side=eye.side,
                quantity=quantity,
                value=float(eye.belief.mean[believed]),
                method=option.method,
                axis_deg=MERIDIANS_DEG.get(quantity),
                reading=last + number,
            )


def described(option: Option, eye: ListedEye, key: str, best: float, gain: float, near_d: float) -> Remeasurement:
    """The option in words."""
    more = "more " if already_read(eye.record, option) else ""
    where = "at the distance aimed for" if eye.target_d <= near_d else "far off"
    return Remeasurement(
        eye_key=key,
        what=WHAT[option.what],
        method=option.method.value,
        readings=option.readings,
        sees_6_12=best,
        gain=gain,
        words=f"{option.readings} {more}{option.method.value} readings of {WORDS[option.what]} are expected to raise "
        f"the chance of 6/12 {where} without glasses from {100 * best:.0f} to {100 * (best + gain):.0f} in 100.",
    )


def already_read(record: EyeRecord, option: Option) -> bool:
    """Whether the eye has a reading of that quantity by that method."""
    return any(
        reading.quantity in READ[option.what] and reading.method is option.method for reading in record.measurements
    )


def most_worthwhile(every: Sequence[Remeasurement], count: int) -> tuple[Remeasurement, ...]:
    """The best way for each quantity of each eye, greatest gain first."""
    ranked = sorted(every, key=lambda entry: (-entry.gain, entry.eye_key, entry.what, entry.method))
    kept = {(entry.eye_key, entry.what): entry for entry in reversed(ranked)}
    return tuple(entry for entry in ranked if kept[entry.eye_key, entry.what] is entry)[:count]
