"""Thin-lens vergence of an eye with an implant: the skeleton that every published power formula here shares.

One relation ties axial length, lens position, corneal power, implant power and spectacle refraction; each function
solves it for another of them, so that they are exact inverses.
"""

import numpy as np
from numpy.typing import ArrayLike

from .arrays import FloatArray, floats, in_blocks, refuse, refuse_infinite, refuse_unless_positive

__all__ = [
    "INDEX_MM_D",
    "VERTEX_MM",
    "corneal_to_spectacle",
    "lens_position_for_result",
    "power_at_position",
    "power_for_refraction",
    "refraction_for_power",
    "spectacle_to_corneal",
]

# Index of aqueous and vitreous, 1.336, times 1000 so that lengths in mm give dioptres (holladay1988, recalled).
INDEX_MM_D = 1336.0
# Distance of spectacles from the cornea, the convention of every formula here (holladay1988, recalled).
VERTEX_MM = 12.0


def spectacle_to_corneal(*, refraction_d: ArrayLike, vertex_mm: ArrayLike = VERTEX_MM) -> FloatArray:
    """Refraction at the cornea for a spectacle refraction.

    Parameters
    ----------
    refraction_d : array_like
        Spectacle refraction, any broadcastable shape [D].
    vertex_mm : array_like
        Distance of the spectacle plane from the cornea [mm].

    Returns
    -------
    ndarray
        Refraction at the corneal plane [D].

    Raises
    ------
    ImpossibleInputError
        Where the spectacle lens would focus in front of the cornea, or a value is infinite.

    Example
    -------
    >>> round(float(spectacle_to_corneal(refraction_d=10.0)), 3)
    11.364
    """
    refraction, vertex = floats(refraction_d), floats(vertex_mm)
    refuse_infinite(refraction, "refraction [D]")
    reach = 1.0 - 0.001 * vertex * refraction
    refuse(reach <= 0, "The refraction is stronger than a spectacle lens at this distance can be.", values=refraction)
    return np.asarray(refraction / reach)


def corneal_to_spectacle(*, refraction_d: ArrayLike, vertex_mm: ArrayLike = VERTEX_MM) -> FloatArray:
    """Spectacle refraction for a refraction at the cornea; inverse of `spectacle_to_corneal`.

    Parameters
    ----------
    refraction_d : array_like
        Refraction at the corneal plane, any broadcastable shape [D].
    vertex_mm : array_like
        Distance of the spectacle plane from the cornea [mm].

    Returns
    -------
    ndarray
        Spectacle refraction [D].

    Raises
    ------
    ImpossibleInputError
        Where the far point would lie between cornea and spectacles, or a value is infinite.
    """
    refraction, vertex = floats(refraction_d), floats(vertex_mm)
    refuse_infinite(refraction, "refraction [D]")
    reach = 1.0 + 0.001 * vertex * refraction
    refuse(reach <= 0, "The refraction is beyond what spectacles at this distance can correct.", values=refraction)
    return np.asarray(refraction / reach)


def power_for_refraction(
    *,
    axial_length_mm: ArrayLike,
    lens_position_mm: ArrayLike,
    corneal_power_d: ArrayLike,
    refraction_d: ArrayLike,
    vertex_mm: ArrayLike = VERTEX_MM,
) -> FloatArray:
    """Implant power that leaves a wished spectacle refraction.

    Parameters
    ----------
    axial_length_mm : array_like
        Optical axial length, any broadcastable shape [mm].
    lens_position_mm : array_like
        Corneal front to the thin implant [mm].
    corneal_power_d : array_like
        Corneal power at the formula's own index [D].
    refraction_d : array_like
        Wished spectacle refraction [D].
    vertex_mm : array_like
        Spectacle distance [mm].

    Returns
    -------
    ndarray
        Implant power in the eye [D].

    Raises
    ------
    ImpossibleInputError
        On a length or corneal power that is not positive, a lens at or behind the retina, or an infinite value.

    Notes
    -----
    With n = 1336, L axial length, d lens position, K corneal power, R refraction and v vertex distance:
    z = K + R / (1 - 0.001 v R);  P = n / (L - d) - n z / (n - d z). The second term is the usual n / (n / z - d) with
    numerator and denominator multiplied by z, so that z = 0 is no special case.

    References
    ----------
    holladay1988 (form recalled); elementary vergence.

    Example
    -------
    >>> eye = dict(axial_length_mm=23.5, lens_position_mm=5.2, corneal_power_d=43.2)
    >>> power = power_for_refraction(**eye, refraction_d=-0.5)
    >>> round(float(refraction_for_power(**eye, power_d=power)), 9)
    -0.5
    """
    length, position, cornea = checked_eye(axial_length_mm, lens_position_mm, corneal_power_d)
    corrected = spectacle_to_corneal(refraction_d=refraction_d, vertex_mm=vertex_mm)
    return in_blocks(thin_lens_power, length, position, cornea, corrected)


