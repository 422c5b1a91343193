"""Haigis: Haigis, Lege, Miller and Schneider 2000."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..optics.arrays import FloatArray
from ..optics.keratometry import KERATOMETRIC_INDEX
from ..optics.vergence import lens_position_for_result, power_for_refraction, refraction_for_power
from .formula import Biometry, FormulaConstants
from .inputs import checked_chamber_depth, checked_constant, checked_length_and_k

__all__ = [
    "COEFFICIENTS",
    "HaigisCoefficients",
    "constant_for_result",
    "lens_position_mm",
    "power_d",
    "refraction_d",
]


@dataclass(frozen=True, slots=True)
class HaigisCoefficients:
    """The numbers of the formula, recalled; the paper's print has not been compared."""

    source: str = "haigis2000"
    cornea_index: float = 1.3315


COEFFICIENTS = HaigisCoefficients()


def lens_position_mm(biometry: Biometry, constants: FormulaConstants) -> FloatArray:
    """Lens position that Haigis expects.

    Parameters
    ----------
    biometry : Biometry
        Axial length and chamber depth (corneal front to lens front, before surgery) [mm], any broadcastable shapes.
    constants : FormulaConstants
        ``main`` is a0 [mm], ``a1`` the share of the chamber depth, ``a2`` that of the axial length [1].

    Returns
    -------
    ndarray
        Corneal front to the thin lens [mm]; NaN where the chamber depth was not measured.

    Raises
    ------
    ImpossibleInputError
        On a length, depth or keratometry that is not positive, or an infinite constant.

    Notes
    -----
    position = a0 + a1 ACD + a2 L. An a0 merely converted from an A-constant gives a stronger lens than the other
    formulas by a dioptre or more in short and average eyes: such an a0 needs own results before a patient
    depends on it.

    References
    ----------
    haigis2000 (equations recalled).
    """
    return np.asarray(checked_constant(constants.main, "a0") + measured_share(biometry, constants))


def power_d(biometry: Biometry, constants: FormulaConstants, target_d: ArrayLike) -> FloatArray:
    """Lens power for a wished refraction by Haigis.

    Parameters
    ----------
    biometry : Biometry
        Axial length, chamber depth [mm] and mean keratometry [D], any broadcastable shapes.
    constants : FormulaConstants
        ``main`` is a0 [mm]; ``a1`` and ``a2`` its two shares [1].
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
    haigis2000 (equations recalled).
    """
    return power_for_refraction(
        axial_length_mm=biometry.axial_length_mm,
        lens_position_mm=lens_position_mm(biometry, constants),
        corneal_power_d=corneal_power_d(biometry),
        refraction_d=target_d,
    )


def refraction_d(biometry: Biometry, constants: FormulaConstants, power_d: ArrayLike) -> FloatArray:
    """Refraction that a lens leaves by Haigis; inverse of `power_d`.

    Parameters
    ----------
    biometry : Biometry
        Axial length, chamber depth [mm] and mean keratometry [D], any broadcastable shapes.
    constants : FormulaConstants
        ``main`` is a0 [mm]; ``a1`` and ``a2`` its two shares [1].
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
    haigis2000 (equations recalled).
    """
    return refraction_for_power(
        axial_length_mm=biometry.axial_length_mm,
        lens_position_mm=lens_position_mm(biometry, constants),
        corneal_power_d=corneal_power_d(biometry),
        power_d=power_d,
    )


def constant_for_result(
    biometry: Biometry, constants: FormulaConstants, power_d: ArrayLike, refraction_d: ArrayLike
) -> FloatArray:
    """Constant a0 that makes Haigis exact for an observed result, with a1 and a2 as given.

    Parameters
    ----------
    biometry : Biometry
        Axial length, chamber depth [mm] and mean keratometry [D] before surgery, any broadcastable shapes.
    constants : FormulaConstants
        ``a1`` and ``a2`` are used, ``main`` is not.
    power_d : array_like
        Implanted power [D].
    refraction_d : array_like
        Spectacle refraction found after healing [D].

    Returns
    -------
    ndarray
        Constant a0 [mm]; NaN where the result says nothing about lens position.

    Raises
    ------
    ImpossibleInputError
        On input that no eye or lens can have.

    Notes
    -----
    Closed form: the position that explains the result, less a1 ACD + a2 L.

    References
    ----------
    haigis2000 (equations recalled).
    """
    position = lens_position_for_result(
        axial_length_mm=biometry.axial_length_mm,
        corneal_power_d=corneal_power_d(biometry),
        power_d=power_d,
        refraction_d=refraction_d,
    )
    return np.asarray(position - measured_share(biometry, constants))


def corneal_power_d(biometry: Biometry) -> FloatArray:
    """Corneal power at the formula's index [D]."""
    _, mean_k = checked_length_and_k(biometry)
    return np.asarray(mean_k * ((COEFFICIENTS.cornea_index - 1.0) / (KERATOMETRIC_INDEX - 1.0)))


def measured_share(biometry: Biometry, constants: FormulaConstants) -> FloatArray:
    """The part of the position that depth and length give [mm]."""
    length, _ = checked_length_and_k(biometry)
    depth = checked_chamber_depth(biometry)
    return np.asarray(checked_constant(constants.a1, "a1") * depth + checked_constant(constants.a2, "a2") * length)
