"""Hoffer Q: Hoffer 1993, with the errata of 1994."""

from dataclasses import dataclass

import numpy as np

from ..optics.arrays import FloatArray, in_blocks
from .formula import Biometry, FormulaConstants
from .inputs import checked_length_and_k
from .thin_lens import ThinLens, measured_length_mm

__all__ = ["COEFFICIENTS", "THIN_LENS", "HofferQCoefficients"]


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


def depth_of_eye_mm(biometry: Biometry, _constants: FormulaConstants) -> FloatArray:
    """Chamber depth C and 0.05 mm but for pACD, the eye's part of the lens position.

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
    return in_blocks(depth_less_constant, length, mean_k)


def keratometry_d(biometry: Biometry) -> FloatArray:
    """The formula takes keratometry at 1.3375 as the corneal power [D]."""
    return checked_length_and_k(biometry)[1]


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


THIN_LENS = ThinLens(
    constant_name="pACD",
    optical_length_mm=measured_length_mm,
    corneal_power_d=keratometry_d,
    position_of_eye_mm=depth_of_eye_mm,
)
