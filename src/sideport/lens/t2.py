"""T2: Sheard, Smith and Cooke 2010, SRK/T with another corneal height."""

from dataclasses import dataclass

import numpy as np

from ..optics.arrays import FloatArray
from .formula import Biometry, FormulaConstants
from .inputs import checked_length_and_k
from .srk_t import constant_of_position, corneal_power_d, optical_length_mm, position_of_constant
from .thin_lens import ThinLens

__all__ = ["COEFFICIENTS", "THIN_LENS", "T2Coefficients"]


@dataclass(frozen=True, slots=True)
class T2Coefficients:
    """The numbers of the formula, recalled; the paper's print has not been compared."""

    source: str = "sheard2010"
    height_constant_mm: float = -10.326
    height_per_length: float = 0.32630
    height_per_k: float = 0.13533


COEFFICIENTS = T2Coefficients()


def corneal_height_mm(biometry: Biometry, _constants: FormulaConstants) -> FloatArray:
    """Height of the corneal dome by regression, the eye's part of the lens position.

    Notes
    -----
    H = -10.326 + 0.32630 L + 0.13533 K, with the measured length; the rest is SRK/T. There is no root that could
    be of a negative number.

    References
    ----------
    sheard2010 (equations recalled).
    """
    length, mean_k = checked_length_and_k(biometry)
    c = COEFFICIENTS
    return np.asarray(c.height_constant_mm + c.height_per_length * length + c.height_per_k * mean_k)


THIN_LENS = ThinLens(
    constant_name="A",
    optical_length_mm=optical_length_mm,
    corneal_power_d=corneal_power_d,
    position_of_eye_mm=corneal_height_mm,
    position_of_constant_mm=position_of_constant,
    constant_of_position=constant_of_position,
)
