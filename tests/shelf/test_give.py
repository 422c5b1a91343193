"""Giving lenses: no unit twice, nobody left without needlessly, exact on small days, never worse than greedy."""

from datetime import date
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.optimize import LinearConstraint, milp

from sideport.errors import ImpossibleInputError
from sideport.knowledge import load_published
from sideport.lens.forecast import Forecast, lens_table
from sideport.lens.model import LensModel, Placement
from sideport.shelf.box import Box
from sideport.shelf.give import assign_units, expected_loss, give_lenses

KNOWLEDGE = load_published()
ANY = frozenset({Placement.BAG, Placement.SULCUS})
FOLD = LensModel("Fold B", 118.5, ANY, True, 6.0, 2.8, {})


def shelf_forecast(refraction, placement=Placement.BAG, powers=None, sd=0.5):
    """A forecast made by hand: only what giving needs is filled."""
    refraction = np.asarray(refraction, dtype=float)
    powers = powers if powers is not None else [20.0 + k for k in range(refraction.shape[1])]
    zero = np.zeros_like(refraction)
    return Forecast(
        lenses=lens_table((FOLD, power) for power in powers),
        placement=placement,
        formula_keys=(),
        refraction_d=refraction,
        sd_d=zero + sd,
        by_formula_d=zero[None],
        trusted=(("srk-t",) * len(refraction),),
        measuring_sd_d=zero,
        constant_sd_d=zero,
        label_sd_d=zero,
        remaining_sd_d=zero,
    )


def box(number, power, count=1, expires=None, price=None):
    return Box(f"b{number}", "Fold B", power, count, expires, price=price)


@st.composite
def small_days(draw, eyes=3, boxes=4):
    n, b = draw(st.integers(1, eyes)), draw(st.integers(0, boxes))
    cell = st.one_of(st.floats(0.0, 4.0), st.just(np.inf))
    return (
        draw(arrays(float, (n, b), elements=cell)),
        draw(arrays(float, (n, b), elements=cell)),
        draw(arrays(np.int64, b, elements=st.integers(0, 3))),
        draw(arrays(float, n, elements=st.sampled_from([1.0, 3.0]))),
    )


WITHOUT_BACKUP = 1.5


def score(bag, backup, weight, bag_box, backup_box):
    """What matters, in order: weighted eyes without a bag lens, total loss with that of going without a backup."""
    cost = sum(bag[eye, box] for eye, box in enumerate(bag_box) if box >= 0)
    cost += sum(backup[eye, box] if box >= 0 else WITHOUT_BACKUP for eye, box in enumerate(backup_box))
    return weight[np.asarray(bag_box) < 0].sum(), cost


def allowed(bag, backup, counts, bag_box, backup_box):
    used = np.bincount([box for box in (*bag_box, *backup_box) if box >= 0], minlength=len(counts))
    fits = all(bag[eye, box] < np.inf for eye, box in enumerate(bag_box) if box >= 0)
    fits &= all(backup[eye, box] < np.inf for eye, box in enumerate(backup_box) if box >= 0)
    return bool(np.all(used <= counts)) and fits


@given(small_days(eyes=12, boxes=15))
def test_no_unit_is_given_twice_and_no_forbidden_lens_at_all(day):
    bag, backup, counts, weight = day
    bag_box, backup_box = assign_units(
        bag_cost=bag, backup_cost=backup, counts=counts, weight=weight, without_backup=WITHOUT_BACKUP
    )
    assert allowed(bag, backup, counts, bag_box, backup_box)


@settings(max_examples=60, deadline=None)
@given(small_days(eyes=2, boxes=4))
def test_equals_brute_force_on_small_days(day):
    bag, backup, counts, weight = day
    n, b = bag.shape
    best = min(
        score(bag, backup, weight, choice[:n], choice[n:])
        for choice in product(range(-1, b), repeat=2 * n)
        if allowed(bag, backup, counts, choice[:n], choice[n:])
    )
    found = score(
        bag,
        backup,
        weight,
        *assign_units(bag_cost=bag, backup_cost=backup, counts=counts, weight=weight, without_backup=WITHOUT_BACKUP),
    )
    assert found[0] == best[0]
    assert found[1] == pytest.approx(best[1], abs=1e-5)


@given(small_days(eyes=10, boxes=12))
def test_never_worse_than_greedy(day):
    bag, backup, counts, weight = day
    left, greedy = counts.copy(), {"bag": [], "backup": []}
    for name, cost in (("bag", bag), ("backup", backup)):
        for row in cost:
            open_ = np.where(left > 0, row, np.inf)
            pick = int(np.argmin(open_)) if open_.size and np.isfinite(open_.min()) else -1
            if pick >= 0:
                left[pick] -= 1
            greedy[name].append(pick)
    found = score(
        bag,
        backup,
        weight,
        *assign_units(bag_cost=bag, backup_cost=backup, counts=counts, weight=weight, without_backup=WITHOUT_BACKUP),
    )
    by_greedy = score(bag, backup, weight, greedy["bag"], greedy["backup"])
    assert found[0] <= by_greedy[0]
    if found[0] == by_greedy[0]:
        assert found[1] <= by_greedy[1] + 1e-5