def refraction_for_power(
    *,
    axial_length_mm: ArrayLike,
    lens_position_mm: ArrayLike,
    corneal_power_d: ArrayLike,
    power_d: ArrayLike,
    vertex_mm: ArrayLike = VERTEX_MM,
) -> FloatArray:
    """Spectacle refraction that an implant leaves; inverse of `power_for_refraction`.

    Parameters
    ----------
    axial_length_mm : array_like
        Optical axial length, any broadcastable shape [mm].
    lens_position_mm : array_like
        Corneal front to the thin implant [mm].
    corneal_power_d : array_like
        Corneal power at the formula's own index [D].
    power_d : array_like
        Implant power [D].
    vertex_mm : array_like
        Spectacle distance [mm].

    Returns
    -------
    ndarray
        Spectacle refraction [D].

    Raises
    ------
    ImpossibleInputError
        As `power_for_refraction`; also where no spectacle lens at that distance could correct the eye.

    Notes
    -----
    V = n / (L - d) - P;  z = n V / (n + d V);  R = c / (1 + 0.001 v c) with c = z - K.

    References
    ----------
    holladay1988 (form recalled); elementary vergence.
    """
    length, position, cornea = checked_eye(axial_length_mm, lens_position_mm, corneal_power_d)
    power = floats(power_d)
    refuse_infinite(power, "lens power [D]")
    at_cornea = in_blocks(thin_lens_refraction, length, position, cornea, power)
    return corneal_to_spectacle(refraction_d=at_cornea, vertex_mm=vertex_mm)


def lens_position_for_result(
    *,
    axial_length_mm: ArrayLike,
    corneal_power_d: ArrayLike,
    power_d: ArrayLike,
    refraction_d: ArrayLike,
    vertex_mm: ArrayLike = VERTEX_MM,
) -> FloatArray:
    """Lens position that makes an implant power and the refraction it left agree.

    Parameters
    ----------
    axial_length_mm : array_like
        Optical axial length, any broadcastable shape [mm].
    corneal_power_d : array_like
        Corneal power at the formula's own index [D].
    power_d : array_like
        Implanted power [D].
    refraction_d : array_like
        Spectacle refraction found after healing [D].
    vertex_mm : array_like
        Spectacle distance [mm].

    Returns
    -------
    ndarray
        Corneal front to the thin implant [mm]. NaN where the result says nothing about position (power 0) and where no
        position explains it.

    Raises
    ------
    ImpossibleInputError
        On a length or corneal power that is not positive, or an infinite value.

    Notes
    -----
    P = n (n - L z) / ((L - d)(n - d z)) is a quadratic in d: z d^2 - b d + c = 0 with b = n + L z and
    c = n L - n (n - L z) / P. The root in front of the retina is d = 2 c / (b + sqrt(b^2 - 4 z c)), free of
    cancellation and continuous through z = 0.

    References
    ----------
    Derived from the relation of `power_for_refraction`.

    Example
    -------
    >>> eye = dict(axial_length_mm=23.5, corneal_power_d=43.2)
    >>> left = refraction_for_power(**eye, lens_position_mm=5.2, power_d=21.0)
    >>> round(float(lens_position_for_result(**eye, power_d=21.0, refraction_d=left)), 9)
    5.2
    """
    length, cornea, power = floats(axial_length_mm), floats(corneal_power_d), floats(power_d)
    refuse_unless_positive(length, "axial length [mm]")
    refuse_unless_positive(cornea, "corneal power [D]")
    refuse_infinite(power, "lens power [D]")
    corrected = spectacle_to_corneal(refraction_d=refraction_d, vertex_mm=vertex_mm)
    return in_blocks(thin_lens_position, length, cornea, power, corrected)


