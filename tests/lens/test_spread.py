"""The parts of the spread: normal tails, published scatter, label tolerance, sigma points."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from sideport.errors import ImpossibleInputError
from sideport.knowledge import load_published
from sideport.lens.model import Placement
from sideport.lens.spread import label_sd, probability_within, remaining_sd, sigma_points, total_sd

KNOWLEDGE = load_published()


@given(st.floats(-3, 3), st.floats(0.05, 3), st.floats(0, 2))
def test_the_probability_is_the_normal_one(miss, sd, limit):
    """scipy.stats.norm.cdf at both limits."""
    expected = norm.cdf(limit, miss, sd) - norm.cdf(-limit, miss, sd)
    assert float(probability_within(miss_d=miss, sd_d=sd, limit_d=limit)) == pytest.approx(expected, abs=1e-12)


def test_certainty_is_one_or_nothing_and_nan_stays_nan():
    assert probability_within(miss_d=[0.4, 0.6, np.nan], sd_d=0.0, limit_d=0.5).tolist()[:2] == [1.0, 0.0]
    assert np.isnan(probability_within(miss_d=[np.nan, 0.0], sd_d=[0.0, np.nan], limit_d=0.5)).all()


def test_a_negative_spread_is_refused():
    with pytest.raises(ImpossibleInputError, match="negative"):
        probability_within(miss_d=0.0, sd_d=-0.1, limit_d=0.5)


def test_published_scatter_is_read_by_band_and_kind():
    """eom2014 median 0.40 short; langenbucher2021 SD 0.441 average; idrobo2019 mean 0.418 long."""
    found = total_sd(
        formula_key="srk-t", axial_length_mm=[21.0, 23.0, 27.0, np.nan], placement=Placement.BAG, knowledge=KNOWLEDGE
    )
    np.testing.assert_allclose(found[:3], [0.40 / 0.67449, 0.441, 0.418 * 1.25331], rtol=1e-4)
    assert np.isnan(found[3])


def test_half_of_normal_errors_lie_within_their_median():
    sd = float(total_sd(formula_key="hoffer-q", axial_length_mm=21.0, placement=Placement.BAG, knowledge=KNOWLEDGE))
    assert float(probability_within(miss_d=0.0, sd_d=sd, limit_d=0.40)) == pytest.approx(0.5)


def test_a_sulcus_lens_is_never_surer_than_the_sulcus_series():
    """dubey2012: mean unexpected error 0.49 D."""
    found = total_sd(formula_key="srk-t", axial_length_mm=23.0, placement=Placement.SULCUS, knowledge=KNOWLEDGE)
    assert float(found) == pytest.approx(0.49 * np.sqrt(np.pi / 2))


def test_what_remains_is_the_total_less_the_replaced_shares():
    """norrby2008: axial length 17 %, cornea 10 % (recalled), lens power 1 %."""
    total = total_sd(formula_key="srk-t", axial_length_mm=23.0, placement=Placement.BAG, knowledge=KNOWLEDGE)
    rest = remaining_sd(formula_key="srk-t", axial_length_mm=23.0, placement=Placement.BAG, knowledge=KNOWLEDGE)
    assert float((rest / total) ** 2) == pytest.approx(0.72)


def test_the_label_is_uniform_within_the_tolerance_of_the_standard():
    """iso11979-2: 0.3 to 15 D, 0.4 to 25, 0.5 to 30, 1.0 above."""
    found = label_sd(power_d=[-5.0, 15.0, 15.5, 25.0, 30.0, 30.5, np.nan], knowledge=KNOWLEDGE) * np.sqrt(3)
    np.testing.assert_allclose(found[:6], [0.3, 0.3, 0.4, 0.4, 0.5, 1.0])
    assert np.isnan(found[6])


@given(st.integers(0, 10_000))
def test_sigma_points_have_the_mean_and_covariance_they_stand_for(seed):
    rng = np.random.default_rng(seed)
    root = rng.normal(size=(2, 3, 3)) * [1.0, 1.0, 0.0 if seed % 2 else 1.0]
    mean, covariance = rng.normal(size=(2, 3)), root @ root.transpose(0, 2, 1)
    points = sigma_points(mean=mean, covariance=covariance)
    stacked = np.stack([points.axial_length_mm, points.mean_k_d, points.chamber_depth_mm], axis=-1)
    found = np.einsum("p,pni->ni", points.weights, stacked)
    apart = stacked - found
    np.testing.assert_allclose(found, mean, atol=1e-9)
    np.testing.assert_allclose(np.einsum("p,pni,pnj->nij", points.weights, apart, apart), covariance, atol=1e-6)


def test_a_negative_variance_is_refused():
    with pytest.raises(ImpossibleInputError, match="negative variance"):
        sigma_points(mean=np.zeros((1, 3)), covariance=-np.eye(3)[None])
