"""Giving the shelf's lenses to all eyes of a day at once: a bag lens and a sulcus backup for each."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import linear_sum_assignment

from ..errors import ImpossibleInputError
from ..knowledge import Knowledge
from ..lens.forecast import Forecast, LensTable
from ..lens.spread import probability_within
from ..optics.arrays import BoolArray, FloatArray
from .box import Box

__all__ = ["Given", "assign_units", "expected_loss", "give_lenses"]

IndexArray = NDArray[np.intp]

NONE = -1
TIE = 1e-7
"""Loss [D²] by which each place in the order of expiry is dearer; below any difference that a person could see."""


@dataclass(frozen=True, slots=True)
class Given:
    """Who gets what. Boxes by their place in the order given, lenses by their forecast's column; -1 for none."""

    bag_box: IndexArray
    bag_lens: IndexArray
    backup_box: IndexArray
    backup_lens: IndexArray
    bag_unmet: BoolArray
    """True for an eye that wanted a bag lens and has none."""
    backup_unmet: BoolArray
    """True for an eye that wanted a backup and has none."""


def expected_loss(*, miss_d: ArrayLike, sd_d: ArrayLike, knowledge: Knowledge) -> FloatArray:
    """What a lens is expected to cost an eye in clear sight [D²].

    Parameters
    ----------
    miss_d : array_like, any shape [D]
        Expected refraction minus target.
    sd_d : array_like, broadcastable [D]
    knowledge : Knowledge

    Returns
    -------
    ndarray [D²]

    Notes
    -----
    ``f miss² + sd² + w (1 - P(within 1 D))``: the expected squared distance from target, with misses to the plus side
    (long-sighted, clear at no distance) heavier by the factor f, and a weight w on being a dioptre or more out. Convex
    in the miss over what is acceptable, so a scarce power is shared by two small misses rather than one large.
    """
    miss, sd = np.asarray(miss_d, dtype=np.float64), np.asarray(sd_d, dtype=np.float64)
    factor = np.where(miss > 0, knowledge.value("shelf.give.long_sighted_factor"), 1.0)
    outside = 1.0 - probability_within(miss_d=miss, sd_d=sd, limit_d=1.0)
    return np.asarray(factor * miss**2 + sd**2 + knowledge.value("shelf.give.outside_one_d2") * outside)


