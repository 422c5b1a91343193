"""SRK/T: Retzlaff, Sanders and Kraff 1990."""

from dataclasses import dataclass

import numpy as np

from ..optics.arrays import BoolArray, FloatArray, in_blocks
from ..optics.keratometry import KERATOMETRIC_INDEX
from .formula import Biometry, FormulaConstants
from .inputs import checked_length_and_k
from .thin_lens import ThinLens, corneal_power_at_index

__all__ = ["COEFFICIENTS", "THIN_LENS", "SrkTCoefficients", "corneal_height_undefined"]


@dataclass(frozen=True, slots=True)
class SrkTCoefficients:
    """The numbers of the formula, recalled; the paper's print has not been compared."""

    source: str = "retzlaff1990"
    long_from_mm: float = 24.2
    """Above it the length that predicts corneal width is corrected."""
    long_constant: float = -3.446
    long_linear: float = 1.716
    """Some prints have 1.715, which would leave a step of 0.024 mm at 24.2 mm."""
    long_square: float = -0.0237
    width_constant: float = -5.41
    """Some prints have -5.40948."""
    width_per_length: float = 0.58412
    width_per_k: float = 0.098
    position_per_a: float = 0.62467
    position_constant: float = -68.747
    offset_mm: float = -3.336
    retina_constant_mm: float = 0.65696
    retina_per_length: float = -0.02029
    cornea_index: float = 1.333


COEFFICIENTS = SrkTCoefficients()


def corneal_height_mm(biometry: Biometry, _constants: FormulaConstants) -> FloatArray:
    """Height of the corneal dome, the eye's part of the lens position.

    Notes
    -----
    LCOR = L up to 24.2 mm, above it -3.446 + 1.716 L - 0.0237 L^2; Cw = -5.41 + 0.58412 LCOR + 0.098 K; r = 337.5 / K;
    H = r - sqrt(r^2 - Cw^2 / 4); position = H + 0.62467 A - 68.747 - 3.336.

    Where r^2 < Cw^2 / 4 (long eye, steep cornea) the paper's rule takes the root as 0. The position then no longer
    depends on the length: `corneal_height_undefined` says for which eyes, and they must be flagged. LCOR turns back
    at 36.2 mm.

    References
    ----------
    retzlaff1990 with its erratum (equations recalled).
    """
    length, mean_k = checked_length_and_k(biometry)
    return in_blocks(corneal_height, length, mean_k)


def corneal_height_undefined(biometry: Biometry) -> BoolArray:
    """Whether the root in the corneal height is of a negative number, so that the result rests on the paper's stop-gap.

    Parameters
    ----------
    biometry : Biometry
        Axial length [mm] and mean keratometry [D], any broadcastable shapes.

    Returns
    -------
    ndarray of bool
        False where an input is missing.

    Raises
    ------
    ImpossibleInputError
        On a length or keratometry that is not positive.

    Example
    -------
    >>> bool(corneal_height_undefined(Biometry(axial_length_mm=28.0, mean_k_d=48.0)))
    True
    """
    length, mean_k = checked_length_and_k(biometry)
    return np.asarray(under_the_root(length, corneal_radius(mean_k), mean_k) < 0)


def optical_length_mm(biometry: Biometry) -> FloatArray:
    """Axial length with the retina's thickness added [mm], which SRK/T and T2 share."""
    length, _ = checked_length_and_k(biometry)
    return np.asarray(length * (1.0 + COEFFICIENTS.retina_per_length) + COEFFICIENTS.retina_constant_mm)


def corneal_power_d(biometry: Biometry) -> FloatArray:
    """Corneal power at the index of SRK/T and T2 [D]."""
    return corneal_power_at_index(biometry, COEFFICIENTS.cornea_index)


def position_of_constant(a_constant: FloatArray) -> FloatArray:
    """What the A-constant adds to the corneal height [mm]; shared with T2."""
    fixed = COEFFICIENTS.position_constant + COEFFICIENTS.offset_mm
    return np.asarray(COEFFICIENTS.position_per_a * a_constant + fixed)


def constant_of_position(beyond_height_mm: FloatArray) -> FloatArray:
    """Inverse of `position_of_constant`."""
    fixed = COEFFICIENTS.position_constant + COEFFICIENTS.offset_mm
    return np.asarray((beyond_height_mm - fixed) / COEFFICIENTS.position_per_a)


def corneal_radius(mean_k: FloatArray) -> FloatArray:
    """Radius [mm] behind the keratometry."""
    return np.asarray(1000.0 * (KERATOMETRIC_INDEX - 1.0) / mean_k)


def under_the_root(length: FloatArray, radius: FloatArray, mean_k: FloatArray) -> FloatArray:
    """r^2 - Cw^2 / 4 [mm^2]."""
    c = COEFFICIENTS
    long = c.long_constant + (c.long_linear + c.long_square * length) * length
    corrected = np.where(length > c.long_from_mm, long, length)
    half_width = 0.5 * (c.width_constant + c.width_per_length * corrected + c.width_per_k * mean_k)
    return np.asarray(radius * radius - half_width * half_width)


def corneal_height(length: FloatArray, mean_k: FloatArray) -> FloatArray:
    """Height of the corneal dome [mm]; the paper's rule takes the root of a negative number as 0."""
    radius = corneal_radius(mean_k)
    return np.asarray(radius - np.sqrt(np.maximum(under_the_root(length, radius, mean_k), 0.0)))


THIN_LENS = ThinLens(
    constant_name="A",
    optical_length_mm=optical_length_mm,
    corneal_power_d=corneal_power_d,
    position_of_eye_mm=corneal_height_mm,
    position_of_constant_mm=position_of_constant,
    constant_of_position=constant_of_position,
)
