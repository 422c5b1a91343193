"""Will the nucleus pass: its size as a belief, and the opening of a slit that gives a little."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ellipe, ndtr

from ..errors import ImpossibleInputError
from ..knowledge import Basis, Knowledge
from ..optics.arrays import FloatArray, floats, refuse_unless_positive
from .nucleus import NucleusBelief

__all__ = [
    "Passage",
    "needed_slit_mm",
    "passage",
    "probability_passes",
    "shortest_passing_length_mm",
]

POINTS, MASSES = np.polynomial.hermite_e.hermegauss(20)
MASSES = MASSES / MASSES.sum()
LONGEST_MM = 40.0
"""Where the search for a length begins: longer than the limbus is round."""


@dataclass(frozen=True, slots=True)
class Passage:
    """What a length of cut means for a nucleus."""

    probability: float
    """That the nucleus passes without force."""
    enough_mm: float
    """Shortest cut that passes at the asked level."""
    level: float
    rigid_mm: float
    """Slit that a nucleus of the mean size needs if nothing gives."""
    stretch: float
    source: str
    basis: Basis


def needed_slit_mm(*, diameter_mm: ArrayLike, thickness_mm: ArrayLike) -> FloatArray:
    """Length of a flat rigid slit that just lets a nucleus through edge first.

    Parameters
    ----------
    diameter_mm, thickness_mm : array_like
        The nucleus across and through [mm].

    Returns
    -------
    ndarray
        Length [mm].

    Raises
    ------
    ImpossibleInputError
        For a size that is not positive.

    Notes
    -----
    The lips of a slit of length L are a closed line of 2 L; the nucleus seen from its edge is an ellipse. So L is half
    the perimeter, ``2 a E(1 - b^2 / a^2)`` with half-axes a >= b and the complete elliptic integral E.

    Examples
    --------
    >>> round(float(needed_slit_mm(diameter_mm=7.13, thickness_mm=3.05)), 1)
    8.3
    """
    across, through = floats(diameter_mm), floats(thickness_mm)
    refuse_unless_positive(across, "diameter of the nucleus [mm]")
    refuse_unless_positive(through, "thickness of the nucleus [mm]")
    return half_perimeter(across, through)


def half_perimeter(across: FloatArray, through: FloatArray) -> FloatArray:
    """Half the perimeter of an ellipse with these whole axes."""
    long, short = np.maximum(across, through), np.minimum(across, through)
    return np.asarray(long * ellipe(1.0 - (short / long) ** 2))


def probability_passes(*, length_mm: ArrayLike, nucleus: NucleusBelief, knowledge: Knowledge) -> FloatArray:
    """Probability that a nucleus passes a cut without force.

    Parameters
    ----------
    length_mm : array_like
        Outer cut [mm].
    nucleus : NucleusBelief
        Its size.
    knowledge : Knowledge
        Holds ``nucleus.toml``.

    Returns
    -------
    ndarray
        Probability, rising with length; NaN where the length is NaN.

    Raises
    ------
    ImpossibleInputError
        For a length that is not positive.

    Notes
    -----
    It passes when the slit it needs is no longer than length times stretch. Diameter and thickness are normal and
    correlated, the stretch is normal and its own; Gauss-Hermite over the size, the stretch in closed form. The stretch
    is stated, not measured: see ``nucleus.stretch``.
    """
    length = floats(length_mm)
    refuse_unless_positive(length, "length of the cut [mm]")
    needed, mass = needed_draws(nucleus)
    return chance(length, needed, mass, knowledge)


def needed_draws(nucleus: NucleusBelief) -> tuple[FloatArray, FloatArray]:
    """Rigid slits that the belief's quadrature points need, with their masses."""
    first, second = np.meshgrid(POINTS, POINTS, indexing="ij")
    own = np.sqrt(1.0 - nucleus.correlation**2)
    across = nucleus.diameter_mm + nucleus.diameter_sd_mm * first
    through = nucleus.thickness_mm + nucleus.thickness_sd_mm * (nucleus.correlation * first + own * second)
    # The outermost points of a wide belief fall below zero with a mass under 1e-9; their size is taken unsigned.
    return half_perimeter(np.abs(across), np.abs(through)).ravel(), np.outer(MASSES, MASSES).ravel()


def chance(length: FloatArray, needed: FloatArray, mass: FloatArray, knowledge: Knowledge) -> FloatArray:
    """Probability by length from the slits needed."""
    stretch = knowledge.number("nucleus.stretch")
    room = stretch.value - needed / length[..., None]
    return np.asarray((ndtr(room / stretch.spread) if stretch.spread else (room >= 0).astype(float)) @ mass)


def shortest_passing_length_mm(*, nucleus: NucleusBelief, level: ArrayLike, knowledge: Knowledge) -> FloatArray:
    """Shortest cut that the nucleus passes with at least a given probability.

    Parameters
    ----------
    nucleus : NucleusBelief
        Its size.
    level : array_like
        Probability, over 0 and under 1.
    knowledge : Knowledge
        Holds ``nucleus.toml``.

    Returns
    -------
    ndarray
        Length [mm].

    Raises
    ------
    ImpossibleInputError
        For a level that no cut or every cut reaches.

    Notes
    -----
    Bisection; the probability rises with the length. Twenty-six halvings leave 6e-7 mm.
    """
    wanted = floats(level)
    if np.any((wanted <= 0) | (wanted >= 1)):
        raise ImpossibleInputError("A level is not over 0 and under 1; give the wished probability, for example 0.9.")
    needed, mass = needed_draws(nucleus)
    low, high = np.full(wanted.shape, 1e-3), np.full(wanted.shape, LONGEST_MM)
    for _ in range(26):
        middle = 0.5 * (low + high)
        short = chance(middle, needed, mass, knowledge) < wanted
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    return np.asarray(np.where(np.isnan(wanted), np.nan, high))


def passage(*, length_mm: float, nucleus: NucleusBelief, knowledge: Knowledge, level: float | None = None) -> Passage:
    """What one length means for one nucleus.

    Parameters
    ----------
    length_mm : float
        Outer cut [mm].
    nucleus : NucleusBelief
        Its size.
    knowledge : Knowledge
        Holds ``nucleus.toml``.
    level : float, optional
        Wished probability; ``None`` takes ``nucleus.pass_level``.

    Returns
    -------
    Passage
        Probability, the length that would be enough, and what both rest on.
    """
    asked = knowledge.value("nucleus.pass_level") if level is None else level
    stretch = knowledge.number("nucleus.stretch")
    return Passage(
        probability=float(probability_passes(length_mm=length_mm, nucleus=nucleus, knowledge=knowledge)),
        enough_mm=float(shortest_passing_length_mm(nucleus=nucleus, level=asked, knowledge=knowledge)),
        level=asked,
        rigid_mm=float(needed_slit_mm(diameter_mm=nucleus.diameter_mm, thickness_mm=nucleus.thickness_mm)),
        stretch=stretch.value,
        source=nucleus.source,
        basis=stretch.basis,
    )
