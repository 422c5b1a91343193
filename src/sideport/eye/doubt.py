"""What a belief becomes where readings are doubted: without them, or a mixture of with and without."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..optics.side import Side
from ..optics.vergence import power_for_refraction
from .blunder import MOST_SUBSETS, Finding, find_slips
from .coordinates import COORDINATES, Coordinate
from .outcome import Outcomes
from .readings import SIDES, Readings
from .slip import SlipModel, Suspicion
from .working import EyeModel, conditioned

__all__ = ["lens_for_emmetropia", "mixture", "with_doubt"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]


def with_doubt(
    mean: FloatArray,
    covariance: FloatArray,
    readings: Readings,
    outcomes: Outcomes,
    *,
    means: FloatArray,
    model: EyeModel,
    slips: SlipModel,
) -> tuple[Suspicion, ...]:
    """Looks for slips and changes ``mean`` and ``covariance`` of the people concerned in place.

    Parameters
    ----------
    mean : array, (n, 14)
        Belief from all readings.
    covariance : array, (n, 14, 14)
        Its covariance.
    readings : Readings
        All of them, sorted by person.
    outcomes : Outcomes
        The refractions.
    means : array, (n, 14)
        Prior means.
    model : EyeModel
        Prior and errors.
    slips : SlipModel
        Chances and limits.

    Returns
    -------
    tuple of Suspicion
    """
    found = find_slips(readings, outcomes, means=means, model=model, slips=slips)
    if not found:
        return ()
    people = np.unique([finding.suspicion.person for finding in found])
    inside = np.isin(readings.person, people)

    def without(left_out: list[IntArray]) -> tuple[FloatArray, FloatArray]:
        """The belief of the people concerned without some readings."""
        kept = inside.copy()
        kept[np.concatenate(left_out)] = False
        return conditioned(readings.where(kept), outcomes, means=means, people=people, model=model)

    apart = without([finding.doubted for finding in found])[0]
    moved = lens_for_emmetropia(mean[people], slips) - lens_for_emmetropia(apart, slips)
    always, mixed = sorted_out(found, slips)
    variants = [without(always)]
    shares = np.zeros((MOST_SUBSETS + 1, len(people)))
    for rank in range(MOST_SUBSETS):
        left_out = list(always)
        for finding in mixed:
            if rank < len(finding.subsets):
                left_out.append(finding.subsets[rank][0])
                shares[rank + 1, np.searchsorted(people, finding.suspicion.person)] = finding.subsets[rank][1]
        variants.append(without(left_out))
    shares[0] = 1.0 - shares[1:].sum(axis=0)
    mean[people], covariance[people] = mixture(variants, shares)
    return tuple(
        replace(
            finding.suspicion,
            lens_move_d=largest_move(moved[np.searchsorted(people, finding.suspicion.person)], finding.suspicion.sides),
        )
        for finding in found
    )


def sorted_out(found: Sequence[Finding], slips: SlipModel) -> tuple[list[IntArray], list[Finding]]:
    """Readings left out in any case, and for each person at most one finding that the belief is mixed over.

    What is all but certain is left out. Of several uncertain findings of one person the first, which is the strongest,
    is mixed over, and the likeliest readings of another are left out when they are likelier wrong than right.
    """
    always: list[IntArray] = [np.zeros(0, dtype=np.intp)]
    mixed: dict[int, Finding] = {}
    for finding in found:
        if finding.suspicion.set_apart:
            always.append(finding.subsets[0][0])
        elif finding.suspicion.person not in mixed:
            mixed[finding.suspicion.person] = finding
        elif finding.subsets[0][1] >= slips.likely:
            always.append(finding.subsets[0][0])
    return always, list(mixed.values())


def mixture(parts: Sequence[tuple[FloatArray, FloatArray]], shares: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean and covariance of mixtures of Gaussians, ``shares`` (parts, k).

    Example
    -------
    Two equal halves a standard deviation of 1 wide, 2 apart, have variance 1 + 1.

    >>> one, other = (np.zeros((1, 1)), np.ones((1, 1, 1))), (np.full((1, 1), 2.0), np.ones((1, 1, 1)))
    >>> [float(part.ravel()[0]) for part in mixture([one, other], np.array([[0.5], [0.5]]))]
    [1.0, 2.0]
    """
    mean = np.sum([share[:, None] * part[0] for part, share in zip(parts, shares, strict=True)], axis=0)
    covariance = np.zeros_like(parts[0][1])
    for (centre, spread), share in zip(parts, shares, strict=True):
        off = centre - mean
        covariance += share[:, None, None] * (spread + off[:, :, None] * off[:, None, :])
    return mean, covariance


def lens_for_emmetropia(mean: FloatArray, slips: SlipModel) -> FloatArray:
    """(k, 2) thin-lens power for emmetropia of both eyes of a mean (k, 14); NaN where no lens could do it."""
    found = np.full((len(mean), len(SIDES)), np.nan)
    for place in range(len(SIDES)):
        length, power, chamber = (
            mean[:, place * len(COORDINATES) + coordinate]
            for coordinate in (Coordinate.AXIAL_LENGTH, Coordinate.MEAN_K, Coordinate.CHAMBER_DEPTH)
        )
        position = chamber + slips.behind_chamber_mm
        sound = (position > 0) & (position < length) & (power > 0)
        found[sound, place] = power_for_refraction(
            axial_length_mm=length[sound],
            lens_position_mm=position[sound],
            corneal_power_d=slips.corneal_ratio * power[sound],
            refraction_d=0.0,
        )
    return found


def largest_move(moved: FloatArray, sides: tuple[Side, ...]) -> float:
    """The larger change among the eyes concerned; infinite where the readings make no possible eye."""
    sizes = np.abs(moved[[SIDES.index(side) for side in sides]])
    return float(np.where(np.isnan(sizes), np.inf, sizes).max())
