"""Blur and acuity: the relation, its inverse, and the chance of a line against draws and exact cases."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import chi, ncx2

from sideport.errors import ImpossibleInputError
from sideport.optics.blur import (
    BLENDOWSKE_2015,
    blur_from_logmar,
    blur_strength_d,
    logmar_from_blur,
    probability_acuity,
)
from sideport.optics.power_vector import refraction_vector

SIX_TWELVE, SIX_EIGHTEEN = float(np.log10(2)), float(np.log10(3))
CERTAIN = np.zeros((2, 2))
dioptres = st.floats(-4, 4)
spreads = st.floats(0.05, 1.5)


def test_one_dioptre_doubles_the_smallest_letter():
    """Blendowske 2015, abstract: MAR proportional to 1 + b^2."""
    assert 10 ** logmar_from_blur(blur_d=1.0) == pytest.approx(2.0)
    assert 10 ** logmar_from_blur(blur_d=3.0) == pytest.approx(10.0)
    assert BLENDOWSKE_2015.source == "blendowske2015"


def test_cylinder_is_forgiven_as_presbyopes_forgive_it():
    """Hoshikawa 2021, abstract: 0.017 x^2 + 0.125 x - 0.116 for x up to 3 D of balanced cylinder, within 0.05."""
    cylinder = np.linspace(0, 3, 31)
    printed = 0.017 * cylinder**2 + 0.125 * cylinder - 0.116
    assert np.max(np.abs(logmar_from_blur(blur_d=cylinder / 2, best_logmar=-0.116) - printed)) < 0.05


@given(blur=st.floats(0, 15), best=st.floats(-0.3, 1.0))
def test_blur_and_acuity_are_inverse(blur, best):
    seen = logmar_from_blur(blur_d=blur, best_logmar=best)
    assert blur_from_logmar(logmar=seen, best_logmar=best) == pytest.approx(blur, abs=1e-6)


@given(first=st.floats(0, 15), second=st.floats(0, 15))
def test_more_blur_never_sees_better(first, second):
    low, high = sorted((first, second))
    assert logmar_from_blur(blur_d=low) <= logmar_from_blur(blur_d=high)


def test_limits_of_the_two_lines():
    assert blur_from_logmar(logmar=SIX_TWELVE) == pytest.approx(1.0)
    assert blur_from_logmar(logmar=SIX_EIGHTEEN) == pytest.approx(np.sqrt(2))
    assert np.isnan(blur_from_logmar(logmar=-0.1))


def test_strength_is_the_length_of_the_power_vector():
    vector = refraction_vector(sphere_d=-1.25, cylinder_d=-0.75, axis_deg=30.0)
    strength = blur_strength_d(refraction_d=vector.mean_d, j0_d=vector.j0_d, j45_d=vector.j45_d)
    assert strength == pytest.approx(float(vector.blur_d))


@given(mean=dioptres, sd=spreads, limit=st.floats(0.05, 1.0))
def test_without_cylinder_the_chance_is_the_normal_one(mean, sd, limit):
    """P(|M| < T) = P(chi'^2_1 < (T / sd)^2), by SciPy's noncentral chi-square."""
    reach = np.sqrt(10**limit - 1)
    expected = ncx2.cdf((reach / sd) ** 2, df=1, nc=(mean / sd) ** 2) if mean else chi.cdf(reach / sd, df=1)
    found = chance(mean, sd, 0.0, 0.0, CERTAIN, limit)
    assert found == pytest.approx(float(expected), abs=1e-4)


@given(mean=dioptres, j0=st.floats(-1.5, 1.5), j45=st.floats(-1.5, 1.5), sd=spreads, limit=st.floats(0.1, 1.0))
def test_a_round_belief_gives_the_noncentral_chi_square(mean, j0, j45, sd, limit):
    """With M, J0 and J45 of one spread, b^2 / sd^2 is a noncentral chi-square with three degrees (SciPy)."""
    square = 10**limit - 1
    expected = ncx2.cdf(square / sd**2, df=3, nc=(mean**2 + j0**2 + j45**2 + 1e-12) / sd**2)
    found = chance(mean, sd, j0, j45, sd**2 * np.eye(2), limit)
    assert found == pytest.approx(float(expected), abs=6e-3)


@pytest.mark.parametrize("limit", [SIX_TWELVE, SIX_EIGHTEEN])
@pytest.mark.parametrize("scale", [1.0, 0.3, 0.0])
def test_chance_agrees_with_draws(limit, scale):
    """200,000 draws of an unequal, correlated belief; three standard errors and the stated error."""
    rng = np.random.default_rng(20)
    for _ in range(6):
        mean, j0, j45 = rng.normal(0, 0.6, 3)
        root = rng.normal(0, 0.3, (2, 2))
        sd = scale * rng.uniform(0.3, 0.8)
        drawn = rng.multivariate_normal((j0, j45), root @ root.T, 200_000)
        spheres = mean + sd * rng.standard_normal(200_000)
        seen = logmar_from_blur(blur_d=np.sqrt(spheres**2 + (drawn**2).sum(axis=1))) <= limit
        found = chance(mean, sd, j0, j45, root @ root.T, limit)
        assert abs(float(found) - seen.mean()) < 0.002 + 3 * 0.5 / np.sqrt(200_000)


def test_narrow_and_wide_spreads_meet_at_the_border():
    """The short rule and the whole measure agree to the stated 0.005 where one hands over to the other."""
    rng = np.random.default_rng(3)
    mean, j0, j45 = rng.normal(0, 0.7, (3, 200))
    root = rng.normal(0, 0.3, (200, 2, 2))
    spread = root @ np.swapaxes(root, -1, -2)
    below, above = (chance(mean, sd, j0, j45, spread, SIX_EIGHTEEN) for sd in (0.2499999, 0.25))
    assert np.max(np.abs(below - above)) < 0.005


@given(j0=st.floats(0, 1.2), more=st.floats(0, 1.0), sd=st.floats(0.3, 1.0))
def test_more_cylinder_never_helps_an_eye_on_target(j0, more, sd):
    spread = 0.04 * np.eye(2)
    assert chance(0.0, sd, j0 + more, 0.0, spread, SIX_TWELVE) <= chance(0.0, sd, j0, 0.0, spread, SIX_TWELVE) + 2e-3


def test_eyes_down_and_lenses_across_broadcast_row_by_row():
    rng = np.random.default_rng(5)
    mean, sd = rng.normal(0, 1, (4, 6)), rng.uniform(0.1, 0.8, (4, 6))
    j0, j45 = rng.normal(0, 0.4, (2, 4, 1))
    spread = np.broadcast_to(0.05 * np.eye(2), (4, 1, 2, 2))
    whole = chance(mean, sd, j0, j45, spread, SIX_TWELVE)
    assert whole.shape == (4, 6)
    alone = chance(mean[2, 3], sd[2, 3], j0[2, 0], j45[2, 0], spread[2, 0], SIX_TWELVE)
    assert alone == pytest.approx(whole[2, 3], abs=1e-12)


def test_missing_stays_missing_in_its_own_row():
    for sd in (0.1, 0.4):
        found = chance(np.array([0.0, np.nan, 0.0]), sd, np.array([0.1, 0.1, np.nan]), 0.0, CERTAIN, SIX_TWELVE)
        assert np.isfinite(found).tolist() == [True, False, False]
    assert np.isnan(chance(0.0, np.nan, 0.0, 0.0, CERTAIN, SIX_TWELVE))
    assert np.isnan(chance(0.0, 0.4, 0.0, 0.0, np.full((2, 2), np.nan), SIX_TWELVE))


def test_a_line_beyond_the_best_is_never_reached():
    assert chance(0.0, 0.3, 0.0, 0.0, CERTAIN, 0.1, best=0.2) == 0.0


@pytest.mark.parametrize(
    ("sd", "spread", "words"),
    [(-0.1, CERTAIN, "negative"), (0.3, [[1.0, 2.0], [2.0, 1.0]], "negative variance"), (0.3, [1.0, 2.0], "2 by 2")],
)
def test_impossible_beliefs_are_refused(sd, spread, words):
    with pytest.raises(ImpossibleInputError, match=words):
        chance(0.0, sd, 0.0, 0.0, spread, SIX_TWELVE)
    with pytest.raises(ImpossibleInputError, match="negative"):
        logmar_from_blur(blur_d=-1.0)


def chance(mean, sd, j0, j45, spread, limit, best=0.0):
    return probability_acuity(
        refraction_d=mean, sd_d=sd, j0_d=j0, j45_d=j45, cylinder_covariance_d2=spread, logmar_limit=limit,
        best_logmar=best,
    )  # fmt: skip
