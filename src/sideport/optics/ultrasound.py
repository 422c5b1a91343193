"""Lengths by sound: a reading holds for the speed the instrument assumed, and can be moved to another."""

import numpy as np
from numpy.typing import ArrayLike

from .arrays import FloatArray, floats, refuse, refuse_unless_positive

__all__ = [
    "implant_length_factor_hoffer1994",
    "phakic_length_hoffer1994",
    "phakic_velocity_hoffer1994",
    "ultrasound_length",
]

# Speed of sound in aqueous and vitreous [m/s], and the constant of the square rule [mm] (hoffer1994, abstract read).
WATER_M_S = 1532.0
SQUARE_RULE_MM = 0.35


def ultrasound_length(*, reading_mm: ArrayLike, velocity_used_m_s: ArrayLike, velocity_m_s: ArrayLike) -> FloatArray:
    """Length for the right speed of sound, from a reading taken with another.

    Parameters
    ----------
    reading_mm : array_like
        Length as the instrument showed it, any broadcastable shape [mm].
    velocity_used_m_s : array_like
        Speed the instrument was set to [m/s].
    velocity_m_s : array_like
        Speed that is right for the eye [m/s].

    Returns
    -------
    ndarray
        Length [mm].

    Raises
    ------
    ImpossibleInputError
        On a value that is not positive.

    Notes
    -----
    The instrument measures time; length = reading x right speed / used speed.

    Example
    -------
    >>> round(float(ultrasound_length(reading_mm=23.50, velocity_used_m_s=1550, velocity_m_s=1555)), 2)
    23.58
    """
    reading, used, right = floats(reading_mm), floats(velocity_used_m_s), floats(velocity_m_s)
    refuse_unless_positive(reading, "axial length [mm]")
    refuse_unless_positive(used, "velocity used [m/s]")
    refuse_unless_positive(right, "velocity [m/s]")
    return np.asarray(reading * right / used)


def phakic_length_hoffer1994(*, length_at_1532_mm: ArrayLike) -> FloatArray:
    """Length of an eye with its natural lens, read at the speed in water.

    Parameters
    ----------
    length_at_1532_mm : array_like
        Reading with the instrument at 1,532 m/s, any shape [mm].

    Returns
    -------
    ndarray
        Length [mm].

    Raises
    ------
    ImpossibleInputError
        On a reading that is not longer than the rule's own constant.

    Notes
    -----
    L = l^2 / (l - 0.35): the natural lens and cornea carry sound faster, by a share that falls as the eye grows.

    References
    ----------
    hoffer1994, abstract.

    Example
    -------
    >>> round(float(phakic_length_hoffer1994(length_at_1532_mm=23.5)), 2)
    23.86
    """
    reading = checked_reading(length_at_1532_mm)
    return np.asarray(reading * reading / (reading - SQUARE_RULE_MM))


def phakic_velocity_hoffer1994(*, length_at_1532_mm: ArrayLike) -> FloatArray:
    """Mean speed of sound in an eye with its natural lens, which the square rule implies.

    Parameters
    ----------
    length_at_1532_mm : array_like
        Reading with the instrument at 1,532 m/s, any shape [mm].

    Returns
    -------
    ndarray
        Mean speed [m/s].

    Raises
    ------
    ImpossibleInputError
        On a reading that is not longer than the rule's own constant.

    References
    ----------
    hoffer1994, abstract.
    """
    reading = checked_reading(length_at_1532_mm)
    return np.asarray(WATER_M_S * reading / (reading - SQUARE_RULE_MM))


def implant_length_factor_hoffer1994(*, velocity_m_s: ArrayLike) -> FloatArray:
    """Millimetres to add to a reading at 1,532 m/s for each millimetre of implant.

    Parameters
    ----------
    velocity_m_s : array_like
        Speed of sound in the implant, any shape [m/s].

    Returns
    -------
    ndarray
        Factor; negative where the implant slows sound [1].

    Raises
    ------
    ImpossibleInputError
        On a speed that is not positive.

    References
    ----------
    hoffer1994, abstract.
    """
    velocity = floats(velocity_m_s)
    refuse_unless_positive(velocity, "velocity [m/s]")
    return np.asarray(1.0 - WATER_M_S / velocity)


def checked_reading(length_at_1532_mm: ArrayLike) -> FloatArray:
    """The reading as an array, once the square rule can take it."""
    reading = floats(length_at_1532_mm)
    refuse_unless_positive(reading, "axial length [mm]")
    refuse(reading <= SQUARE_RULE_MM, "The axial length is shorter than the cornea and lens it holds.", values=reading)
    return reading
