"""T2: Sheard, Smith and Cooke 2010, SRK/T with another corneal height."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..optics.arrays import FloatArray
from ..optics.vergence import lens_position_for_result, power_for_refraction, refraction_for_power
from .formula import Biometry, FormulaConstants
from .inputs import checked_constant, checked_length_and_k
from .srk_t import constant_of_position, corneal_power_d, optical_length_mm, position_of_constant

__all__ = ["COEFFICIENTS", "T2Coefficients", "constant_for_result", "lens_position_mm", "power_d", "refraction_d"]


@dataclass(frozen=True, slots=True)
class T2Coefficients:
    """The numbers of the formula, recalled; the paper's print has not been compared."""

    source: str = "sheard2010"
    height_constant_mm: float = -10.326
    height_per_length: float = 0.32630
    height_per_k: float = 0.13533


COEFFICIENTS = T2Coefficients()


def lens_position_mm(biometry: Biometry, constants: FormulaConstants) -> FloatArray:
    """Lens position that T2 expects.

    Parameters
    ----------
    biometry : Biometry
        Axial length [mm] and mean keratometry [D], any broadcastable shapes.
    constants : FormulaConstants
        ``main`` is the A-constant of SRK/T.

    Returns
    -------
    ndarray
        Corneal front to the thin lens [mm].

    Raises
    ------
    ImpossibleInputError
        On a length or keratometry that is not positive, or an infinite constant.

    Notes
    -----
    H = -10.326 + 0.32630 L + 0.13533 K, with the measured length; the rest is SRK/T. There is no root that could
    be of a negative number.

    References
    ----------
    sheard2010 (equations recalled).
    """
    return np.asarray(corneal_height(biometry) + position_of_constant(checked_constant(constants.main, "A")))


def power_d(biometry: Biometry, constants: FormulaConstants, target_d: ArrayLike) -> FloatArray:
    """Lens power for a wished refraction by T2.

    Parameters
    ----------
    biometry : Biometry
        Axial length [mm] and mean keratometry [D], any broadcastable shapes.
    constants : FormulaConstants
        ``main`` is the A-constant of SRK/T.
    target_d : array_like
        Wished spectacle refraction at 12 mm vertex [D].

    Returns
    -------
    ndarray
        Power [D].

    Raises
    ------
    ImpossibleInputError
        On input that no eye or lens can have.

    References
    ----------
    sheard2010 (equations recalled).
    """
    return power_for_refraction(
        axial_length_mm=optical_length_mm(biometry),
        lens_position_mm=lens_position_mm(biometry, constants),
        corneal_power_d=corneal_power_d(biometry),
        refraction_d=target_d,
    )


def refraction_d(biometry: Biometry, constants: FormulaConstants, power_d: ArrayLike) -> FloatArray:
    """Refraction that a lens leaves by T2; inverse of `power_d`.

    Parameters
    ----------
    biometry : Biometry
        Axial length [mm] and mean keratometry [D], any broadcastable shapes.
    constants : FormulaConstants
        ``main`` is the A-constant of SRK/T.
    power_d : array_like
        Implanted power [D].

    Returns
    -------
    ndarray
        Spectacle refraction at 12 mm vertex [D].

    Raises
    ------
    ImpossibleInputError
        On input that no eye or lens can have.

    References
    ----------
    sheard2010 (equations recalled).
    """
    return refraction_for_power(
        axial_length_mm=optical_length_mm(biometry),
        lens_position_mm=lens_position_mm(biometry, constants),
        corneal_power_d=corneal_power_d(biometry),
        power_d=power_d,
    )


def constant_for_result(
    biometry: Biometry, constants: FormulaConstants, power_d: ArrayLike, refraction_d: ArrayLike
) -> FloatArray:
    """A-constant that makes T2 exact for an observed result.

    Parameters
    ----------
    biometry : Biometry
        Axial length [mm] and mean keratometry [D] before surgery, any broadcastable shapes.
    constants : FormulaConstants
        Not used: T2 has no further constants.
    power_d : array_like
        Implanted power [D].
    refraction_d : array_like
        Spectacle refraction found after healing [D].

    Returns
    -------
    ndarray
        A-constant [D]; NaN where the result says nothing about lens position.

    Raises
    ------
    ImpossibleInputError
        On input that no eye or lens can have.

    Notes
    -----
    Closed form: the position that explains the result, less H, through the linear relation of A.

    References
    ----------
    sheard2010 (equations recalled).
    """
    del constants
    position = lens_position_for_result(
        axial_length_mm=optical_length_mm(biometry),
        corneal_power_d=corneal_power_d(biometry),
        power_d=power_d,
        refraction_d=refraction_d,
    )
    return constant_of_position(position - corneal_height(biometry))


def corneal_height(biometry: Biometry) -> FloatArray:
    """Height of the corneal dome by regression [mm]."""
    length, mean_k = checked_length_and_k(biometry)
    c = COEFFICIENTS
    return np.asarray(c.height_constant_mm + c.height_per_length * length + c.height_per_k * mean_k)
