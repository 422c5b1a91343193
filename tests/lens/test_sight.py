"""The chances of each lens: against drawing refraction and cylinder at random, and their order."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sideport.knowledge import load_published
from sideport.lens.choosing import lens_choice
from sideport.lens.forecast import forecast, lens_table
from sideport.lens.model import LensModel, Placement
from sideport.lens.sight import SIX_EIGHTEEN, SIX_TWELVE, Cylinder, chances, with_cylinder
from sideport.optics.blur import blur_strength_d, logmar_from_blur

KNOWLEDGE = load_published()
FOLD = LensModel("Fold B", 118.7, frozenset({Placement.BAG}), True, 6.0, 2.8, {})
POWERS = np.arange(17.0, 25.5, 0.5)


def run(length=23.4, length_sd=0.2):
    mean = np.array([[length, 44.0, 0.0, 0.0, 3.1, 4.4, 11.8]])
    covariance = np.diag(np.array([length_sd, 0.3, 0.1, 0.1, 0.1, 0.4, 0.4]) ** 2)[None]
    lenses = lens_table([(FOLD, power) for power in POWERS])
    return forecast(
        mean=mean, covariance=covariance, lenses=lenses, placement=Placement.BAG, policy="auto", knowledge=KNOWLEDGE
    )


def cylinder(j0=0.3, j45=-0.2, sd=0.25):
    return Cylinder(np.array([[j0, j45]]), np.diag([sd**2, (1.5 * sd) ** 2])[None])


@pytest.mark.parametrize("crossed", [cylinder(), cylinder(0.0, 0.0), cylinder(0.9, 0.6), cylinder(0.2, 0.1, 0.5)])
def test_every_chance_agrees_with_drawing_at_random(crossed):
    """200,000 draws of refraction and cylinder through the published relation, within 1 point."""
    found = run()
    odds = chances(forecast=found, target_d=-0.5, cylinder=crossed)
    rng = np.random.default_rng(5)
    j = rng.multivariate_normal(crossed.mean_d[0], crossed.covariance_d2[0], 200_000)
    unit = rng.normal(size=200_000)
    for lens in (2, 7, 8, 9, 14):
        drawn = found.refraction_d[0, lens] + found.sd_d[0, lens] * unit
        logmar = logmar_from_blur(blur_d=blur_strength_d(refraction_d=drawn, j0_d=j[:, 0], j45_d=j[:, 1]))
        expected = {
            "within_half": np.mean(np.abs(drawn + 0.5) <= 0.5),
            "within_one": np.mean(np.abs(drawn + 0.5) <= 1.0),
            "beyond_two": np.mean(np.abs(drawn + 0.5) > 2.0),
            "sees_6_12": np.mean(logmar <= SIX_TWELVE),
            "sees_6_18": np.mean(logmar <= SIX_EIGHTEEN),
        }
        for name, value in expected.items():
            assert getattr(odds, name)[0, lens] == pytest.approx(value, abs=0.01), name


@given(st.floats(-1.5, 1.5), st.floats(-1.5, 1.5), st.floats(0.05, 1.0))
def test_a_worse_line_is_always_likelier_and_all_are_probabilities(j0, j45, sd):
    odds = chances(forecast=run(), target_d=-0.5, cylinder=cylinder(j0, j45, sd))
    assert np.all(odds.sees_6_12 <= odds.sees_6_18 + 2e-3)
    assert np.all(odds.within_half <= odds.within_one)
    assert np.all(odds.within_one + odds.beyond_two <= 1.0 + 1e-12)
    for name in ("within_half", "within_one", "beyond_two", "sees_6_12", "sees_6_18"):
        assert np.all((getattr(odds, name) >= 0) & (getattr(odds, name) <= 1.0 + 1e-9))


def test_cylinder_left_behind_costs_sight():
    straight, crossed = (
        chances(forecast=run(), target_d=0.0, cylinder=cylinder(j0, 0.0, 0.1)).sees_6_12.max() for j0 in (0.0, 0.9)
    )
    assert straight - crossed > 0.2


def test_the_lens_that_sees_best_far_off_is_the_one_nearest_zero():
    found = run()
    odds = chances(forecast=found, target_d=-2.0, cylinder=cylinder(0.0, 0.0, 0.1))
    assert odds.sees_6_12[0].argmax() == np.abs(found.refraction_d[0]).argmin()
    assert odds.within_half[0].argmax() == np.abs(found.refraction_d[0] + 2.0).argmin()


def test_an_unknown_eye_has_no_chances():
    odds = chances(forecast=run(np.nan), target_d=0.0, cylinder=cylinder())
    assert np.isnan(odds.sees_6_12).all()
    assert np.isnan(odds.within_half).all()


def test_the_cut_changes_sight_and_nothing_else():
    found = run()
    before = cylinder(0.7, 0.0, 0.1)
    odds = chances(forecast=found, target_d=-0.5, cylinder=before)
    choices = tuple(lens_choice(forecast=found, chances=odds, eye=0, lens=lens, target_d=-0.5) for lens in (7, 8))
    same = with_cylinder(choices=choices, cylinder=before)
    after = with_cylinder(choices=choices, cylinder=cylinder(0.0, 0.0, 0.1))
    for old, equal, new in zip(choices, same, after, strict=True):
        assert equal == old
        assert new.sees_6_12 > old.sees_6_12
        assert (new.refraction_d, new.within_half, new.beyond_two) == (
            old.refraction_d,
            old.within_half,
            old.beyond_two,
        )
    assert with_cylinder(choices=(), cylinder=before) == ()
