"""What every formula asks of its inputs before it starts."""

import numpy as np
from numpy.typing import ArrayLike

from ..optics.arrays import FloatArray, floats, refuse, refuse_infinite, refuse_unless_positive
from .formula import Biometry

__all__ = ["checked_chamber_depth", "checked_constant", "checked_length_and_k"]


def checked_length_and_k(biometry: Biometry) -> tuple[FloatArray, FloatArray]:
    """Axial length [mm] and mean keratometry [D] as arrays.

    Raises
    ------
    ImpossibleInputError
        Where one is zero, negative or infinite.
    """
    length, mean_k = floats(biometry.axial_length_mm), floats(biometry.mean_k_d)
    refuse_unless_positive(length, "axial length [mm]")
    refuse_unless_positive(mean_k, "mean keratometry [D]")
    return length, mean_k


def checked_chamber_depth(biometry: Biometry) -> FloatArray:
    """Anterior chamber depth [mm] as an array; NaN where it was not measured.

    Raises
    ------
    ImpossibleInputError
        Where it is zero, negative, infinite, or not less than the axial length.
    """
    depth, length = floats(biometry.chamber_depth_mm), floats(biometry.axial_length_mm)
    refuse_unless_positive(depth, "anterior chamber depth [mm]")
    refuse(
        np.asarray(depth >= length), "The chamber is as deep as the eye is long; compare both columns.", values=depth
    )
    return depth


def checked_constant(constant: ArrayLike, name: str) -> FloatArray:
    """A lens constant as an array.

    Raises
    ------
    ImpossibleInputError
        Where it is infinite.
    """
    values = floats(constant)
    refuse_infinite(values, f"lens constant {name}")
    return values
