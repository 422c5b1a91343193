"""How much an error of axial length moves the refraction: the textbook rule, kept as a check of the formulas."""

import numpy as np
from numpy.typing import ArrayLike

from ..errors import ImpossibleInputError
from ..optics.arrays import FloatArray, floats
from .constants import CONSTANT_OF_FORMULA, from_a
from .formula import Biometry, FormulaConstants
from .registry import formula

__all__ = ["length_sensitivity"]

STEP_MM = 0.01


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
    chosen = formula(formula_key)
    if chosen.needs_chamber_depth:
        raise ImpossibleInputError(f"{chosen.label} needs a chamber depth; ask about a formula that does without.")
    length, mean_k = floats(axial_length_mm), floats(mean_k_d)
    constants = FormulaConstants(from_a(CONSTANT_OF_FORMULA[formula_key], a_constant))
    power = chosen.power_d(Biometry(length, mean_k), constants, 0.0)
    after = chosen.refraction_d(Biometry(length + STEP_MM, mean_k), constants, power)
    before = chosen.refraction_d(Biometry(length - STEP_MM, mean_k), constants, power)
    return np.asarray((after - before) / (2 * STEP_MM))
