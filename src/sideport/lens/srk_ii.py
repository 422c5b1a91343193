"""SRK II: Sanders, Retzlaff and Kraff 1988. Historical: for reading old records, never for planning.

A regression without a lens position; its steps at round axial lengths make jumps of up to 1 D.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..optics.arrays import FloatArray, floats, in_blocks, refuse_infinite
from .formula import Biometry, FormulaConstants
from .inputs import checked_constant, checked_length_and_k

__all__ = [
    "COEFFICIENTS",
    "SrkIICoefficients",
    "constant_for_result",
    "lens_position_mm",
    "power_d",
    "refraction_d",
]


@dataclass(frozen=True, slots=True)
class SrkIICoefficients:
    """The numbers of the formula, recalled; the paper's print has not been compared."""

    source: str = "sanders1988"
    per_mm: float = -2.5
    per_k: float = -0.9
    steps_mm: tuple[float, ...] = (20.0, 21.0, 22.0, 24.5)
    added: tuple[float, ...] = (3.0, 2.0, 1.0, 0.0, -0.5)
    """What is added to A below the first step, from the first on, and so on."""
    strong_above_d: float = 14.0
    """A lens for emmetropia stronger than this changes by 1.25 D for a dioptre of refraction, a weaker by 1."""
    strong_rate: float = 1.25
    weak_rate: float = 1.0


COEFFICIENTS = SrkIICoefficients()


def lens_position_mm(biometry: Biometry, constants: FormulaConstants) -> FloatArray:
    """NaN for every eye: SRK II has no lens position.

    Parameters
    ----------
    biometry : Biometry
        Axial length [mm] and mean keratometry [D], any broadcastable shapes.
    constants : FormulaConstants
        ``main`` is the A-constant.

    Returns
    -------
    ndarray
        NaN [mm].

    Raises
    ------
    ImpossibleInputError
        On input that no eye or lens can have.
    """
    return np.asarray(np.full_like(emmetropia_power(biometry, constants), np.nan))


def power_d(biometry: Biometry, constants: FormulaConstants, target_d: ArrayLike) -> FloatArray:
    """Lens power for a wished refraction by SRK II.

    Parameters
    ----------
    biometry : Biometry
        Axial length [mm] and mean keratometry [D], any broadcastable shapes.
    constants : FormulaConstants
        ``main`` is the A-constant.
    target_d : array_like
        Wished spectacle refraction [D].

    Returns
    -------
    ndarray
        Power [D].

    Raises
    ------
    ImpossibleInputError
        On input that no eye or lens can have.

    Notes
    -----
    P0 = A + step - 2.5 L - 0.9 K; step = 3, 2, 1, 0, -0.5 for L below 20, 21, 22, 24.5 mm and from there on;
    P = P0 - CR R with CR = 1.25 where P0 > 14, else 1.

    References
    ----------
    sanders1988 (equations recalled).
    """
    target = floats(target_d)
    refuse_infinite(target, "refraction [D]")
    emmetropia = emmetropia_power(biometry, constants)
    return np.asarray(emmetropia - rate(emmetropia) * target)


def refraction_d(biometry: Biometry, constants: FormulaConstants, power_d: ArrayLike) -> FloatArray:
    """Refraction that a lens leaves by SRK II; inverse of `power_d`.

    Parameters
    ----------
    biometry : Biometry
        Axial length [mm] and mean keratometry [D], any broadcastable shapes.
    constants : FormulaConstants
        ``main`` is the A-constant.
    power_d : array_like
        Implanted power [D].

    Returns
    -------
    ndarray
        Spectacle refraction [D].

    Raises
    ------
    ImpossibleInputError
        On input that no eye or lens can have.

    References
    ----------
    sanders1988 (equations recalled).
    """
    power = floats(power_d)
    refuse_infinite(power, "lens power [D]")
    emmetropia = emmetropia_power(biometry, constants)
    return np.asarray((emmetropia - power) / rate(emmetropia))


def constant_for_result(
    biometry: Biometry, constants: FormulaConstants, power_d: ArrayLike, refraction_d: ArrayLike
) -> FloatArray:
    """A-constant that makes SRK II exact for an observed result.

    Parameters
    ----------
    biometry : Biometry
        Axial length [mm] and mean keratometry [D] before surgery, any broadcastable shapes.
    constants : FormulaConstants
        Not used: SRK II has no further constants.
    power_d : array_like
        Implanted power [D].
    refraction_d : array_like
        Spectacle refraction found after healing [D].

    Returns
    -------
    ndarray
        A-constant [D]; NaN where none explains the result.

    Raises
    ------
    ImpossibleInputError
        On input that no eye or lens can have.

    Notes
    -----
    Linear in A but for the change of rate at P0 = 14. With a hyperopic result both rates may fit, and the strong
    lens's is taken; with a myopic one neither may, and there is no constant.

    References
    ----------
    sanders1988 (equations recalled).
    """
    del constants
    power, refraction = floats(power_d), floats(refraction_d)
    refuse_infinite(power, "lens power [D]")
    refuse_infinite(refraction, "refraction [D]")
    c = COEFFICIENTS
    strong = power + c.strong_rate * refraction
    weak = power + c.weak_rate * refraction
    weak_or_none = np.where(weak <= c.strong_above_d, weak, np.nan)
    emmetropia = np.where(strong > c.strong_above_d, strong, weak_or_none)
    return np.asarray(emmetropia - emmetropia_power(biometry, FormulaConstants(main=0.0)))


def emmetropia_power(biometry: Biometry, constants: FormulaConstants) -> FloatArray:
    """Power for refraction 0 [D]."""
    length, mean_k = checked_length_and_k(biometry)
    return in_blocks(regression, length, mean_k, checked_constant(constants.main, "A"))


def regression(length: FloatArray, mean_k: FloatArray, a_constant: FloatArray) -> FloatArray:
    """The regression with its step for the axial length."""
    c = COEFFICIENTS
    step = np.asarray(c.added)[np.searchsorted(c.steps_mm, length, side="right")]
    return np.asarray(a_constant + step + c.per_mm * length + c.per_k * mean_k)


def rate(emmetropia: FloatArray) -> FloatArray:
    """Change of power for a dioptre of refraction [1]."""
    c = COEFFICIENTS
    return np.where(emmetropia > c.strong_above_d, c.strong_rate, c.weak_rate)
