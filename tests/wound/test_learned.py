"""Own results shrink the series: against the textbook update done by brute force, and at its limits."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sideport.errors import ImpossibleInputError
from sideport.knowledge import load_published
from sideport.optics.side import Side
from sideport.wound.induced import induced_astigmatism
from sideport.wound.learned import in_cut_frame, learn_induced, out_of_cut_frame, own_results
from sideport.wound.plan import Site, WoundShape
from sideport.wound.technique import Technique

KNOWLEDGE = load_published()


def prior(side=Side.RIGHT, site=Site.SUPERIOR):
    return induced_astigmatism(
        site=site, side=side, technique=Technique.MSICS, length_mm=6.0, limbus_distance_mm=1.5,
        shape=WoundShape.FROWN, knowledge=KNOWLEDGE,
    )  # fmt: skip


def results(vectors, meridian=90.0, left=False, site=Site.SUPERIOR):
    return own_results(
        technique=Technique.MSICS, site=site, vectors=vectors, meridian_deg=meridian, left_eye=left, length_mm=6.0,
        limbus_distance_mm=1.5,
    )  # fmt: skip


def learn(own, side=Side.RIGHT, meridian=90.0, site=Site.SUPERIOR, size=1.0):
    return learn_induced(
        prior=prior(side, site), own=own, side=side, meridian_deg=meridian, size=size, knowledge=KNOWLEDGE
    )


def drawn(count, mean=(0.2, 0.05), seed=2):
    return np.random.default_rng(seed).multivariate_normal(mean, [[0.05, 0.01], [0.01, 0.08]], count)


def test_no_own_eyes_leave_the_series():
    """Nothing learnt, nothing changed; rows with a missing value do not count."""
    assert learn(results(np.full((3, 2), np.nan))).mean == pytest.approx(prior().mean)
    assert results([[0.1, np.nan], [0.1, 0.2]]).eyes == 1


def test_mean_is_the_weighted_mean():
    """Weight n / (k + n), by hand; it grows to 1 and the mean to the surgeon's own."""
    own = drawn(30)
    found = learn(results(own))
    weight = 30 / (prior().prior_eyes + 30)
    assert found.own_weight == pytest.approx(weight)
    assert found.own_eyes == 30
    assert found.mean == pytest.approx(weight * own.mean(axis=0) + (1 - weight) * prior().mean)
    many = drawn(20_000)
    assert learn(results(many)).mean == pytest.approx(many.mean(axis=0), abs=1e-3)
    assert learn(results(many)).covariance == pytest.approx(np.cov(many.T), abs=3e-3)


def test_one_eye_at_a_time_is_the_same():
    """Updating eye by eye with the textbook's recursion gives the same mean and spread."""
    own, base = drawn(12), prior()
    mean, count = base.mean.copy(), float(base.prior_eyes)
    psi = KNOWLEDGE.value("induced_astigmatism.surgeon.spread_eyes") * base.eye_covariance
    freedom = KNOWLEDGE.value("induced_astigmatism.surgeon.spread_eyes")
    for row in own:
        psi = psi + count / (count + 1) * np.outer(row - mean, row - mean)
        mean = (count * mean + row) / (count + 1)
        count, freedom = count + 1, freedom + 1
    found = learn(results(own))
    assert found.mean == pytest.approx(mean)
    assert found.eye_covariance == pytest.approx(psi / freedom)
    assert found.covariance == pytest.approx(psi / freedom * (1 + 1 / count))


@given(st.floats(-3, 3), st.floats(-3, 3), st.floats(0, 360))
def test_frames_are_each_others_inverse(j0, j45, meridian):
    """Into the frame of the cut and back is the same vector, of the same length."""
    seen = in_cut_frame(vectors=[j0, j45], meridian_deg=meridian)
    assert np.hypot(*seen) == pytest.approx(np.hypot(j0, j45))
    assert out_of_cut_frame(vectors=seen, meridian_deg=meridian) == pytest.approx([j0, j45], abs=1e-12)


def test_right_and_left_eyes_teach_each_other_as_mirrors():
    """Oblique results of right eyes, mirrored as left ones, give the mirrored expectation."""
    rows = drawn(15)
    site = Site.SUPEROTEMPORAL
    mirrored = results(rows * [1, -1], meridian=45.0, left=True, site=site)
    straight = results(rows, meridian=135.0, left=False, site=site)
    assert mirrored.mean == pytest.approx(straight.mean)
    right = learn(straight, Side.RIGHT, 135.0, site)
    left = learn(mirrored, Side.LEFT, 45.0, site)
    assert left.mean == pytest.approx(right.mean * [1, -1], abs=1e-12)
    assert left.covariance == pytest.approx(right.covariance * [[1, -1], [-1, 1]], abs=1e-12)


def test_a_longer_cut_carries_own_results_along():
    """Twice the effect of the surgeon's usual cut: the own part of the mean doubles."""
    own = results(drawn(50))
    once, twice = learn(own), learn(own, size=2.0)
    assert twice.mean - once.mean == pytest.approx(once.own_weight * drawn(50).mean(axis=0))


def test_vectors_have_two_components():
    """A column of magnitudes is refused: a scalar is no vector."""
    with pytest.raises(ImpossibleInputError, match="two components"):
        in_cut_frame(vectors=[0.5], meridian_deg=90.0)