def power_at_position(
    *,
    power_d: ArrayLike,
    position_mm: ArrayLike,
    other_position_mm: ArrayLike,
    corneal_power_d: ArrayLike,
    refraction_d: ArrayLike = 0.0,
    vertex_mm: ArrayLike = VERTEX_MM,
) -> FloatArray:
    """Power that does in another position, say the sulcus, what a lens does in the first, say the bag.

    Parameters
    ----------
    power_d : array_like
        Power in the first position, any broadcastable shape [D].
    position_mm, other_position_mm : array_like
        Corneal front to the thin implant, first and other position [mm].
    corneal_power_d : array_like
        Corneal power [D].
    refraction_d : array_like
        Spectacle refraction that both leave [D].
    vertex_mm : array_like
        Spectacle distance [mm].

    Returns
    -------
    ndarray
        Power in the other position [D].

    Raises
    ------
    ImpossibleInputError
        On a position or corneal power that is not positive, or an infinite value.

    Notes
    -----
    The eye's length follows from the first position, L = d + n / (P + n z / (n - d z)); the power then from the other.

    Example
    -------
    A teaching table (sulcus_table) prints 20.05 D in the sulcus for 21.0 D in the bag:

    >>> eye = dict(position_mm=5.2, other_position_mm=4.7, corneal_power_d=43.15)
    >>> round(float(power_at_position(power_d=21.0, **eye)), 2)
    20.05
    """
    power, first, cornea = floats(power_d), floats(position_mm), floats(corneal_power_d)
    refuse_infinite(power, "lens power [D]")
    refuse_unless_positive(first, "lens position [mm]")
    refuse_unless_positive(cornea, "corneal power [D]")
    arriving = cornea + spectacle_to_corneal(refraction_d=refraction_d, vertex_mm=vertex_mm)
    leaving = power + INDEX_MM_D * arriving / (INDEX_MM_D - first * arriving)
    refuse(leaving <= 0, "A lens this weak never focuses on a retina; check sign and size of the power.", values=power)
    return power_for_refraction(
        axial_length_mm=first + INDEX_MM_D / leaving,
        lens_position_mm=other_position_mm,
        corneal_power_d=cornea,
        refraction_d=refraction_d,
        vertex_mm=vertex_mm,
    )


def checked_eye(
    axial_length_mm: ArrayLike, lens_position_mm: ArrayLike, corneal_power_d: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """The three as arrays, once they can belong to one eye."""
    length, position, cornea = floats(axial_length_mm), floats(lens_position_mm), floats(corneal_power_d)
    refuse_unless_positive(length, "axial length [mm]")
    refuse_unless_positive(cornea, "corneal power [D]")
    refuse_infinite(position, "lens position [mm]")
    refuse(
        position >= length,
        "The lens would lie at or behind the retina; check that the axial length is in millimetres.",
        values=length,
    )
    return length, position, cornea


def thin_lens_power(length: FloatArray, position: FloatArray, cornea: FloatArray, corrected: FloatArray) -> FloatArray:
    """The relation solved for power, with the refraction already at the cornea."""
    arriving = cornea + corrected
    return np.asarray(INDEX_MM_D * (1.0 / (length - position) - arriving / (INDEX_MM_D - position * arriving)))


def thin_lens_refraction(length: FloatArray, position: FloatArray, cornea: FloatArray, power: FloatArray) -> FloatArray:
    """The relation solved for the refraction at the cornea."""
    needed = INDEX_MM_D / (length - position) - power
    return np.asarray(INDEX_MM_D * needed / (INDEX_MM_D + position * needed) - cornea)


def thin_lens_position(length: FloatArray, cornea: FloatArray, power: FloatArray, corrected: FloatArray) -> FloatArray:
    """The relation solved for lens position; NaN where power 0 or no position explains the result."""
    z = cornea + corrected
    b = INDEX_MM_D + length * z
    with np.errstate(divide="ignore", invalid="ignore"):
        c = INDEX_MM_D * (length - (INDEX_MM_D - length * z) / power)
        d = 2.0 * c / (b + np.sqrt(b * b - 4.0 * z * c))
    return np.asarray(np.where(np.isfinite(d), d, np.nan))
