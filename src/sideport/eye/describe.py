"""The belief about one eye in plain numbers, each with where it comes from."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..optics.arrays import FloatArray
from ..optics.power_vector import corneal_astigmatism
from ..optics.side import Side
from .coordinates import Coordinate
from .measurement import Quantity
from .method import METHODS
from .outcome import Outcomes, read_outcomes
from .person import Person
from .readings import QUANTITIES, SIDES, Keratometry, Readings, pair_keratometry, read_all
from .slip import DoubtedReading, Slip, Suspicion
from .summary import Estimate, EyeSummary

__all__ = ["summarise"]

TOLD_MM = 0.1
"""Lengths that look alike to the tenth are not told as two."""
CONDITIONS = {
    Slip.SWAPPED_DIGITS: "if digits were swapped",
    Slip.WRONG_UNIT: "if the unit is wrong",
    Slip.SHORT_CONTACT: "if the probe pressed",
    Slip.SWAPPED_EYES: "if the eyes were exchanged",
    Slip.WRONG_PATIENT: "if they are another patient's",
    Slip.UNEXPLAINED: "if the doubted readings are wrong",
}


def summarise(
    person: Person, side: Side, mean: ArrayLike, covariance: ArrayLike, suspicions: Sequence[Suspicion] = ()
) -> EyeSummary:
    """Put the belief about one eye in plain numbers.

    Parameters
    ----------
    person : Person
        Whose readings tell the origin of each estimate.
    side : Side
        Which eye.
    mean : array_like, (7,)
        Belief about it, in the order of ``COORDINATES``.
    covariance : array_like, (7, 7)
        Its covariance.
    suspicions : sequence of Suspicion
        The belief's about this person: what is set apart or doubted is said in the origin.

    Returns
    -------
    EyeSummary

    Raises
    ------
    ImpossibleInputError
        When a reading cannot be true.

    Notes
    -----
    Astigmatism is the length of the mean power vector, its standard deviation to first order along that vector.
    Keratometry without axes tells the size of the astigmatism but not its direction: the size is then the mean
    difference of the two meridians, with twice the standard deviation of the mean power, and the axis the population's.
    """
    centre, spread = np.asarray(mean, dtype=float), np.asarray(covariance, dtype=float)
    readings, doubts = without_set_apart(read_all([person]), side, suspicions)
    pairs = pair_keratometry(readings)
    helped = helped_by(read_outcomes([person]), side)

    def estimate(coordinate: Coordinate, quantity: Quantity) -> Estimate:
        count, origin = origin_of(readings, side, quantity)
        sd = float(np.sqrt(spread[coordinate, coordinate]))
        if coordinate is Coordinate.AXIAL_LENGTH and not count:
            origin += helped
        if coordinate is Coordinate.AXIAL_LENGTH:
            origin += two_lengths(side, suspicions)
        return Estimate(float(centre[coordinate]), sd, count, origin + doubts.get(quantity, ""))

    count, origin = k_origin(pairs, readings, side)
    origin += "" if count else helped
    sd = float(np.sqrt(spread[Coordinate.MEAN_K, Coordinate.MEAN_K]))
    mean_k = Estimate(float(centre[Coordinate.MEAN_K]), sd, count, origin + doubts.get(Quantity.K1, ""))
    astigmatism, axis = astigmatism_of(centre, spread, pairs, readings, side)
    return EyeSummary(
        axial_length_mm=estimate(Coordinate.AXIAL_LENGTH, Quantity.AXIAL_LENGTH),
        mean_k_d=mean_k,
        corneal_astigmatism_d=astigmatism,
        steep_axis_deg=axis,
        chamber_depth_mm=estimate(Coordinate.CHAMBER_DEPTH, Quantity.ANTERIOR_CHAMBER_DEPTH),
        lens_thickness_mm=estimate(Coordinate.LENS_THICKNESS, Quantity.LENS_THICKNESS),
        white_to_white_mm=estimate(Coordinate.WHITE_TO_WHITE, Quantity.WHITE_TO_WHITE),
    )


def without_set_apart(
    readings: Readings, side: Side, suspicions: Sequence[Suspicion]
) -> tuple[Readings, dict[Quantity, str]]:
    """The readings that the belief rests on, and for each quantity of the eye what to say of the others.

    What is said of K1 or K2 is found under K1.
    """
    kept = np.ones(len(readings.value), dtype=bool)
    found: dict[tuple[Quantity, bool, Slip], int] = {}
    for suspicion in suspicions:
        for doubted in suspicion.readings:
            if suspicion.set_apart:
                kept &= ~same_reading(readings, doubted)
            if doubted.side is side:
                told_of = Quantity.K1 if doubted.quantity is Quantity.K2 else doubted.quantity
                key = told_of, suspicion.set_apart, suspicion.slip
                found[key] = found.get(key, 0) + 1
    words: dict[Quantity, str] = {}
    for (quantity, apart, slip), count in found.items():
        noun = f"{count} reading{'' if count == 1 else 's'}"
        said = f"; {noun} set apart: looks like {slip.value}" if apart else f"; {noun} doubted: maybe {slip.value}"
        words[quantity] = words.get(quantity, "") + said
    return readings.where(kept), words


def two_lengths(side: Side, suspicions: Sequence[Suspicion]) -> str:
    """Where the belief lies between two lengths, both of them."""
    found = [one for suspicion in suspicions for one in suspicion.possibilities if one.side is side]
    apart = [one for one in found if abs(one.otherwise_mm - one.as_read_mm) > TOLD_MM]
    if not apart:
        return ""
    one = max(apart, key=lambda possibility: possibility.probability)
    return (
        f"; two possibilities: {one.as_read_mm:.1f} mm as read, or about {one.otherwise_mm:.1f} mm "
        f"{CONDITIONS[one.slip]}: measure again before choosing the lens"
    )


def same_reading(readings: Readings, doubted: DoubtedReading) -> NDArray[np.bool_]:
    """Which of a person's readings a doubted one is."""
    return np.asarray(
        (readings.side == SIDES.index(doubted.side))
        & (readings.quantity == QUANTITIES.index(doubted.quantity))
        & (readings.method == METHODS.index(doubted.method))
        & (readings.repeat == doubted.repeat)
        & (readings.value == doubted.value)
    )


