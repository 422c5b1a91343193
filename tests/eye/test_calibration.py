"""Intervals cover what they say. The bench does the same with 200,000 people of each prior."""

import numpy as np
import pytest
from bench.belief_bench import by_method, refraction_coverage, simulated_belief

from sideport.eye import Coordinate, populations
from sideport.knowledge import load_published

LEVELS = np.array([50.0, 80.0, 95.0])


@pytest.mark.parametrize("population", populations(load_published()))
def test_intervals_cover_within_what_chance_allows(population):
    """6,000 people; three standard errors of a share of 12,000 eyes, whose two are not independent."""
    found = simulated_belief(population, 6000, seed=4)
    allowed = 3.0 * np.sqrt(LEVELS * (100.0 - LEVELS) / 6000)
    for coordinate in (Coordinate.AXIAL_LENGTH, Coordinate.MEAN_K):
        _, shares = by_method(found, coordinate)[0]
        assert (np.abs(shares - LEVELS) < allowed).all(), (coordinate, shares)
    assert (np.abs(refraction_coverage(found, seed=4, limit=6000) - LEVELS) < allowed).all()


def test_a_belief_that_is_too_sure_would_be_seen():
    """The same test with standard deviations a tenth too small fails, so it can."""
    found = simulated_belief("south_asian_cataract", 6000, seed=4)
    found["covariance"] *= 0.81
    _, shares = by_method(found, Coordinate.AXIAL_LENGTH)[0]
    assert (LEVELS - shares > 3.0 * np.sqrt(LEVELS * (100.0 - LEVELS) / 6000)).any()
