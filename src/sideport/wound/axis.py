"""Where a place on the limbus lies in degrees and clock hours, for right and left eyes."""

import numpy as np
from numpy.typing import ArrayLike

from ..errors import ImpossibleInputError
from ..optics.arrays import FloatArray
from ..optics.side import Side
from .plan import Site

__all__ = ["axis_difference_deg", "axis_from_meridian", "clock_hour", "meridian_deg", "meridian_from_clock"]

RIGHT_EYE_DEG = {Site.SUPERIOR: 90.0, Site.SUPEROTEMPORAL: 135.0, Site.TEMPORAL: 180.0, Site.SUPERONASAL: 45.0}
HALF_TURN = 180.0
FULL_TURN = 360.0
HOUR_DEG = 30.0


def meridian_deg(*, site: Site, side: Side) -> float:
    """Angle on the cornea of an anatomical site.

    Parameters
    ----------
    site : Site
        Where on the limbus.
    side : Side
        Which eye.

    Returns
    -------
    float
        Angle [deg], 0 to 360, counter-clockwise from the examiner's right as the examiner faces the patient.

    Notes
    -----
    This is the direction of standard axis notation, carried on to the full circle. The temporal side of a right eye is
    on the examiner's left (180), that of a left eye on the examiner's right (0); left eyes are mirrored about 90.

    Examples
    --------
    >>> meridian_deg(site=Site.SUPEROTEMPORAL, side=Side.RIGHT), meridian_deg(site=Site.SUPEROTEMPORAL, side=Side.LEFT)
    (135.0, 45.0)
    """
    angle = RIGHT_EYE_DEG[site]
    return angle if side is Side.RIGHT else (HALF_TURN - angle) % FULL_TURN


def axis_from_meridian(*, angle_deg: ArrayLike) -> FloatArray:
    """The axis, 0 up to 180, on which a place on the limbus lies.

    Parameters
    ----------
    angle_deg : array_like
        Angle on the cornea [deg]; any number of turns.

    Returns
    -------
    ndarray
        Axis [deg], at least 0 and under 180.
    """
    axis = np.mod(np.asarray(angle_deg, dtype=float), HALF_TURN)
    # A tiny negative angle rounds up to exactly 180, which is the same axis as 0.
    return np.where(axis >= HALF_TURN, 0.0, axis)


def axis_difference_deg(*, first_deg: ArrayLike, second_deg: ArrayLike) -> FloatArray:
    """Smallest turn from the second axis to the first.

    Parameters
    ----------
    first_deg, second_deg : array_like
        Axes [deg].

    Returns
    -------
    ndarray
        Turn [deg], at least -90 and under 90; positive counter-clockwise.

    Examples
    --------
    >>> float(axis_difference_deg(first_deg=1.0, second_deg=179.0))
    2.0
    """
    quarter = HALF_TURN / 2
    difference = np.asarray(first_deg, dtype=float) - np.asarray(second_deg, dtype=float)
    return np.asarray(np.mod(difference + quarter, HALF_TURN) - quarter)


def meridian_from_clock(*, hour: ArrayLike) -> FloatArray:
    """Angle on the cornea of a clock hour as the examiner sees it.

    Parameters
    ----------
    hour : array_like
        Clock hour [h], over 0 and up to 12; halves and quarters allowed.

    Returns
    -------
    ndarray
        Angle [deg], at least 0 and under 360.

    Raises
    ------
    ImpossibleInputError
        For an hour that no clock shows.
    """
    hours = np.asarray(hour, dtype=float)
    wrong = (hours <= 0) | (hours > FULL_TURN / HOUR_DEG)
    if np.any(wrong):
        raise ImpossibleInputError(
            f"{np.count_nonzero(wrong)} clock hours are not over 0 and up to 12; write 12 for 0."
        )
    return np.asarray(np.mod(HALF_TURN / 2 - HOUR_DEG * hours, FULL_TURN))


def clock_hour(*, angle_deg: ArrayLike) -> FloatArray:
    """Clock hour, as the examiner sees it, of a place on the limbus.

    Parameters
    ----------
    angle_deg : array_like
        Angle on the cornea [deg].

    Returns
    -------
    ndarray
        Clock hour [h], over 0 and up to 12.

    Notes
    -----
    The surgeon who sits above the patient's head sees the same eye turned by half a turn; hours are still named as the
    examiner sees them, so that 12 o'clock is superior for everybody.
    """
    hours = np.mod((HALF_TURN / 2 - np.asarray(angle_deg, dtype=float)) / HOUR_DEG, FULL_TURN / HOUR_DEG)
    return np.where(hours == 0, FULL_TURN / HOUR_DEG, hours)
