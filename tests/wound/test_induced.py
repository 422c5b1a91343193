"""Induced astigmatism agrees with its series and points the right way in both eyes."""

import numpy as np
import pytest

from sideport.errors import ImpossibleInputError
from sideport.knowledge import Basis, load_published
from sideport.optics.power_vector import corneal_astigmatism
from sideport.optics.side import Side
from sideport.wound.induced import induced_astigmatism, series_moments
from sideport.wound.plan import Site, WoundShape
from sideport.wound.technique import Technique

KNOWLEDGE = load_published()


def induced(
    site=Site.SUPERIOR, side=Side.RIGHT, technique=Technique.MSICS, length=6.0, shape=WoundShape.FROWN, back=1.5
):
    return induced_astigmatism(
        site=site, side=side, technique=technique, length_mm=length, limbus_distance_mm=back, shape=shape,
        knowledge=KNOWLEDGE,
    )  # fmt: skip


def cylinder(found):
    return corneal_astigmatism(j0_d=found.mean[..., 0], j45_d=found.mean[..., 1])


@pytest.mark.parametrize(
    ("site", "low", "high"),
    [(Site.SUPERIOR, 1.07, 1.28), (Site.TEMPORAL, 0.37, 0.48), (Site.SUPEROTEMPORAL, 0.20, 0.20)],
)
def test_mean_lies_among_the_series(site, low, high):
    """At the series' length the mean lies between the centroids of gokhale2005, msics120eyes, superior58eyes."""
    assert low - 1e-9 <= cylinder(induced(site=site)).magnitude_d <= high + 1e-9


@pytest.mark.parametrize("side", list(Side))
def test_directions(side):
    """A superior cut steepens the horizontal, a temporal one the vertical (msics120eyes), in either eye."""
    assert cylinder(induced(Site.SUPERIOR, side)).steep_axis_deg == pytest.approx(0, abs=1e-9)
    assert cylinder(induced(Site.TEMPORAL, side)).steep_axis_deg == pytest.approx(90)


@pytest.mark.parametrize("site", list(Site))
def test_left_is_the_mirror_of_right(site):
    """Mirroring swaps the sign of J45 and nothing else."""
    right, left = induced(site, Side.RIGHT), induced(site, Side.LEFT)
    assert left.mean == pytest.approx(right.mean * [1, -1], abs=1e-12)
    assert left.covariance == pytest.approx(right.covariance)


def test_right_superotemporal_steepens_45():
    """The superotemporal cut of a right eye lies at 135 and steepens 45."""
    assert cylinder(induced(Site.SUPEROTEMPORAL, Side.RIGHT)).steep_axis_deg == pytest.approx(45)


def test_linear_in_length():
    """Twice the length is twice the mean, as the cadaver series found nearly (samuelson1991), not eight times."""
    size = cylinder(induced(length=[3.0, 6.0, np.nan])).magnitude_d
    assert size[1] == pytest.approx(2 * size[0])
    assert np.isnan(size[2])
    assert np.isnan(induced(length=[6.0, np.nan]).covariance[1]).all()


def test_straight_cut_bends_more_than_frown():
    """Straight over frown is the eye-weighted ratio of both trials (mrims2023, chourasia2019), by hand."""
    ratio = (29 * 0.8793 + 50 * 1.37) / (29 * 0.414 + 50 * 0.83)
    frown, straight = (cylinder(induced(shape=shape)).magnitude_d for shape in (WoundShape.FROWN, WoundShape.STRAIGHT))
    assert straight / frown == pytest.approx(ratio)


def test_spread_gives_back_the_magnitudes():
    """Vectors drawn for a temporal phaco cut have the mean square magnitude that kamiya2021 printed."""
    moments = series_moments(technique=Technique.PHACO, site=Site.TEMPORAL, knowledge=KNOWLEDGE)
    square = moments.centroid_d**2 + 2 * moments.component_sd_d**2
    assert square == pytest.approx(0.48**2 + 0.30**2)


def test_weak_basis_is_told():
    """A mean that leans on a remembered result says so; carried-over numbers say so too."""
    assert induced().basis is Basis.RECALLED
    assert induced(technique=Technique.PHACO, back=0.0).basis is Basis.PUBLISHED
    assert induced().studied
    assert not induced(Site.SUPERONASAL).studied
    assert not induced(back=3.0).studied


def test_large_sutured_cut():
    """An extracapsular cut bends the remembered ratio 1.77 / 1.17 more than the manual series (georgeeye2005)."""
    large = cylinder(induced(technique=Technique.ECCE, length=10.0, shape=WoundShape.SMILE, back=0.0)).magnitude_d
    assert large / cylinder(induced()).magnitude_d == pytest.approx(1.77 / 1.17)


def test_impossible_cuts():
    """No cut of zero length, none in front of the limbus, none for a referral, no series for oblique phaco."""
    with pytest.raises(ImpossibleInputError, match="above 0"):
        induced(length=0.0)
    with pytest.raises(ImpossibleInputError, match="negative"):
        induced(back=-1.0)
    with pytest.raises(ImpossibleInputError, match="referred"):
        induced(technique=Technique.REFER)
    with pytest.raises(ImpossibleInputError, match="No series"):
        induced(Site.SUPERONASAL, technique=Technique.PHACO)
