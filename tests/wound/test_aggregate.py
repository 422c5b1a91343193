"""Centroid, ellipse and Hotelling's test against SciPy and closed forms."""

import numpy as np
import pytest
from scipy.stats import f as f_distribution

from sideport.errors import ImpossibleInputError
from sideport.wound.aggregate import centroid, double_angle_plot, hotelling
from sideport.wound.vectors import double_angle

GENERATOR_SEED = 11


def eyes(count, seed=GENERATOR_SEED):
    generator = np.random.default_rng(seed)
    rows = generator.multivariate_normal([0.9, 0.2], [[0.3, 0.12], [0.12, 0.15]], count)
    return np.hypot(*rows.T), np.degrees(0.5 * np.arctan2(rows[:, 1], rows[:, 0])) % 180, rows


def test_mean_and_spread_are_those_of_the_plane():
    """Mean and covariance by NumPy on the drawn rows; the size of the mean is under the mean of the sizes."""
    sizes, axes, rows = eyes(40)
    found = centroid(magnitude_d=sizes, axis_deg=axes)
    assert (found.x_d, found.y_d) == (pytest.approx(rows[:, 0].mean()), pytest.approx(rows[:, 1].mean()))
    assert found.covariance == pytest.approx(np.cov(rows.T))
    assert found.magnitude_d < found.mean_magnitude_d
    assert found.sd_magnitude_d == pytest.approx(sizes.std(ddof=1))


def test_179_and_1_average_to_180_not_90():
    """Axes on both sides of 180 average through it."""
    found = centroid(magnitude_d=[1.0, 1.0, 1.0], axis_deg=[179.0, 1.0, 0.0])
    assert found.axis_deg % 180 == pytest.approx(0, abs=1e-9)
    assert centroid(magnitude_d=[1.0, 1.0], axis_deg=[0.0, 90.0]).magnitude_d == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize("level", [0.5, 0.95, 0.99])
def test_ellipse_is_the_set_that_the_test_does_not_refuse(level):
    """On the outline the F of Hotelling's test is SciPy's quantile (johnsonwichern)."""
    sizes, axes, rows = eyes(25)
    outline = centroid(magnitude_d=sizes, axis_deg=axes, level=level).mean_ellipse.outline(17)
    inverse = np.linalg.inv(np.cov(rows.T))
    gaps = rows.mean(axis=0) - outline
    statistic = 25 * np.einsum("ki,ij,kj->k", gaps, inverse, gaps) * 23 / (2 * 24)
    assert statistic == pytest.approx(f_distribution.ppf(level, 2, 23))


def test_round_cloud_has_a_round_ellipse():
    """Four eyes on a cross: radius by hand, sqrt(2 * 3 / 2 * F(0.95; 2, 2) * (2/3) / 4) with F = 19."""
    found = centroid(magnitude_d=[1, 1, 1, 1], axis_deg=[0, 45, 90, 135])
    assert found.magnitude_d == pytest.approx(0, abs=1e-12)
    radius = np.sqrt(3 * 19.0 * (2 / 3) / 4)
    assert (found.mean_ellipse.long_d, found.mean_ellipse.short_d) == (pytest.approx(radius), pytest.approx(radius))
    assert found.eye_ellipse.long_d == pytest.approx(radius * np.sqrt(5))
    assert found.p_value == pytest.approx(1.0)


def test_hotelling_by_hand():
    """Mean (1, 0), unit spread, n = 10: T squared 10, F = 10 * 8 / 18 with 2 and 8 degrees of freedom."""
    t_squared, p_value = hotelling(mean=[1.0, 0.0], covariance=np.eye(2), eyes=10)
    assert t_squared == pytest.approx(10)
    assert p_value == pytest.approx(f_distribution.sf(10 * 8 / 18, 2, 8))


def test_ellipses_hold_what_they_promise():
    """Over 1,500 draws of 12 eyes the true mean and the next eye lie inside in 95 of 100, within 4 standard errors."""
    mean, spread = np.array([0.9, 0.2]), np.array([[0.3, 0.12], [0.12, 0.15]])
    generator = np.random.default_rng(3)
    inside = np.zeros(2)
    for _ in range(1500):
        rows = generator.multivariate_normal(mean, spread, 13)
        seen, fresh = rows[:12], rows[12]
        found = centroid(magnitude_d=np.hypot(*seen.T), axis_deg=np.degrees(0.5 * np.arctan2(seen[:, 1], seen[:, 0])))
        for which, (point, shape) in enumerate(((mean, found.mean_ellipse), (fresh, found.eye_ellipse))):
            turn = np.radians(shape.turn_deg)
            gap = point - [shape.x_d, shape.y_d]
            along = gap @ [np.cos(turn), np.sin(turn)] / shape.long_d
            across = gap @ [-np.sin(turn), np.cos(turn)] / shape.short_d
            inside[which] += along**2 + across**2 <= 1
    assert inside / 1500 == pytest.approx(0.95, abs=4 * np.sqrt(0.95 * 0.05 / 1500))


def test_few_and_missing_eyes():
    """Missing rows are counted; two eyes have no ellipse; none is refused, as is a level of 1."""
    found = centroid(magnitude_d=[1.0, np.nan, 0.5], axis_deg=[10.0, 20.0, 30.0])
    assert (found.eyes, found.left_out, found.mean_ellipse) == (2, 1, None)
    assert np.isnan(found.p_value)
    with pytest.raises(ImpossibleInputError, match="nothing to average"):
        centroid(magnitude_d=[np.nan], axis_deg=[1.0])
    with pytest.raises(ImpossibleInputError, match="is usual"):
        centroid(magnitude_d=[1.0], axis_deg=[1.0], level=1.0)


def test_plot_data():
    """Points are double-angle, rings hold every eye, outlines close, 45 stands where 90 degrees of the plot are."""
    sizes, axes, rows = eyes(15)
    found = double_angle_plot(magnitude_d=sizes, axis_deg=axes)
    assert found.points == pytest.approx(rows)
    assert found.rings_d[-1] >= sizes.max() > found.rings_d[-1] - 0.5
    assert found.mean_outline[0] == pytest.approx(found.mean_outline[-1])
    assert double_angle(magnitude_d=1.0, axis_deg=45.0)[1] == pytest.approx(1)
    with pytest.raises(ImpossibleInputError, match="ring"):
        double_angle_plot(magnitude_d=sizes, axis_deg=axes, ring_step_d=0.0)
