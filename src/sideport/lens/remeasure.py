"""What measuring again would buy: the expected gain in the chance of seeing well, before the reading is taken."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..errors import ImpossibleInputError
from ..optics.arrays import FloatArray
from ..optics.blur import probability_acuity
from .forecast import Forecast
from .sight import SIX_TWELVE, Cylinder

__all__ = ["SightGain", "sight_gain"]

NODES = np.linspace(-4.0, 4.0, 41)
"""Where the new reading may take the belief, in standard deviations of what is not yet known of it."""
WEIGHTS = np.exp(-0.5 * NODES**2) / np.exp(-0.5 * NODES**2).sum()
VALUES_AT_ONCE = 2_000_000
"""Probabilities held at once; bounds the memory."""


@dataclass(frozen=True, slots=True, eq=False)
class SightGain:
    """Of n eyes: the best lens as things stand, and how much better the best lens would be after a reading."""

    now: FloatArray
    """Shape (n,): probability of 6/12 or better with the lens that makes it likeliest."""
    gain: FloatArray
    """Shape (n,): expected rise of it, 0 or more; NaN for an eye of which nothing is known."""


def sight_gain(
    *, forecast: Forecast, measuring_after_d: ArrayLike, cylinder: Cylinder, aim_d: ArrayLike = 0.0
) -> SightGain:
    """The expected gain in the chance of 6/12 without glasses, of the best lens, from a reading not yet taken.

    Parameters
    ----------
    forecast : Forecast
        Of n eyes and m lenses as things stand.
    measuring_after_d : array_like, shape (n, m) [D]
        The measuring part of each lens's spread once the reading is in; the covariance of a Gaussian belief does not
        depend on what will be read. Where it is not smaller than now, the reading buys nothing.
    cylinder : Cylinder
        Of the same eyes.
    aim_d : array_like, shape (n,) or scalar [D]
        Refraction at which the eye would see sharply at the distance that counts: 0 for far off, -2 for half a metre.

    Returns
    -------
    SightGain

    Raises
    ------
    ImpossibleInputError
        When the shapes do not fit.

    Notes
    -----
    Preposterior analysis. Of a lens's measuring variance v, a reading leaves v' and moves the expected refraction by a
    normal amount of variance v - v', not known yet. All lenses of an eye move together: a longer eye makes each more
    short-sighted. With P_l(t) the chance of lens l after a move of t standard deviations,

        gain = E_t[max_l P_l(t)] - max_l E_t[P_l(t)],

    by one sum over t for both terms, so it cannot be negative. The value of a reading is in the choice alone: without
    another lens to change to, it is 0. The move of each lens has its own size, but one t: exact for one new reading,
    and nearly so for several at once. The sum is the trapezoidal rule, whose error falls off as
    exp(-2 (pi s' / (h s))²) with h the step, s the move and s' the spread left.

    References
    ----------
    Raiffa and Schlaifer, Applied statistical decision theory, Harvard 1961, for the principle.
    """
    after = np.asarray(measuring_after_d, dtype=np.float64)
    eyes, lenses = forecast.refraction_d.shape
    if after.shape != (eyes, lenses):
        raise ImpossibleInputError(f"The spread after measuring has the shape {after.shape}, not {(eyes, lenses)}.")
    aim = np.broadcast_to(np.asarray(aim_d, dtype=np.float64), (eyes,))
    now, later = np.full(eyes, np.nan), np.full(eyes, np.nan)
    if lenses:
        moved = np.sqrt(np.maximum(forecast.measuring_sd_d**2 - after**2, 0.0))
        left = np.sqrt(forecast.sd_d**2 - moved**2)
        size = max(1, VALUES_AT_ONCE // (lenses * len(NODES)))
        for start in range(0, eyes, size):
            rows = slice(start, start + size)
            miss = forecast.refraction_d[rows] - aim[rows, None]
            chance = after_moves(
                miss, moved[rows], left[rows], Cylinder(cylinder.mean_d[rows], cylinder.covariance_d2[rows])
            )
            now[rows] = np.einsum("t,ntl->nl", WEIGHTS, chance).max(axis=1)
            later[rows] = chance.max(axis=2) @ WEIGHTS
    return SightGain(now=now, gain=np.maximum(later - now, 0.0))


def after_moves(miss: FloatArray, moved: FloatArray, left: FloatArray, cylinder: Cylinder) -> FloatArray:
    """Chance of 6/12 of every lens after every move, shape (eyes, moves, lenses)."""
    return probability_acuity(
        refraction_d=miss[:, None] + NODES[:, None] * moved[:, None],
        sd_d=left[:, None],
        j0_d=cylinder.mean_d[:, None, :1],
        j45_d=cylinder.mean_d[:, None, 1:],
        cylinder_covariance_d2=cylinder.covariance_d2[:, None, None],
        logmar_limit=SIX_TWELVE,
    )
