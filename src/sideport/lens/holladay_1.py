"""Holladay 1: Holladay, Prager, Chandler, Musgrove, Lewis and Ruiz 1988."""

from dataclasses import dataclass

import numpy as np

from ..optics.arrays import FloatArray, in_blocks
from ..optics.keratometry import KERATOMETRIC_INDEX
from .formula import Biometry, FormulaConstants
from .inputs import checked_length_and_k
from .thin_lens import ThinLens, corneal_power_at_index

__all__ = ["COEFFICIENTS", "THIN_LENS", "Holladay1Coefficients"]


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


def anatomic_depth_mm(biometry: Biometry, _constants: FormulaConstants) -> FloatArray:
    """Depth of the anterior chamber from the corneal dome, the eye's part of the lens position.

    Notes
    -----
    Rag = max(337.5 / K, 7); AG = min(12.5 L / 23.45, 13.5); aACD = 0.56 + Rag - sqrt(Rag^2 - AG^2 / 4);
    position = aACD + SF. The two limits are the paper's; with them the root is always of a positive number.

    References
    ----------
    holladay1988 (equations recalled; the long published quotient equals this relation).
    """
    length, mean_k = checked_length_and_k(biometry)
    return in_blocks(anatomic_depth, length, mean_k)


def optical_length_mm(biometry: Biometry) -> FloatArray:
    """Axial length with the retina's thickness added [mm]."""
    length, _ = checked_length_and_k(biometry)
    return np.asarray(length + COEFFICIENTS.retina_mm)


def corneal_power_d(biometry: Biometry) -> FloatArray:
    """Corneal power at the formula's index [D]."""
    return corneal_power_at_index(biometry, COEFFICIENTS.cornea_index)


def anatomic_depth(length: FloatArray, mean_k: FloatArray) -> FloatArray:
    """Depth of the anterior chamber from the corneal dome [mm]."""
    c = COEFFICIENTS
    radius = np.maximum(1000.0 * (KERATOMETRIC_INDEX - 1.0) / mean_k, c.steepest_mm)
    half_width = 0.5 * np.minimum(c.diameter_mm / c.reference_length_mm * length, c.widest_mm)
    return np.asarray(c.thickness_mm + radius - np.sqrt(radius * radius - half_width * half_width))


THIN_LENS = ThinLens(
    constant_name="SF",
    optical_length_mm=optical_length_mm,
    corneal_power_d=corneal_power_d,
    position_of_eye_mm=anatomic_depth_mm,
)