def astigmatism_of(
    centre: FloatArray, spread: FloatArray, pairs: Keratometry, readings: Readings, side: Side
) -> tuple[Estimate, float]:
    """Size and steep axis of the corneal astigmatism."""
    both = [Coordinate.J0, Coordinate.J45]
    found = corneal_astigmatism(j0_d=centre[Coordinate.J0], j45_d=centre[Coordinate.J45])
    size, axis = float(found.magnitude_d), float(found.steep_axis_deg)
    direction = centre[both] / np.hypot(*centre[both]) if size > 0 else np.array([1.0, 0.0])
    sd = 2.0 * float(np.sqrt(direction @ spread[np.ix_(both, both)] @ direction))
    here = pairs.side == SIDES.index(side)
    crossed, whole = here & ~np.isnan(pairs.vector.j0_d), here & ~np.isnan(pairs.vector.mean_d)
    if crossed.any():
        return Estimate(size, sd, int(crossed.sum()), counted(pairs.method[crossed], "reading")), axis
    if whole.any():
        measured = float(np.mean(np.abs(pairs.k2_d[whole] - pairs.k1_d[whole])))
        sd = 2.0 * float(np.sqrt(spread[Coordinate.MEAN_K, Coordinate.MEAN_K]))
        origin = counted(pairs.method[whole], "reading") + " without axis; the axis is the population's"
        return Estimate(measured, sd, int(whole.sum()), origin), axis
    fellow = bool((~here & ~np.isnan(pairs.vector.j0_d)).any())
    return Estimate(size, sd, 0, borrowed(fellow, other_readings(readings, side))), axis


def origin_of(readings: Readings, side: Side, quantity: Quantity) -> tuple[int, str]:
    """How many readings of this eye stand behind a quantity, and in words where it comes from."""
    here = readings.side == SIDES.index(side)
    same = readings.quantity == QUANTITIES.index(quantity)
    own = readings.method[here & same]
    if len(own):
        return len(own), counted(own, "reading")
    return 0, borrowed(bool((~here & same).any()), other_readings(readings, side))


def k_origin(pairs: Keratometry, readings: Readings, side: Side) -> tuple[int, str]:
    """The same for mean power; a pair of meridians is one reading."""
    here = pairs.side == SIDES.index(side)
    if here.any():
        return int(here.sum()), counted(pairs.method[here], "reading")
    return 0, borrowed(bool((~here).any()), other_readings(readings, side))


def helped_by(outcomes: Outcomes, side: Side) -> str:
    """What refractions add to the origin of a length or power that was not read."""
    own, other = SIDES.index(side), SIDES.index(side.other)
    if not np.isnan(outcomes.implanted_d[0, own]):
        return ", with the result of the lens implanted in this eye"
    if not np.isnan(outcomes.implanted_d[0, other]):
        return ", with the result of the lens implanted in the fellow eye"
    if not np.isnan(outcomes.phakic_d[0]).all():
        return ", with the present refraction"
    return ""


def other_readings(readings: Readings, side: Side) -> bool:
    """Whether the eye has any reading at all."""
    return bool((readings.side == SIDES.index(side)).any())


def borrowed(fellow: bool, own: bool) -> str:
    """Origin of a quantity that was not read in this eye."""
    if fellow:
        return "from the fellow eye"
    return "population, with this eye's other readings" if own else "population only"


def counted(methods: NDArray[np.intp], noun: str) -> str:
    """``5 contact ultrasound and 1 optical readings``."""
    kinds, counts = np.unique(methods, return_counts=True)
    parts = [
        f"{count} {METHODS[kind].value if METHODS[kind].value != 'unknown' else 'unnamed-method'}"
        for kind, count in zip(kinds, counts, strict=True)
    ]
    return f"{' and '.join(parts)} {noun}{'' if counts.sum() == 1 else 's'}"
