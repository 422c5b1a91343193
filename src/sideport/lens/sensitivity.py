"""How much an error of measurement moves the refraction: dioptres a millimetre, dioptres a dioptre."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..errors import ImpossibleInputError
from .constants import CONSTANT_OF_FORMULA, from_a
from .formula import Biometry, FormulaConstants
from .registry import formula

__all__ = ["keratometry_sensitivity", "length_sensitivity"]

FloatArray = NDArray[np.float64]

STEP_MM = 0.01
STEP_D = 0.01


def length_sensitivity(
    *, formula_key: str, axial_length_mm: ArrayLike, mean_k_d: ArrayLike, a_constant: ArrayLike
) -> FloatArray:
    """Change of the refraction for each millimetre that the eye is longer than measured.

    Parameters
    ----------
    formula_key : str
        A formula that needs no chamber depth.
    axial_length_mm : array_like, any shape [mm]
    mean_k_d : array_like, broadcastable [D]
    a_constant : array_like, broadcastable [A units]

    Returns
    -------
    ndarray [D/mm]
        Negative: a longer eye ends more short-sighted.

    Raises
    ------
    ImpossibleInputError
        On a formula that needs the chamber depth.

    Notes
    -----
    Central difference of the formula about the eye, with the lens that the formula calls right for it.

    Example
    -------
    >>> found = length_sensitivity(formula_key="hoffer-q", axial_length_mm=23.5, mean_k_d=43.8, a_constant=118.4)
    >>> float(found.round(2))
    -2.35
    """
    return slope(formula_key, axial_length_mm, mean_k_d, a_constant, STEP_MM, 0.0)


def keratometry_sensitivity(
    *, formula_key: str, axial_length_mm: ArrayLike, mean_k_d: ArrayLike, a_constant: ArrayLike
) -> FloatArray:
    """Change of the refraction for each dioptre that the cornea is steeper than measured.

    Parameters
    ----------
    formula_key : str
        A formula that needs no chamber depth.
    axial_length_mm : array_like, any shape [mm]
    mean_k_d : array_like, broadcastable [D]
    a_constant : array_like, broadcastable [A units]

    Returns
    -------
    ndarray [D/D]
        Negative: a steeper cornea ends more short-sighted.

    Raises
    ------
    ImpossibleInputError
        On a formula that needs the chamber depth.

    Notes
    -----
    As ``length_sensitivity``.
    """
    return slope(formula_key, axial_length_mm, mean_k_d, a_constant, 0.0, STEP_D)


def slope(
    formula_key: str, length: ArrayLike, mean_k: ArrayLike, a_constant: ArrayLike, step_mm: float, step_d: float
) -> FloatArray:
    """Difference quotient of the refraction along one measurement."""
    chosen = formula(formula_key)
    if chosen.needs_chamber_depth:
        raise ImpossibleInputError(f"{chosen.label} needs a chamber depth; ask about a formula that does without.")
    at, steep = np.asarray(length, dtype=np.float64), np.asarray(mean_k, dtype=np.float64)
    constants = FormulaConstants(from_a(CONSTANT_OF_FORMULA[formula_key], a_constant))
    power = chosen.power_d(Biometry(at, steep), constants, 0.0)
    after = chosen.refraction_d(Biometry(at + step_mm, steep + step_d), constants, power)
    before = chosen.refraction_d(Biometry(at - step_mm, steep - step_d), constants, power)
    return np.asarray((after - before) / (2 * (step_mm + step_d)))
