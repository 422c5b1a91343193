"""Rates from few results: the beta belief and the pooled series."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import beta

from sideport.errors import ImpossibleInputError
from sideport.risk.shrink import RateBelief, belief_from, pooled_rate


@given(st.floats(0.002, 0.5), st.floats(0.05, 2.0))
def test_a_belief_has_the_mean_and_spread_asked_for(rate, spread):
    belief = belief_from(rate=rate, log_odds_sd=spread)
    assert belief.mean == pytest.approx(rate)
    assert belief.log_odds_sd == pytest.approx(spread, rel=1e-6)


@pytest.mark.parametrize(("events", "operations"), [(2.0, 40.0), (12.5, 800.0)])
def test_spread_of_the_log_odds_by_quadrature(events, operations):
    """The trigamma formula against scipy.integrate.quad over scipy.stats.beta, version as locked."""
    law = beta(events, operations - events)

    def moment(power):
        return quad(lambda p: np.log(p / (1 - p)) ** power * law.pdf(p), 0, 1, limit=200)[0]

    expected = np.sqrt(moment(2) - moment(1) ** 2)
    assert RateBelief(events, operations).log_odds_sd == pytest.approx(expected, rel=1e-5)


@given(st.floats(0.002, 0.3), st.floats(0.2, 1.5), st.integers(0, 2000), st.floats(0, 1))
def test_the_shrunk_rate_lies_between_grade_and_record(rate, spread, operations, share):
    prior = belief_from(rate=rate, log_odds_sd=spread)
    events = round(share * operations)
    after = prior.updated(events=events, operations=operations)
    ends = sorted([rate, events / operations if operations else rate])
    assert ends[0] - 1e-12 <= after.mean <= ends[1] + 1e-12
    assert after.low < after.mean < after.high


def test_more_operations_weigh_more():
    """The same record from ten times the operations moves further from the grade and is surer."""
    prior = belief_from(rate=0.02, log_odds_sd=0.5)
    few, many = prior.updated(events=4, operations=100), prior.updated(events=40, operations=1000)
    assert prior.mean < few.mean < many.mean < 0.04
    assert many.log_odds_sd < few.log_odds_sd < prior.log_odds_sd


def test_pooled_by_hand():
    """Two series worked by hand from the equations (dersimonian1986, 8 and 9)."""
    y = [np.log(6.5 / 244.5), np.log(12.5 / 188.5)]
    v = [1 / 6.5 + 1 / 244.5, 1 / 12.5 + 1 / 188.5]
    w = [1 / v[0], 1 / v[1]]
    centre = (w[0] * y[0] + w[1] * y[1]) / sum(w)
    q = w[0] * (y[0] - centre) ** 2 + w[1] * (y[1] - centre) ** 2
    tau2 = max(0.0, (q - 1) / (sum(w) - (w[0] ** 2 + w[1] ** 2) / sum(w)))
    u = [1 / (v[0] + tau2), 1 / (v[1] + tau2)]
    mean = (u[0] * y[0] + u[1] * y[1]) / sum(u)
    found = pooled_rate(events=[6, 12], operations=[250, 200])
    assert found.rate == pytest.approx(1 / (1 + np.exp(-mean)))
    assert found.between_sd == pytest.approx(np.sqrt(tau2))
    assert found.mean_sd == pytest.approx((1 / sum(u)) ** 0.5)


def test_like_series_have_no_spread_between_them():
    found = pooled_rate(events=[20, 20, 20], operations=[1000, 1000, 1000])
    assert found.between_sd == 0
    assert found.rate == pytest.approx(20.5 / 1001, rel=1e-9)
    assert found.next_sd == found.mean_sd


@pytest.mark.parametrize(("rate", "spread"), [(0.0, 0.5), (1.0, 0.5), (0.02, 0.0), (0.02, float("nan"))])
def test_impossible_beliefs(rate, spread):
    with pytest.raises(ImpossibleInputError):
        belief_from(rate=rate, log_odds_sd=spread)


def test_impossible_counts():
    with pytest.raises(ImpossibleInputError, match="counts of one series"):
        RateBelief(1, 50).updated(events=3, operations=2)
    with pytest.raises(ImpossibleInputError, match="two or more"):
        pooled_rate(events=[1], operations=[10])
