"""Sums of astigmatism, and the chance of a small one against other ways of computing it."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import ncx2

from sideport.errors import ImpossibleInputError
from sideport.wound.cylinder import cylinder_after, probability_cylinder_within


@pytest.mark.parametrize(
    ("before", "axis", "induced", "induced_axis", "after", "after_axis"),
    [
        (0.0, 90, 0.5, 90, 0.5, 90),
        (1.0, 180, 0.5, 90, 0.5, 0),
        (1.0, 30, 0.5, 90, 0.8660254, 45),
        (1.5, 90, 1.5, 0, 0.0, 90),
    ],
)
def test_sums_by_hand(before, axis, induced, induced_axis, after, after_axis):
    """Vector sums on the double-angle plane, worked by hand."""
    found = cylinder_after(magnitude_d=before, axis_deg=axis, induced_d=induced, induced_axis_deg=induced_axis)
    assert found.magnitude_d == pytest.approx(after, abs=1e-7)
    if after:
        assert found.steep_axis_deg == pytest.approx(after_axis, abs=1e-5)


@given(st.floats(0, 180), st.floats(0.05, 3), st.floats(0.05, 3), st.floats(0, 180))
def test_rotating_eye_and_cut_rotates_the_answer(turn, before, induced, axis):
    """Turning cornea and cut together turns the result and leaves its size."""
    plain = cylinder_after(magnitude_d=before, axis_deg=axis, induced_d=induced, induced_axis_deg=90)
    turned = cylinder_after(magnitude_d=before, axis_deg=axis + turn, induced_d=induced, induced_axis_deg=90 + turn)
    assert turned.magnitude_d == pytest.approx(plain.magnitude_d, abs=1e-9)
    if plain.magnitude_d > 1e-3:
        assert np.cos(2 * np.radians(turned.steep_axis_deg - plain.steep_axis_deg - turn)) == pytest.approx(1.0)


@given(st.floats(-2, 2), st.floats(-2, 2), st.floats(0.02, 1.5), st.floats(0.1, 3))
def test_round_spread_agrees_with_noncentral_chi_square(j0, j45, sd, limit):
    """With one spread in all directions the squared length is a noncentral chi-square."""
    expected = ncx2.cdf((limit / 2 / sd) ** 2, 2, (j0**2 + j45**2) / sd**2)
    found = probability_cylinder_within(mean=[j0, j45], covariance=sd**2 * np.eye(2), limit_d=limit)
    assert found == pytest.approx(expected, abs=1e-8)


def test_slanted_spread_agrees_with_simulation():
    """An elongated, slanted spread agrees with 400,000 draws within four standard errors."""
    mean, covariance = np.array([0.2, -0.3]), np.array([[0.16, 0.09], [0.09, 0.09]])
    draws = np.random.default_rng(7).multivariate_normal(mean, covariance, 400_000)
    share = np.mean(2 * np.hypot(*draws.T) <= 1.0)
    found = probability_cylinder_within(mean=mean, covariance=covariance, limit_d=1.0)
    assert found == pytest.approx(share, abs=4 * np.sqrt(share * (1 - share) / len(draws)))


def test_certainty_and_missing():
    """No spread gives 0 or 1; a missing row is missing alone; rows do not touch each other."""
    found = probability_cylinder_within(
        mean=[[0.4, 0], [0.6, 0], [np.nan, 0]], covariance=np.zeros((2, 2)), limit_d=[1.0, 1.0, 1.0]
    )
    assert found[:2].tolist() == [1.0, 0.0]
    assert np.isnan(found[2])
    assert probability_cylinder_within(mean=np.zeros((3, 1, 2)), covariance=np.eye(2), limit_d=[1, 2]).shape == (3, 2)


def test_impossible_spread_and_limit():
    """A negative limit or variance is refused."""
    with pytest.raises(ImpossibleInputError, match="negative"):
        probability_cylinder_within(mean=[0, 0], covariance=np.eye(2), limit_d=-1)
    with pytest.raises(ImpossibleInputError, match="negative variance"):
        probability_cylinder_within(mean=[0, 0], covariance=[[1, 2], [2, 1]], limit_d=1)
