"""What a reading would buy: against playing it out at random, never negative, nothing where nothing is open."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sideport.errors import ImpossibleInputError
from sideport.knowledge import load_published
from sideport.lens.forecast import forecast, lens_table
from sideport.lens.model import LensModel, Placement
from sideport.lens.remeasure import sight_gain
from sideport.lens.sight import Cylinder, chances
from sideport.optics.blur import blur_from_logmar

KNOWLEDGE = load_published()
FOLD = LensModel("Fold B", 118.7, frozenset({Placement.BAG}), True, 6.0, 2.8, {}, results_n=40)
SHELF = np.arange(16.0, 27.0, 0.5)
STRAIGHT = Cylinder(np.array([[0.3, 0.1]]), np.array([[[0.04, 0.0], [0.0, 0.04]]]))


def belief(length_sd, length=23.4, k_sd=0.3):
    mean = np.array([[length, 44.0, 0.0, 0.0, 3.1, 4.4, 11.8]])
    return mean, np.diag(np.array([length_sd, k_sd, 0.1, 0.1, 0.1, 0.4, 0.4]) ** 2)[None]


def run(mean, covariance, powers=SHELF, policy="holladay-1"):
    lenses = lens_table([(FOLD, power) for power in powers])
    return forecast(
        mean=mean, covariance=covariance, lenses=lenses, placement=Placement.BAG, policy=policy, knowledge=KNOWLEDGE
    )


def gain_of(before, after, powers=SHELF, cylinder=STRAIGHT, aim=0.0):
    now = run(*before, powers)
    return sight_gain(forecast=now, measuring_after_d=run(*after, powers).measuring_sd_d, cylinder=cylinder, aim_d=aim)


@pytest.mark.parametrize(("wide", "noise", "powers"), [
    (0.30, 0.05, SHELF), (0.30, 0.30, SHELF), (1.00, 0.10, SHELF), (0.30, 0.05, np.arange(17.0, 26.0, 2.0)),
])  # fmt: skip
def test_the_gain_agrees_with_playing_the_reading_out(wide, noise, powers):
    """20,000 eyes drawn from the belief, read again, believed anew by Bayes and given their best lens; within 1 point.

    Nothing of the method is used: truth, reading, posterior and the choice among all lenses are drawn and made one by
    one, and the chance counted is that in the drawn posterior.
    """
    mean, covariance = belief(wide)
    rng = np.random.default_rng(3)
    truth = mean[0, 0] + wide * rng.normal(size=20_000)
    reading = truth + noise * rng.normal(size=truth.size)
    left = 1 / (1 / wide**2 + 1 / noise**2)
    centre = np.repeat(mean, truth.size, axis=0)
    centre[:, 0] = left * (mean[0, 0] / wide**2 + reading / noise**2)
    after = covariance.copy()
    after[0, 0, 0] = left
    drawn = run(centre, np.repeat(after, truth.size, axis=0), powers)
    crossed = Cylinder(
        np.repeat(STRAIGHT.mean_d, truth.size, axis=0), np.repeat(STRAIGHT.covariance_d2, truth.size, axis=0)
    )
    best = chances(forecast=drawn, target_d=0.0, cylinder=crossed).sees_6_12.max(axis=1)
    now = chances(forecast=run(mean, covariance, powers), target_d=0.0, cylinder=STRAIGHT).sees_6_12.max()
    found = gain_of((mean, covariance), (mean, after), powers)
    assert found.now[0] == pytest.approx(now, abs=0.01)
    assert found.gain[0] == pytest.approx(best.mean() - now, abs=0.01)


def test_the_gain_agrees_with_counting_who_sees_after_all():
    """200,000 people: how many more see 6/12 when each lens is chosen by the reading than when it is not."""
    mean, covariance = belief(0.4)
    after = covariance.copy()
    after[0, 0, 0] = 0.05**2
    now, then = run(mean, covariance), run(mean, after)
    rng = np.random.default_rng(4)
    unit, rest = rng.normal(size=(2, 200_000))
    best_now = chances(forecast=now, target_d=0.0, cylinder=STRAIGHT).sees_6_12[0].argmax()
    moved = np.sqrt(now.measuring_sd_d[0] ** 2 - then.measuring_sd_d[0] ** 2)
    known = now.refraction_d[0] - moved * unit[:, None]
    chosen = np.abs(known).argmin(axis=1)
    j = rng.multivariate_normal(STRAIGHT.mean_d[0], STRAIGHT.covariance_d2[0], unit.size)
    allowed = float(blur_from_logmar(logmar=np.log10(2.0)))

    def seeing(lens):
        left = np.broadcast_to(then.sd_d[0], known.shape)
        end = np.take_along_axis(known, lens, 1)[:, 0] + np.take_along_axis(left, lens, 1)[:, 0] * rest
        return np.mean(end**2 + (j**2).sum(axis=1) <= allowed**2)

    counted = seeing(chosen[:, None]) - seeing(np.full((unit.size, 1), best_now))
    assert gain_of((mean, covariance), (mean, after)).gain[0] == pytest.approx(counted, abs=0.01)


@given(st.floats(0.02, 1.2), st.floats(0.0, 1.0), st.floats(20.5, 27.0), st.floats(-2.5, 0.0))
def test_the_gain_is_never_negative_and_never_more_than_certainty(wide, kept, length, aim):
    mean, covariance = belief(wide, length)
    after = covariance.copy()
    after[0, 0, 0] *= kept
    found = gain_of((mean, covariance), (mean, after), aim=aim)
    assert found.gain[0] >= 0.0
    assert found.now[0] + found.gain[0] <= 1.0 + 1e-9


def test_a_reading_that_adds_nothing_buys_nothing():
    exact = belief(0.0)
    assert gain_of(exact, exact).gain[0] == pytest.approx(0.0, abs=1e-12)
    wide = belief(0.3)
    assert gain_of(wide, wide).gain[0] == pytest.approx(0.0, abs=1e-12)


def test_with_one_lens_on_the_shelf_there_is_nothing_to_choose():
    before, after = belief(0.5), belief(0.05)
    assert gain_of(before, after, powers=[21.0]).gain[0] == pytest.approx(0.0, abs=1e-12)
    empty = gain_of(before, after, powers=[])
    assert np.isnan(empty.gain[0])


def test_a_better_reading_buys_more():
    gains = [gain_of(belief(0.5), belief(left)).gain[0] for left in (0.45, 0.3, 0.15, 0.02)]
    assert np.all(np.diff(gains) > 0)


def test_near_work_is_judged_where_it_is_aimed():
    """An eye aimed at -2 D gains as much as one aimed at 0: both have a full shelf to choose from."""
    far, near = (gain_of(belief(0.3), belief(0.05), aim=aim).gain[0] for aim in (0.0, -2.0))
    assert near == pytest.approx(far, abs=0.02)


def test_an_unknown_eye_is_nan_and_touches_no_other():
    mean, covariance = (np.concatenate(part) for part in zip(belief(0.3), belief(0.3, np.nan), strict=True))
    after = np.concatenate([belief(0.05)[1]] * 2)
    both = Cylinder(*(np.concatenate([part, part]) for part in (STRAIGHT.mean_d, STRAIGHT.covariance_d2)))
    found = gain_of((mean, covariance), (mean, after), cylinder=both)
    assert found.gain[0] == pytest.approx(gain_of(belief(0.3), belief(0.05)).gain[0], rel=1e-12)
    assert np.isnan(found.gain[1])


def test_a_spread_of_another_shape_is_refused():
    with pytest.raises(ImpossibleInputError, match="not \\(1, 22\\)"):
        sight_gain(forecast=run(*belief(0.3)), measuring_after_d=np.zeros((1, 3)), cylinder=STRAIGHT)
