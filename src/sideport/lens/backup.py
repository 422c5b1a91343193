"""The power each placement asks for in an eye; no power is told without its placement."""

import numpy as np
from numpy.typing import ArrayLike

from ..knowledge import Knowledge, load_published
from ..optics.arrays import FloatArray
from .constants import check_placement, constants_for
from .formula import Biometry
from .model import LensModel, Placement
from .registry import FORMULAS
from .trust import formula_for

__all__ = ["reduced_for_sulcus", "wanted_power"]


def wanted_power(
    *,
    model: LensModel,
    placement: Placement,
    biometry: Biometry,
    target_d: ArrayLike,
    policy: str,
    knowledge: Knowledge,
) -> FloatArray:
    """Power that would leave each eye on its target with a model in a placement.

    Parameters
    ----------
    model : LensModel
    placement : Placement
        Refused when the model is not made for it.
    biometry : Biometry
        Arrays of shape (n,) [mm, D, mm]; a chamber depth of NaN was not measured.
    target_d : array_like, shape (n,) or scalar [D]
    policy : str
        As in ``formula_for``.
    knowledge : Knowledge

    Returns
    -------
    ndarray, shape (n,) [D]
        Not rounded to a power that is made; NaN where the biometry is.

    Raises
    ------
    ImpossibleInputError
        When the model is not made for the placement.

    Notes
    -----
    The mean of the trusted formulas' powers, with the model's constants for the placement. For an optic held in the
    capsulorhexis by haptics in the sulcus the lens sits as in the bag: ask for the bag.
    """
    check_placement(model, placement)
    arrays = (biometry.axial_length_mm, biometry.mean_k_d, biometry.chamber_depth_mm, target_d)
    length, mean_k, depth, target = np.broadcast_arrays(
        *(np.atleast_1d(np.asarray(a, dtype=np.float64)) for a in arrays)
    )
    eyes = Biometry(length, mean_k, depth)
    found = {
        key: constants_for(model=model, formula_key=key, placement=placement, knowledge=knowledge)
        for key, formula in FORMULAS.items()
        if not formula.historical
    }
    constants = {key: entry.constants for key, entry in found.items() if entry is not None}
    trust = formula_for(biometry=eyes, available=constants, policy=policy, knowledge=knowledge)
    power = np.where(np.isnan(trust.weights[0]), np.nan, 0.0)
    for key, weight in zip(trust.keys, trust.weights, strict=True):
        some = weight > 0
        if key in constants and some.any():
            asked = FORMULAS[key].power_d(
                Biometry(length[some], mean_k[some], depth[some]), constants[key], target[some]
            )
            power[some] += weight[some] * asked
    return power


def reduced_for_sulcus(*, bag_power_d: ArrayLike, knowledge: Knowledge | None = None) -> FloatArray:
    """Bag power less the published rounded reduction for the sulcus: the second method beside ``wanted_power``.

    Parameters
    ----------
    bag_power_d : array_like, any shape [D]
    knowledge : Knowledge or None
        ``None`` takes the published numbers.

    Returns
    -------
    ndarray, shape of the input [D]

    Notes
    -----
    Take off 1.5 D from 28.5 D up, 1.0 D from 17.5 D, 0.5 D from 9.5 D, nothing below. Powers between two printed rows
    belong to the lower row.

    References
    ----------
    sulcus_table; dubey2012 asks for at least 1.0 D from 18 to 25 D, 1.5 to 2.0 D above and 0.5 D below.
    """
    knowledge = knowledge or load_published()
    power = np.asarray(bag_power_d, dtype=np.float64)
    reduction = np.zeros_like(power)
    for band in ("low", "middle", "high"):
        starts = knowledge.value(f"sulcus.reduction.{band}.from_d")
        reduction = np.where(power >= starts, knowledge.value(f"sulcus.reduction.{band}.reduce_d"), reduction)
    return np.asarray(power - reduction)
