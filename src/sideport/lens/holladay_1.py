"""Holladay 1: Holladay, Prager, Chandler, Musgrove, Lewis and Ruiz 1988."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..optics.arrays import FloatArray, in_blocks
from ..optics.keratometry import KERATOMETRIC_INDEX
from ..optics.vergence import lens_position_for_result, power_for_refraction, refraction_for_power
from .formula import Biometry, FormulaConstants
from .inputs import checked_constant, checked_length_and_k

__all__ = [
    "COEFFICIENTS",
    "Holladay1Coefficients",
    "constant_for_result",
    "lens_position_mm",
    "power_d",
    "refraction_d",
]


@dataclass(frozen=True, slots=True)
class Holladay1Coefficients:
    """The numbers of the formula, recalled; the paper's print has not been compared."""

    source: str = "holladay1988"
    steepest_mm: float = 7.0
    """The radius that predicts the dome's height is never taken below it."""
    diameter_mm: float = 12.5
    """Diameter of the anterior segment in an eye of reference length, to which it is proportional."""
    reference_length_mm: float = 23.45
    widest_mm: float = 13.5
    thickness_mm: float = 0.56
    retina_mm: float = 0.200
    cornea_index: float = 4.0 / 3.0


COEFFICIENTS = Holladay1Coefficients()


def lens_position_mm(biometry: Biometry, constants: FormulaConstants) -> FloatArray:
    """Lens position that Holladay 1 expects.

    Parameters
    ----------
    biometry : Biometry
        Axial length [mm] and mean keratometry [D], any broadcastable shapes.
    constants : FormulaConstants
        ``main`` is the surgeon factor SF [mm].

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
    Rag = max(337.5 / K, 7); AG = min(12.5 L / 23.45, 13.5); aACD = 0.56 + Rag - sqrt(Rag^2 - AG^2 / 4);
    position = aACD + SF. The two limits are the paper's; with them the root is always of a positive number.

    References
    ----------
    holladay1988 (equations recalled).
    """
    length, mean_k = checked_length_and_k(biometry)
    return in_blocks(anatomic_depth, length, mean_k) + checked_constant(constants.main, "SF")


def power_d(biometry: Biometry, constants: FormulaConstants, target_d: ArrayLike) -> FloatArray:
    """Lens power for a wished refraction by Holladay 1.

    Parameters
    ----------
    biometry : Biometry
        Axial length [mm] and mean keratometry [D], any broadcastable shapes.
    constants : FormulaConstants
        ``main`` is the surgeon factor SF [mm].
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
    holladay1988 (equations recalled; the long published quotient equals this relation).
    """
    return power_for_refraction(
        axial_length_mm=optical_length_mm(biometry),
        lens_position_mm=lens_position_mm(biometry, constants),
        corneal_power_d=corneal_power_d(biometry),
        refraction_d=target_d,
    )


def refraction_d(biometry: Biometry, constants: FormulaConstants, power_d: ArrayLike) -> FloatArray:
    """Refraction that a lens leaves by Holladay 1; inverse of `power_d`.

    Parameters
    ----------
    biometry : Biometry
        Axial length [mm] and mean keratometry [D], any broadcastable shapes.
    constants : FormulaConstants
        ``main`` is the surgeon factor SF [mm].
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
    holladay1988 (equations recalled; the long published quotient equals this relation).
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
    """Surgeon factor that makes Holladay 1 exact for an observed result.

    Parameters
    ----------
    biometry : Biometry
        Axial length [mm] and mean keratometry [D] before surgery, any broadcastable shapes.
    constants : FormulaConstants
        Not used: Holladay 1 has no further constants.
    power_d : array_like
        Implanted power [D].
    refraction_d : array_like
        Spectacle refraction found after healing [D].

    Returns
    -------
    ndarray
        Surgeon factor SF [mm]; NaN where the result says nothing about lens position.

    Raises
    ------
    ImpossibleInputError
        On input that no eye or lens can have.

    Notes
    -----
    Closed form: the position that explains the result, less the anatomic depth. Equal to the paper's quadratic.

    References
    ----------
    holladay1988 (equations recalled; the long published quotient equals this relation).
    """
    del constants
    length, mean_k = checked_length_and_k(biometry)
    position = lens_position_for_result(
        axial_length_mm=optical_length_mm(biometry),
        corneal_power_d=corneal_power_d(biometry),
        power_d=power_d,
        refraction_d=refraction_d,
    )
    return np.asarray(position - in_blocks(anatomic_depth, length, mean_k))


def optical_length_mm(biometry: Biometry) -> FloatArray:
    """Axial length with the retina's thickness added [mm]."""
    length, _ = checked_length_and_k(biometry)
    return np.asarray(length + COEFFICIENTS.retina_mm)


def corneal_power_d(biometry: Biometry) -> FloatArray:
    """Corneal power at the formula's index [D]."""
    _, mean_k = checked_length_and_k(biometry)
    return np.asarray(mean_k * ((COEFFICIENTS.cornea_index - 1.0) / (KERATOMETRIC_INDEX - 1.0)))


def anatomic_depth(length: FloatArray, mean_k: FloatArray) -> FloatArray:
    """Depth of the anterior chamber from the corneal dome [mm]."""
    c = COEFFICIENTS
    radius = np.maximum(1000.0 * (KERATOMETRIC_INDEX - 1.0) / mean_k, c.steepest_mm)
    half_width = 0.5 * np.minimum(c.diameter_mm / c.reference_length_mm * length, c.widest_mm)
    return np.asarray(c.thickness_mm + radius - np.sqrt(radius * radius - half_width * half_width))
