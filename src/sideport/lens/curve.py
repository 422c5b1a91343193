"""Refraction as a function of lens power for a fixed eye: the exact curve through three powers."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..optics.arrays import FloatArray
from .formula import Biometry, Formula, FormulaConstants

__all__ = ["PowerCurve", "power_curve"]

LEAST_REACH_D = 5.0
"""Nearest that the outer two powers lie to the middle one, so that one power alone still gives a curve."""


@dataclass(frozen=True, slots=True, eq=False)
class PowerCurve:
    """``level + strength / (power + offset)``: a hyperbola in the lens power, three arrays of one shape."""

    level_d: FloatArray
    strength_d2: FloatArray
    offset_d: FloatArray

    def at(self, power_d: FloatArray) -> FloatArray:
        """The refraction [D] at powers that broadcast against the curve's arrays."""
        found = np.asarray(self.offset_d + power_d)
        np.divide(self.strength_d2, found, out=found)
        found += self.level_d
        return found


def power_curve(*, formula: Formula, biometry: Biometry, constants: FormulaConstants, power_d: ArrayLike) -> PowerCurve:
    """The curve of refraction over lens power of each eye.

    Parameters
    ----------
    formula : Formula
    biometry : Biometry
        Arrays of any broadcastable shape.
    constants : FormulaConstants
        Broadcastable against the biometry.
    power_d : array_like, shape (m,) [D]
        The powers that will be asked for; the formula itself is run at their ends and middle.

    Returns
    -------
    PowerCurve
        Arrays of the biometry's shape; NaN for an eye that the formula knows nothing of.

    Raises
    ------
    ImpossibleInputError
        As the formula.

    Notes
    -----
    Every step from power to refraction in a thin-lens formula (needed vergence, over the distance to the cornea, less
    the cornea, out to the spectacles) is a quotient of straight lines in the power, and so is the whole: three powers
    determine it. It is exact, not an approximation, and agrees with the formula to rounding. With f0 in the middle,
    f- and f+ at a reach h to either side, f = (f0 + s x) / (1 + b x), where b = (f+ + f- - 2 f0) / (h (f- - f+)) and
    s = (f+ - f0) / h + b f+; written as a hyperbola it takes three steps a lens. b is never 0: the spectacles stand in
    front of the cornea and the lens behind it, and both bend the curve the same way.

    Example
    -------
    >>> from .registry import FORMULAS
    >>> eye, constants = Biometry(axial_length_mm=23.45, mean_k_d=43.81), FormulaConstants(main=118.4)
    >>> curve = power_curve(formula=FORMULAS["srk-t"], biometry=eye, constants=constants, power_d=[10.0, 30.0])
    >>> apart = curve.at(np.array(21.0)) - FORMULAS["srk-t"].refraction_d(eye, constants, 21.0)
    >>> abs(float(apart)) < 1e-11
    True
    """
    powers = np.asarray(power_d, dtype=np.float64)
    low, high = float(powers.min()), float(powers.max())
    centre, reach = 0.5 * (low + high), max(0.5 * (high - low), LEAST_REACH_D)
    below, middle, above = (at_power(formula, biometry, constants, centre + by) for by in (-reach, 0.0, reach))
    bend = (above + below - 2.0 * middle) / (reach * (below - above))
    slope = (above - middle) / reach + bend * above
    level = slope / bend
    return PowerCurve(level_d=level, strength_d2=(middle - level) / bend, offset_d=1.0 / bend - centre)


def at_power(formula: Formula, biometry: Biometry, constants: FormulaConstants, power_d: float) -> FloatArray:
    """The formula's refraction at one power."""
    return np.asarray(formula.refraction_d(biometry, constants, power_d), dtype=np.float64)