def give_lenses(
    *,
    boxes: Sequence[Box],
    bag: Forecast,
    sulcus: Forecast,
    target_d: ArrayLike,
    accept_miss_d: float,
    only_eye: ArrayLike,
    knowledge: Knowledge,
    backup_use: ArrayLike = 1.0,
    wants_bag: ArrayLike = True,
    wants_backup: ArrayLike = True,
    fixed_box: ArrayLike = NONE,
) -> Given:
    """The best lenses for all eyes together from the boxes there are.

    Parameters
    ----------
    boxes : sequence of Box
        As ``usable`` returns them: none expired, none empty, first-expiring first.
    bag, sulcus : Forecast
        Of the same n eyes; a box whose lens a forecast lacks is not given in that placement.
    target_d : array_like, shape (n,) or scalar [D]
    accept_miss_d : float [D]
        A lens that is expected to miss by more is not given.
    only_eye : array_like of bool, shape (n,) or scalar
        Eyes whose loss weighs more because the other cannot see.
    knowledge : Knowledge
    backup_use : array_like, shape (n,) or scalar
        Probability that the backup will be needed [1].
    wants_bag, wants_backup : array_like of bool, shape (n,) or scalar
        Which eyes are to get one.
    fixed_box : array_like of int, shape (n,) or scalar
        Place of the only box that may serve an eye's bag, because a person has fixed it, however far its lens misses;
        -1 for no such box.

    Returns
    -------
    Given

    Notes
    -----
    Exact: the smallest number of eyes without a bag lens (only eyes first), then the least total loss. A backup's loss,
    and the loss of having none of one's own, count at the probability that it is needed: a backup that will stay closed
    in 98 of 100 operations may not spoil the lens that goes in. See ``assign_units`` for how, and ``expected_loss`` for
    what a lens costs an eye. To a bag lens's loss comes a small one for its price; a box without a price counts as the
    middle of the priced ones.
    """
    eyes = len(bag.refraction_d)
    target = np.broadcast_to(np.asarray(target_d, dtype=np.float64), (eyes,))
    weight = np.where(np.asarray(only_eye, dtype=np.bool_), knowledge.value("shelf.give.only_eye_weight"), 1.0)
    weight = np.broadcast_to(weight, (eyes,))
    fixed = np.broadcast_to(np.asarray(fixed_box, dtype=np.intp), (eyes,))
    # A box fixed by hand is not taken from its eye for an only eye's sake.
    matters = np.where(fixed != NONE, eyes * weight.max(initial=1.0), weight)
    costs, columns = [], []
    for placed, wanted in ((bag, wants_bag), (sulcus, wants_backup)):
        column = columns_of(boxes, placed.lenses)
        cost = np.full((eyes, len(boxes)), np.inf)
        has = column != NONE
        miss = placed.refraction_d[:, column[has]] - target[:, None]
        loss = expected_loss(miss_d=miss, sd_d=placed.sd_d[:, column[has]], knowledge=knowledge) * weight[:, None]
        wants = np.broadcast_to(np.asarray(wanted, dtype=np.bool_), (eyes,))[:, None]
        cost[:, has] = np.where(wants & (np.abs(miss) <= accept_miss_d) & np.isfinite(loss), loss, np.inf)
        costs.append(cost)
        columns.append(column)
        if placed is bag:
            keep_fixed(cost, fixed, wants[:, 0], column, placed)
    costs[0] += price_loss(boxes, knowledge)
    use = np.broadcast_to(np.asarray(backup_use, dtype=np.float64), (eyes,))
    costs[1] *= use[:, None]
    without = knowledge.value("shelf.give.without_backup_d2") * use * weight
    counts = np.array([box.count for box in boxes], dtype=np.intp)
    bag_box, backup_box = assign_units(
        bag_cost=costs[0], backup_cost=costs[1], counts=counts, weight=matters, without_backup=without
    )
    return Given(
        bag_box=bag_box,
        bag_lens=picked(columns[0], bag_box),
        backup_box=backup_box,
        backup_lens=picked(columns[1], backup_box),
        bag_unmet=np.broadcast_to(np.asarray(wants_bag, dtype=np.bool_), (eyes,)) & (bag_box == NONE),
        backup_unmet=np.broadcast_to(np.asarray(wants_backup, dtype=np.bool_), (eyes,)) & (backup_box == NONE),
    )


def keep_fixed(cost: FloatArray, fixed: IndexArray, wants: BoolArray, column: IndexArray, bag: Forecast) -> None:
    """Leaves an eye whose box a person has fixed that box alone, at no loss; a lens not made for the bag stays shut."""
    for eye in np.flatnonzero((fixed != NONE) & wants):
        cost[eye] = np.inf
        lens = column[fixed[eye]]
        if lens != NONE and np.isfinite(bag.refraction_d[eye, lens]):
            cost[eye, fixed[eye]] = 0.0


