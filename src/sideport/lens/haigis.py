"""Haigis: Haigis, Lege, Miller and Schneider 2000."""

from dataclasses import dataclass

import numpy as np

from ..optics.arrays import FloatArray
from .formula import Biometry, FormulaConstants
from .inputs import checked_chamber_depth, checked_constant, checked_length_and_k
from .thin_lens import ThinLens, corneal_power_at_index, measured_length_mm

__all__ = ["COEFFICIENTS", "THIN_LENS", "HaigisCoefficients"]


@dataclass(frozen=True, slots=True)
class HaigisCoefficients:
    """The numbers of the formula, recalled; the paper's print has not been compared."""

    source: str = "haigis2000"
    cornea_index: float = 1.3315


COEFFICIENTS = HaigisCoefficients()


def measured_share_mm(biometry: Biometry, constants: FormulaConstants) -> FloatArray:
    """What chamber depth and length add to a0, the eye's part of the lens position; NaN without a chamber depth.

    Notes
    -----
    position = a0 + a1 ACD + a2 L. An a0 merely converted from an A-constant gives a stronger lens than the other
    formulas by a dioptre or more in short and average eyes: such an a0 needs own results before a patient
    depends on it.

    References
    ----------
    haigis2000 (equations recalled).
    """
    length, _ = checked_length_and_k(biometry)
    depth = checked_chamber_depth(biometry)
    return np.asarray(checked_constant(constants.a1, "a1") * depth + checked_constant(constants.a2, "a2") * length)


def corneal_power_d(biometry: Biometry) -> FloatArray:
    """Corneal power at the formula's index [D]."""
    return corneal_power_at_index(biometry, COEFFICIENTS.cornea_index)


THIN_LENS = ThinLens(
    constant_name="a0",
    optical_length_mm=measured_length_mm,
    corneal_power_d=corneal_power_d,
    position_of_eye_mm=measured_share_mm,
)