@given(small_days(eyes=8, boxes=6))
def test_leaving_out_dear_units_changes_nothing(day):
    bag, backup, counts, weight = day
    many = counts + 40
    pruned = score(
        bag,
        backup,
        weight,
        *assign_units(bag_cost=bag, backup_cost=backup, counts=many, weight=weight, without_backup=WITHOUT_BACKUP),
    )
    cheapest = bag.min(axis=1, initial=np.inf)
    exact = cheapest[np.isfinite(cheapest)].sum() + backup.min(axis=1, initial=WITHOUT_BACKUP).sum()
    assert pruned[1] == pytest.approx(exact, abs=1e-5)


def test_the_earlier_expiring_of_equal_boxes_goes_first_and_to_the_bag():
    boxes = [box(1, 20.0, expires=date(2027, 1, 31)), box(2, 20.0, expires=date(2028, 1, 31)), box(3, 20.0)]
    given_ = give_lenses(
        boxes=boxes, bag=shelf_forecast([[-0.5]]), sulcus=shelf_forecast([[-0.5]], Placement.SULCUS), target_d=-0.5,
        accept_miss_d=1.0, only_eye=False, knowledge=KNOWLEDGE,
    )  # fmt: skip
    assert (given_.bag_box[0], given_.backup_box[0]) == (0, 1)


def test_an_only_eye_gets_the_better_lens():
    shared = shelf_forecast([[-0.5, 0.2], [-0.5, 0.2]])
    given_ = give_lenses(
        boxes=[box(1, 20.0), box(2, 21.0)], bag=shared, sulcus=shared, target_d=-0.5, accept_miss_d=1.0,
        only_eye=[False, True], knowledge=KNOWLEDGE, wants_backup=False,
    )  # fmt: skip
    assert given_.bag_lens.tolist() == [1, 0]


def test_an_only_eye_is_the_last_to_go_without():
    shared = shelf_forecast([[-0.5], [-0.5], [-0.5]])
    given_ = give_lenses(
        boxes=[box(1, 20.0)], bag=shared, sulcus=shared, target_d=-0.5, accept_miss_d=1.0,
        only_eye=[False, False, True], knowledge=KNOWLEDGE,
    )  # fmt: skip
    assert given_.bag_unmet.tolist() == [True, True, False]
    assert given_.backup_unmet.all()


def test_a_backup_that_stays_closed_does_not_spoil_the_lens_that_goes_in():
    """One eye, one well-fitting box and one half a dioptre off: which goes where depends on the chance of a tear."""
    lenses = shelf_forecast([[-0.5, -1.1]]), shelf_forecast([[-0.5, -1.6]], Placement.SULCUS)
    boxes = [box(1, 20.0), box(2, 21.0)]
    for use, wanted in ((0.01, (0, -1)), (0.9, (1, 0))):
        given_ = give_lenses(
            boxes=boxes, bag=lenses[0], sulcus=lenses[1], target_d=-0.5, accept_miss_d=1.0, only_eye=False,
            knowledge=KNOWLEDGE, backup_use=use,
        )  # fmt: skip
        assert (given_.bag_box[0], given_.backup_box[0]) == wanted


def test_a_bag_lens_comes_before_any_backup():
    """Both eyes could use the one box; only the first could use it best, as a backup."""
    bag = shelf_forecast([[0.4]])
    sulcus = shelf_forecast([[-0.5]], Placement.SULCUS)
    given_ = give_lenses(
        boxes=[box(1, 20.0)], bag=bag, sulcus=sulcus, target_d=-0.5, accept_miss_d=1.0, only_eye=False,
        knowledge=KNOWLEDGE,
    )  # fmt: skip
    assert given_.bag_box.tolist() == [0]
    assert given_.backup_unmet.tolist() == [True]


def test_an_unacceptable_miss_is_not_given_and_is_reported():
    shared = shelf_forecast([[-1.6]])
    given_ = give_lenses(
        boxes=[box(1, 20.0, count=9)], bag=shared, sulcus=shared, target_d=-0.5, accept_miss_d=1.0, only_eye=False,
        knowledge=KNOWLEDGE,
    )  # fmt: skip
    assert given_.bag_box.tolist() == [-1]
    assert given_.bag_unmet.tolist() == [True]


def test_an_eye_of_which_nothing_is_known_is_reported_unmet():
    shared = shelf_forecast([[np.nan]])
    given_ = give_lenses(
        boxes=[box(1, 20.0)], bag=shared, sulcus=shared, target_d=-0.5, accept_miss_d=1.0, only_eye=False,
        knowledge=KNOWLEDGE,
    )  # fmt: skip
    assert given_.bag_unmet.tolist() == [True]


def test_the_cheaper_of_two_equal_lenses_is_given():
    boxes = [box(1, 20.0, price=90.0), box(2, 20.0, price=10.0)]
    shared = shelf_forecast([[-0.5]])
    given_ = give_lenses(
        boxes=boxes, bag=shared, sulcus=shared, target_d=-0.5, accept_miss_d=1.0, only_eye=False, knowledge=KNOWLEDGE,
        wants_backup=False,
    )  # fmt: skip
    assert given_.bag_box.tolist() == [1]