def assign_units(
    *,
    bag_cost: ArrayLike,
    backup_cost: ArrayLike,
    counts: ArrayLike,
    weight: ArrayLike,
    without_backup: ArrayLike,
) -> tuple[IndexArray, IndexArray]:
    """Gives every eye at most one unit for the bag and one as backup, no unit twice, at the least cost.

    Parameters
    ----------
    bag_cost, backup_cost : array_like, shape (n, b)
        Cost of a box's lens for an eye; infinite where it may not be given.
    counts : array_like of int, shape (b,)
        Units in each box. Boxes come in the order in which they are to be used among equals.
    weight : array_like, shape (n,) or scalar
        How much it matters that an eye is not left without a lens for the bag.
    without_backup : array_like, shape (n,) or scalar
        Cost of leaving an eye without a backup of its own.

    Returns
    -------
    tuple of two ndarrays of int, shape (n,)
        Box for the bag and box for the backup; -1 where there is none.

    Raises
    ------
    ImpossibleInputError
        On a negative count, cost or weight, or a cost that is NaN.

    Notes
    -----
    Each eye is two demands (bag, backup) and each unit serves one, so although bag and backup share the shelf this is
    an assignment problem: its constraint matrix is totally unimodular, the linear relaxation is already whole, and the
    shortest-augmenting-path method solves it exactly without branching. Every demand also has a column of its own that
    means going without: a backup costs there what the caller says, a bag lens more than all that could be saved by it.

    With r demands, some optimum uses for each demand only its r cheapest units, because the other r - 1 demands cannot
    hold more than r - 1 of them; dearer units are left out, which keeps large shelves fast and changes nothing.

    References
    ----------
    Crouse, On implementing 2D rectangular assignment algorithms, IEEE Trans Aerosp Electron Syst 2016;52:1679-1696.
    Total unimodularity of bipartite incidence is textbook.
    """
    bag, backup = np.asarray(bag_cost, dtype=np.float64), np.asarray(backup_cost, dtype=np.float64)
    eyes, box_count = bag.shape
    units, importance = (
        np.asarray(counts, dtype=np.intp),
        np.broadcast_to(np.asarray(weight, dtype=np.float64), (eyes,)),
    )
    missing = np.broadcast_to(np.asarray(without_backup, dtype=np.float64), (eyes,))
    if (
        np.any(units < 0)
        or np.any(importance <= 0)
        or not np.all(missing >= 0)
        or not (np.all(bag >= 0) and np.all(backup >= 0))
    ):
        raise ImpossibleInputError(
            "Counts and costs of lenses must be 0 or more, weights above 0, and none may be NaN."
        )
    demands = 2 * eyes
    order = np.arange(box_count)
    cost = np.vstack([bag + TIE * order, backup + 0.5 * TIE * order])
    unit_box = np.repeat(order, np.minimum(units, demands))
    unit_box = cheapest_units(cost, unit_box)
    cost = cost[:, unit_box]
    finite = cost[np.isfinite(cost)]
    without_bag = (1.0 + float(missing.sum()) + 2.0 * demands * float(finite.max(initial=0.0))) * importance
    alone = np.full((demands, demands), np.inf)
    np.fill_diagonal(alone, np.concatenate([without_bag, missing]))
    rows, chosen = linear_sum_assignment(np.hstack([cost, alone]))
    box = np.full(demands, NONE, dtype=np.intp)
    real = chosen < len(unit_box)
    box[rows[real]] = unit_box[chosen[real]]
    return box[:eyes], box[eyes:]


def cheapest_units(cost: FloatArray, unit_box: IndexArray) -> IndexArray:
    """The units that are among the r cheapest for at least one of r demands, in their order."""
    demands = len(cost)
    if len(unit_box) <= demands:
        return unit_box
    by_unit = cost[:, unit_box]
    among = np.argpartition(by_unit, demands - 1, axis=1)[:, :demands]
    keep = np.zeros(len(unit_box), dtype=np.bool_)
    keep[np.unique(among[np.isfinite(np.take_along_axis(by_unit, among, axis=1))])] = True
    return unit_box[keep]


def price_loss(boxes: Sequence[Box], knowledge: Knowledge) -> FloatArray:
    """The small loss that a box's price counts for; 0 for all when no box has a price."""
    prices = np.array([np.nan if box.price is None else box.price for box in boxes], dtype=np.float64)
    known = prices[np.isfinite(prices)]
    if not known.size or known.max() <= 0:
        return np.zeros(len(boxes))
    filled = np.where(np.isfinite(prices), prices, np.median(known))
    return np.asarray(knowledge.value("shelf.give.dearest_box_d2") * filled / known.max())


def columns_of(boxes: Sequence[Box], lenses: LensTable) -> IndexArray:
    """The forecast's column of each box's lens; -1 where the forecast lacks it."""
    place = {
        (lenses.models[model].name, power): column
        for column, (model, power) in enumerate(zip(lenses.model_index.tolist(), lenses.power_d.tolist(), strict=True))
    }
    return np.array([place.get((box.model, float(box.power_d)), NONE) for box in boxes], dtype=np.intp)


def picked(columns: IndexArray, box: IndexArray) -> IndexArray:
    """The column of each chosen box; -1 stays -1."""
    return np.append(columns, NONE)[box]
