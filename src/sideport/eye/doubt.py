"""What a belief becomes where readings are doubted: without them, or a mixture of with and without."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..optics.arrays import FloatArray
from ..optics.side import Side
from ..optics.vergence import power_for_refraction
from .blunder import Finding, Way, find_slips
from .coordinates import COORDINATES, Coordinate
from .oddness import mixture
from .outcome import Outcomes
from .readings import SIDES, Readings
from .slip import Possibility, SlipModel, Suspicion
from .working import EyeModel, conditioned

__all__ = ["lens_for_emmetropia", "with_doubt"]

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

    def believed(wrong: Sequence[Way], doubted: Sequence[IntArray]) -> tuple[FloatArray, FloatArray]:
        """The belief of the people concerned without some readings, and with others put to the other eye."""
        kept = np.isin(readings.person, people)
        exchanged = np.zeros(len(kept), dtype=bool)
        for way in wrong:
            (exchanged if way.exchanged else kept)[way.readings] = way.exchanged
        for left_out in doubted:
            kept[left_out] = False
        sides = np.where(exchanged, len(SIDES) - 1 - readings.side, readings.side)
        turned = replace(readings, side=sides).where(kept)
        return conditioned(turned, outcomes, means=means, people=people, model=model, slips=slips)

    apart = believed((), [finding.doubted for finding in found])[0]
    moved = lens_for_emmetropia(mean[people], slips) - lens_for_emmetropia(apart, slips)
    always, mixed = sorted_out(found, slips)
    ranks = max((len(finding.ways) for finding in mixed), default=0)
    variants = [believed((), always)]
    shares = np.zeros((ranks + 1, len(people)))
    for rank in range(ranks):
        those = [finding for finding in mixed if rank < len(finding.ways)]
        variants.append(believed([finding.ways[rank] for finding in those], always))
        for finding in those:
            shares[rank + 1, np.searchsorted(people, finding.suspicion.person)] = finding.ways[rank].chance
    shares[0] = 1.0 - shares[1:].sum(axis=0)
    mean[people], covariance[people] = mixture(variants, shares)
    centres = [part[0] for part in variants]
    return tuple(
        replace(
            finding.suspicion,
            lens_move_d=largest_move(moved[np.searchsorted(people, finding.suspicion.person)], finding.suspicion.sides),
            possibilities=possibilities_of(
                finding, [centre[np.searchsorted(people, finding.suspicion.person)] for centre in centres], slips
            )
            if any(finding is one for one in mixed)
            else (),
        )
        for finding in found
    )


def possibilities_of(finding: Finding, centres: Sequence[FloatArray], slips: SlipModel) -> tuple[Possibility, ...]:
    """The eyes that would get another lens, by the likeliest way and by exchanged eyes.

    ``centres`` are the means (14,) as read and by each way.
    """
    exchanged = [rank for rank, way in enumerate(finding.ways) if way.exchanged and way.chance >= slips.exchange]
    told = [0, *exchanged[:1]] if 0 not in exchanged else [0]
    lenses = lens_for_emmetropia(np.stack(centres), slips)
    chance = np.array([1.0 - sum(way.chance for way in finding.ways), *(way.chance for way in finding.ways)])
    found: list[Possibility] = []
    for rank in told:
        way = finding.ways[rank]
        # Readings that all but contradict each other tell nothing as they stand; the likeliest other way does.
        base = int(np.argmax(np.where(np.arange(len(chance)) == rank + 1, -1.0, chance))) if way.exchanged else 0
        for place, side in enumerate(SIDES):
            length = place * len(COORDINATES) + Coordinate.AXIAL_LENGTH
            one = Possibility(
                side=side,
                slip=way.slip,
                probability=way.chance,
                as_read_mm=float(centres[base][length]),
                otherwise_mm=float(centres[rank + 1][length]),
                as_read_lens_d=float(lenses[base, place]),
                otherwise_lens_d=float(lenses[rank + 1, place]),
            )
            if one.lens_move_d >= slips.told_d:
                found.append(one)
    return tuple(found)


def sorted_out(found: Sequence[Finding], slips: SlipModel) -> tuple[list[IntArray], list[Finding]]:
    """Readings left out in any case, and for each person at most one finding that the belief is mixed over.

    What is all but certain is left out. Of several uncertain findings of one person the first, which is the strongest,
    is mixed over, and the likeliest readings of another are left out when they are likelier wrong than right.
    """
    always: list[IntArray] = [np.zeros(0, dtype=np.intp)]
    mixed: dict[int, Finding] = {}
    for finding in found:
        if finding.suspicion.set_apart:
            always.append(finding.ways[0].readings)
        elif finding.suspicion.person not in mixed:
            mixed[finding.suspicion.person] = finding
        elif finding.ways[0].chance >= slips.likely:
            always.append(finding.ways[0].readings)
    return always, list(mixed.values())


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