def test_sight_outweighs_price():
    """A quarter dioptre is worth more than the price of the dearest box."""
    boxes = [box(1, 20.0, price=500.0), box(2, 21.0, price=1.0)]
    shared = shelf_forecast([[-0.5, -0.75]])
    given_ = give_lenses(
        boxes=boxes, bag=shared, sulcus=shared, target_d=-0.5, accept_miss_d=1.0, only_eye=False, knowledge=KNOWLEDGE,
        wants_backup=False,
    )  # fmt: skip
    assert given_.bag_box.tolist() == [0]


def test_an_empty_shelf_and_an_empty_day_are_days_too():
    nobody = assign_units(
        bag_cost=np.zeros((0, 3)),
        backup_cost=np.zeros((0, 3)),
        counts=[1, 1, 1],
        weight=np.zeros(0),
        without_backup=0.0,
    )
    nothing = assign_units(
        bag_cost=np.zeros((2, 0)), backup_cost=np.zeros((2, 0)), counts=[], weight=1.0, without_backup=1.0
    )
    assert nobody[0].shape == (0,)
    assert nothing[0].tolist() == [-1, -1]


@pytest.mark.parametrize(("counts", "cost"), [([-1], 1.0), ([1], -1.0), ([1], np.nan)])
def test_impossible_counts_and_costs_are_refused(counts, cost):
    with pytest.raises(ImpossibleInputError, match="lenses"):
        assign_units(bag_cost=[[cost]], backup_cost=[[1.0]], counts=counts, weight=1.0, without_backup=1.0)


@given(st.floats(-1.0, 1.0), st.floats(-1.0, 1.0), st.floats(0.3, 2.0))
def test_the_loss_is_convex_over_what_is_acceptable(one, other, sd):
    both = expected_loss(miss_d=[one, other], sd_d=sd, knowledge=KNOWLEDGE).mean()
    middle = expected_loss(miss_d=(one + other) / 2, sd_d=sd, knowledge=KNOWLEDGE)
    assert middle <= both + 1e-9


def test_of_two_equal_misses_the_long_sighted_one_costs_more():
    minus, plus = expected_loss(miss_d=[-0.25, 0.25], sd_d=0.5, knowledge=KNOWLEDGE)
    assert plus > minus


def test_a_day_of_60_eyes_and_400_boxes_is_solved_at_once():
    rng = np.random.default_rng(7)
    wanted = rng.normal(21.0, 2.5, 60)
    powers = np.round(rng.normal(21.0, 3.0, 400) * 2) / 2
    lenses = np.unique(powers)
    refraction = -0.7 * (lenses - wanted[:, None]) - 0.5
    boxes = [box(number, float(power), count=int(rng.integers(1, 6))) for number, power in enumerate(powers)]
    given_ = give_lenses(
        boxes=boxes, bag=shelf_forecast(refraction, powers=lenses.tolist()),
        sulcus=shelf_forecast(refraction - 0.7, Placement.SULCUS, lenses.tolist()), target_d=-0.5, accept_miss_d=1.0,
        only_eye=False, knowledge=KNOWLEDGE,
    )  # fmt: skip
    taken = np.concatenate([given_.bag_box, given_.backup_box])
    assert np.all(np.bincount(taken[taken >= 0], minlength=400) <= [b.count for b in boxes])
    assert given_.bag_unmet.sum() < 6


@pytest.mark.parametrize("seed", range(8))
def test_agrees_with_a_general_integer_program(seed):
    """scipy.optimize.milp (HiGHS) on the same day, with more units than demands so that dear ones are left out."""
    rng = np.random.default_rng(seed)
    n, b = 7, 25
    cost = np.where(rng.random((2 * n, b)) < 0.3, np.inf, rng.uniform(0, 4, (2 * n, b)).round(2))
    counts, weight = rng.integers(0, 3, b), np.ones(n)
    found = assign_units(
        bag_cost=cost[:n], backup_cost=cost[n:], counts=counts, weight=weight, without_backup=WITHOUT_BACKUP
    )
    ours = score(cost[:n], cost[n:], weight, *found)
    demand, box_ = np.nonzero(np.isfinite(cost))
    reward = np.where(demand < n, 1e5, WITHOUT_BACKUP)
    one_each = LinearConstraint(np.arange(2 * n)[:, None] == demand, ub=1)
    in_stock = LinearConstraint(np.arange(b)[:, None] == box_, ub=counts)
    solved = milp(
        cost[demand, box_] - reward, constraints=[one_each, in_stock], integrality=np.ones(len(demand)), bounds=(0, 1)
    )
    taken = solved.x > 0.5
    assert (taken & (demand < n)).sum() == n - ours[0]
    gone_without = n - (taken & (demand >= n)).sum()
    assert cost[demand[taken], box_[taken]].sum() + WITHOUT_BACKUP * gone_without == pytest.approx(ours[1], abs=1e-4)
