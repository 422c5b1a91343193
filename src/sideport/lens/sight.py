"""How likely each lens is to leave an eye near its target, and seeing well without glasses."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from ..optics.acuity import logmar_from_decimal
from ..optics.arrays import FloatArray
from ..optics.blur import probability_acuity
from .choice import LensChoice
from .forecast import Forecast
from .spread import probability_within

__all__ = ["SIX_EIGHTEEN", "SIX_TWELVE", "Chances", "Cylinder", "chances", "with_cylinder"]

SIX_TWELVE = logmar_from_decimal(decimal=6 / 12)
SIX_EIGHTEEN = logmar_from_decimal(decimal=6 / 18)


@dataclass(frozen=True, slots=True, eq=False)
class Cylinder:
    """Astigmatism of the corneal front of n eyes as it will be after healing, a normal vector each."""

    mean_d: FloatArray
    """Shape (n, 2): J0 and J45 [D]."""
    covariance_d2: FloatArray
    """Shape (n, 2, 2) [D²]."""


@dataclass(frozen=True, slots=True, eq=False)
class Chances:
    """Probabilities, eyes down and lenses across; NaN for an eye of which nothing is known."""

    within_half: FloatArray
    """Of landing within 0.50 D of target."""
    within_one: FloatArray
    """Of landing within 1.00 D of target."""
    beyond_two: FloatArray
    """Of landing more than 2.00 D from target."""
    sees_6_12: FloatArray
    """Of seeing 6/12 or better far off without glasses, if the eye can see 6/6 with them."""
    sees_6_18: FloatArray
    """Of seeing 6/18 or better far off without glasses, if the eye can see 6/6 with them."""


def chances(*, forecast: Forecast, target_d: ArrayLike, cylinder: Cylinder) -> Chances:
    """The probabilities of every lens in every eye.

    Parameters
    ----------
    forecast : Forecast
        Of n eyes and m lenses.
    target_d : array_like, shape (n,) or scalar [D]
    cylinder : Cylinder
        Of the same eyes.

    Returns
    -------
    Chances
        Arrays of shape (n, m).

    Raises
    ------
    ImpossibleInputError
        When a covariance of the cylinder is none.

    Notes
    -----
    Sight is for far off, whatever the target: an eye aimed at near work is honestly unlikely to see 6/12 there. The
    relation of blur to acuity takes an eye that sees 6/6 with its best glasses; a sick retina sees less. Spherical
    equivalent and cylinder are taken as independent. Corneal astigmatism stands for the whole eye's: the lenses have
    no cylinder of their own, and the blur of a cylinder depends on its size alone. What the back of the cornea or a
    tilted lens adds is left out: an eye with little measured cylinder is told a little too well, one whose parts
    cancel a little too badly.

    References
    ----------
    The relation is that of ``probability_acuity``.
    """
    eyes = len(forecast.refraction_d)
    miss = forecast.refraction_d - np.broadcast_to(np.asarray(target_d, dtype=np.float64), (eyes,))[:, None]
    half, one, two = (probability_within(miss_d=miss, sd_d=forecast.sd_d, limit_d=limit) for limit in (0.5, 1.0, 2.0))
    twelve, eighteen = (
        sees(forecast.refraction_d, forecast.sd_d, cylinder, line) for line in (SIX_TWELVE, SIX_EIGHTEEN)
    )
    return Chances(within_half=half, within_one=one, beyond_two=1.0 - two, sees_6_12=twelve, sees_6_18=eighteen)


def sees(refraction_d: FloatArray, sd_d: FloatArray, cylinder: Cylinder, logmar: float) -> FloatArray:
    """Probability of a line far off without glasses, eyes down and lenses across."""
    return probability_acuity(
        refraction_d=refraction_d,
        sd_d=sd_d,
        j0_d=cylinder.mean_d[:, :1],
        j45_d=cylinder.mean_d[:, 1:],
        cylinder_covariance_d2=cylinder.covariance_d2[:, None],
        logmar_limit=logmar,
    )


def with_cylinder(*, choices: tuple[LensChoice, ...], cylinder: Cylinder) -> tuple[LensChoice, ...]:
    """The same lenses in the same eye with sight judged by another cylinder, say that after the planned cut.

    Parameters
    ----------
    choices : tuple of LensChoice
        All in one eye.
    cylinder : Cylinder
        Of that eye: n is 1.

    Returns
    -------
    tuple of LensChoice
        Only ``sees_6_12`` and ``sees_6_18`` differ.

    Raises
    ------
    ImpossibleInputError
        When the covariance of the cylinder is none.
    """
    if not choices:
        return ()
    refraction, sd = (np.array([[getattr(choice, name) for choice in choices]]) for name in ("refraction_d", "sd_d"))
    twelve, eighteen = (sees(refraction, sd, cylinder, line)[0].tolist() for line in (SIX_TWELVE, SIX_EIGHTEEN))
    return tuple(
        replace(choice, sees_6_12=near, sees_6_18=wide)
        for choice, near, wide in zip(choices, twelve, eighteen, strict=True)
    )
