"""Hoffer Q: Hoffer 1993, with the errata of 1994."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..optics.arrays import FloatArray, in_blocks
from ..optics.vergence import lens_position_for_result, power_for_refraction, refraction_for_power
from .formula import Biometry, FormulaConstants
from .inputs import checked_constant, checked_length_and_k

__all__ = [
    "COEFFICIENTS",
    "HofferQCoefficients",
    "constant_for_result",
    "lens_position_mm",
    "power_d",
    "refraction_d",
]


@dataclass(frozen=True, slots=True)
class HofferQCoefficients:
    """The numbers of the formula, recalled; the paper's print has not been compared."""

    source: str = "hoffer1993"
    shortest_mm: float = 18.5
    longest_mm: float = 31.0
    """The length that predicts position is held between these two; the optical length is not."""
    middle_mm: float = 23.5
    per_mm: float = 0.3
    turn_mm: float = 23.0
    """Up to it the eye counts as short: M = +1, G = 28; above it M = -1, G = 23.5."""
    short_pole_mm: float = 28.0
    long_pole_mm: float = 23.5
    bend: float = 0.1
    constant_mm: float = -0.99166
    plane_mm: float = 0.05
    """From the anterior chamber depth C to the position of the thin lens."""


COEFFICIENTS = HofferQCoefficients()


def lens_position_mm(biometry: Biometry, constants: FormulaConstants) -> FloatArray:
    """Lens position that Hoffer Q expects: its chamber depth C and 0.05 mm.

    Parameters
    ----------
    biometry : Biometry
        Axial length [mm] and mean keratometry [D], any broadcastable shapes.
    constants : FormulaConstants
        ``main`` is pACD [mm].

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
    A = L held to 18.5-31; M = +1, G = 28 up to 23.0 mm, M = -1, G = 23.5 above;
    C = pACD + 0.3 (A - 23.5) + tan^2 K + 0.1 M (23.5 - A)^2 tan(0.1 (G - A)^2) - 0.99166; position = C + 0.05.
    Both tangents take degrees: K dioptres as degrees, 0.1 (G - A)^2 as degrees. Some accounts limit C to 2.5-6.5 mm;
    that is not done, as no print that says so was read.

    References
    ----------
    hoffer1993 with its errata (equations recalled).
    """
    length, mean_k = checked_length_and_k(biometry)
    return in_blocks(depth_less_constant, length, mean_k) + checked_constant(constants.main, "pACD")


def power_d(biometry: Biometry, constants: FormulaConstants, target_d: ArrayLike) -> FloatArray:
    """Lens power for a wished refraction by Hoffer Q.

    Parameters
    ----------
    biometry : Biometry
        Axial length [mm] and mean keratometry [D], any broadcastable shapes.
    constants : FormulaConstants
        ``main`` is pACD [mm].
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
    hoffer1993 with its errata (equations recalled).
    """
    return power_for_refraction(
        axial_length_mm=biometry.axial_length_mm,
        lens_position_mm=lens_position_mm(biometry, constants),
        corneal_power_d=biometry.mean_k_d,
        refraction_d=target_d,
    )


def refraction_d(biometry: Biometry, constants: FormulaConstants, power_d: ArrayLike) -> FloatArray:
    """Refraction that a lens leaves by Hoffer Q; inverse of `power_d`.

    Parameters
    ----------
    biometry : Biometry
        Axial length [mm] and mean keratometry [D], any broadcastable shapes.
    constants : FormulaConstants
        ``main`` is pACD [mm].
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
    hoffer1993 with its errata (equations recalled).
    """
    return refraction_for_power(
        axial_length_mm=biometry.axial_length_mm,
        lens_position_mm=lens_position_mm(biometry, constants),
        corneal_power_d=biometry.mean_k_d,
        power_d=power_d,
    )


def constant_for_result(
    biometry: Biometry, constants: FormulaConstants, power_d: ArrayLike, refraction_d: ArrayLike
) -> FloatArray:
    """Constant pACD that makes Hoffer Q exact for an observed result.

    Parameters
    ----------
    biometry : Biometry
        Axial length [mm] and mean keratometry [D] before surgery, any broadcastable shapes.
    constants : FormulaConstants
        Not used: Hoffer Q has no further constants.
    power_d : array_like
        Implanted power [D].
    refraction_d : array_like
        Spectacle refraction found after healing [D].

    Returns
    -------
    ndarray
        Constant pACD [mm]; NaN where the result says nothing about lens position.

    Raises
    ------
    ImpossibleInputError
        On input that no eye or lens can have.

    Notes
    -----
    Closed form: pACD is added to the position, so it is the position that explains the result, less the rest.

    References
    ----------
    hoffer1993 with its errata (equations recalled).
    """
    del constants
    length, mean_k = checked_length_and_k(biometry)
    position = lens_position_for_result(
        axial_length_mm=length, corneal_power_d=mean_k, power_d=power_d, refraction_d=refraction_d
    )
    return np.asarray(position - in_blocks(depth_less_constant, length, mean_k))


def depth_less_constant(length: FloatArray, mean_k: FloatArray) -> FloatArray:
    """Lens position but for pACD [mm]."""
    c = COEFFICIENTS
    held = np.clip(length, c.shortest_mm, c.longest_mm)
    short = length <= c.turn_mm
    pole = np.where(short, c.short_pole_mm, c.long_pole_mm) - held
    turn = np.where(short, c.bend, -c.bend)
    from_middle = held - c.middle_mm
    steepness = np.tan(np.radians(mean_k))
    curve = turn * from_middle * from_middle * np.tan(np.radians(c.bend * pole * pole))
    return np.asarray(c.per_mm * from_middle + steepness * steepness + curve + (c.constant_mm + c.plane_mm))
