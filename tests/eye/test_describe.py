"""The summary says the belief in plain numbers and where each comes from."""

import math

import pytest

from eye_people import LEFT, RIGHT, keratometry, lengths, person
from sideport.eye import believe, summarise
from sideport.eye.measurement import Method
from sideport.knowledge import load_published

KNOWLEDGE = load_published()


def summary(someone, side=RIGHT):
    belief = believe([someone], population="south_asian_cataract", knowledge=KNOWLEDGE).eye(0, side)
    return summarise(someone, side, belief.mean, belief.covariance), belief


def test_origins_in_words():
    someone = person(lengths(RIGHT, [23.0] * 5) + keratometry(RIGHT, 44.0, 45.0), listed=(RIGHT, LEFT))
    right, _ = summary(someone)
    left, _ = summary(someone, LEFT)
    nobody, _ = summary(person())
    assert (right.axial_length_mm.readings, right.axial_length_mm.origin) == (5, "5 contact ultrasound readings")
    assert (right.mean_k_d.readings, right.mean_k_d.origin) == (1, "1 manual keratometer reading")
    assert right.chamber_depth_mm.origin == "population, with this eye's other readings"
    assert (left.axial_length_mm.readings, left.axial_length_mm.origin) == (0, "from the fellow eye")
    assert left.corneal_astigmatism_d.origin == "from the fellow eye"
    assert nobody.axial_length_mm.origin == "population only"


def test_two_methods_are_both_counted():
    found, _ = summary(person(lengths(RIGHT, [23.0] * 2) + lengths(RIGHT, [23.2], Method.OPTICAL)))
    assert found.axial_length_mm.origin == "2 contact ultrasound and 1 optical readings"


@pytest.mark.parametrize(("k1", "k2", "axis", "steep"), [(45.0, 43.0, 90.0, 90.0), (45.0, 43.0, 30.0, 30.0),
                                                         (43.0, 45.0, 30.0, 120.0)])  # fmt: skip
def test_steep_axis_and_size_come_back_from_many_readings(k1, k2, axis, steep):
    """With the rule is steep at 90; forty pairs leave little to the prior."""
    readings = [r for n in range(40) for r in keratometry(RIGHT, k1, k2, axis, Method.OPTICAL, n)]
    found, _ = summary(person(readings))
    assert found.corneal_astigmatism_d.value == pytest.approx(2.0, abs=0.05)
    assert found.steep_axis_deg == pytest.approx(steep, abs=1.0)
    assert found.corneal_astigmatism_d.readings == 40


def test_values_and_spreads_are_those_of_the_belief():
    found, belief = summary(person(lengths(RIGHT, [23.7])))
    assert found.axial_length_mm.value == belief.mean[0]
    assert found.axial_length_mm.sd == math.sqrt(belief.covariance[0, 0])
    assert found.white_to_white_mm.value == belief.mean[6]


def test_spread_of_the_size_is_twice_that_along_the_vector():
    """Magnitude is 2 |J|; here J lies along J0."""
    found, belief = summary(person(keratometry(RIGHT, 45.0, 43.0, 90.0)))
    assert found.corneal_astigmatism_d.sd == pytest.approx(2.0 * math.sqrt(belief.covariance[2, 2]), rel=1e-9)


def test_astigmatism_without_axis_keeps_its_measured_size():
    found, _ = summary(person(keratometry(RIGHT, 42.0, 45.0, None)))
    assert found.corneal_astigmatism_d.value == pytest.approx(3.0)
    assert "without axis" in found.corneal_astigmatism_d.origin


def test_no_astigmatism_has_axis_90():
    someone = person(keratometry(RIGHT, 44.0, 44.0))
    belief = believe([someone], population="south_asian_cataract", knowledge=KNOWLEDGE).eye(0, RIGHT)
    mean = belief.mean.copy()
    mean[2:4] = 0.0
    found = summarise(someone, RIGHT, mean, belief.covariance)
    assert found.steep_axis_deg == 90.0
    assert found.corneal_astigmatism_d.value == 0.0
