"""Passage of the nucleus: the slit rule, the belief about its size, and the chance."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from sideport.errors import ImpossibleInputError
from sideport.eye.person import Cataract, EyeRecord
from sideport.knowledge import load_published
from sideport.optics.side import Side
from sideport.wound.nucleus import NucleusBelief, nucleus_belief
from sideport.wound.passing import needed_slit_mm, passage, probability_passes, shortest_passing_length_mm

KNOWLEDGE = load_published()


def belief(grade=None, cataract=None, **measured):
    record = EyeRecord(side=Side.LEFT, listed=True, nucleus_grade=grade, cataract=cataract)
    return nucleus_belief(record=record, knowledge=KNOWLEDGE, **measured)


def chance(length, nucleus):
    return probability_passes(length_mm=length, nucleus=nucleus, knowledge=KNOWLEDGE)


def test_slit_is_half_the_perimeter():
    """Half the arc length of the ellipse by adaptive integration; a ball needs half its girth; order is no matter."""

    def speed(turn):
        return np.hypot(7.13 / 2 * np.sin(turn), 3.05 / 2 * np.cos(turn))

    assert needed_slit_mm(diameter_mm=7.13, thickness_mm=3.05) == pytest.approx(quad(speed, 0, np.pi)[0])
    assert needed_slit_mm(diameter_mm=4.0, thickness_mm=4.0) == pytest.approx(2 * np.pi)
    assert needed_slit_mm(diameter_mm=3.0, thickness_mm=7.0) == needed_slit_mm(diameter_mm=7.0, thickness_mm=3.0)


def test_unknown_grade_is_the_published_spread():
    """Without a grade: 7.13 ± 0.76 and 3.05 ± 0.48 mm (nucleus130)."""
    found = belief()
    assert (found.diameter_mm, found.diameter_sd_mm, found.thickness_mm, found.thickness_sd_mm) == (
        7.13, 0.76, 3.05, 0.48,
    )  # fmt: skip


def test_grades_put_together_give_the_published_spread_back():
    """Mixing the beliefs over the assumed grades returns mean, spread and r = 0.396 of nucleus130."""
    usual = KNOWLEDGE.number("nucleus.colour.grade")
    grades = np.random.default_rng(5).normal(usual.value, usual.spread, 4000)
    found = [belief(float(grade)) for grade in grades]
    means = np.array([one.diameter_mm for one in found])
    assert means.mean() == pytest.approx(7.13, abs=0.03)
    assert np.hypot(means.std(), found[0].diameter_sd_mm) == pytest.approx(0.76, abs=0.02)
    assert means.std() / 0.76 == pytest.approx(0.396, abs=0.02)


def test_chance_agrees_with_draws():
    """400,000 drawn sizes and stretches, within four standard errors."""
    nucleus, draws = belief(), np.random.default_rng(9)
    covariance = nucleus.correlation * nucleus.diameter_sd_mm * nucleus.thickness_sd_mm
    size = draws.multivariate_normal(
        [nucleus.diameter_mm, nucleus.thickness_mm],
        [[nucleus.diameter_sd_mm**2, covariance], [covariance, nucleus.thickness_sd_mm**2]],
        400_000,
    )
    stretch = KNOWLEDGE.number("nucleus.stretch")
    give = draws.normal(stretch.value, stretch.spread, 400_000)
    needed = needed_slit_mm(diameter_mm=size[:, 0], thickness_mm=size[:, 1])
    for length in (6.0, 7.0):
        share = np.mean(needed <= give * length)
        assert chance(length, nucleus) == pytest.approx(share, abs=4 * np.sqrt(share * (1 - share) / 400_000))


@given(st.floats(3, 9), st.floats(0.05, 2), st.floats(0.5, 6.5))
def test_longer_passes_more(length, more, grade):
    """The chance rises with the length and falls with the grade."""
    assert chance(length + more, belief(grade)) >= chance(length, belief(grade))
    assert chance(length, belief(grade)) >= chance(length, belief(grade + 0.4)) - 1e-9


@given(st.floats(0.02, 0.98), st.floats(1, 6.5))
def test_shortest_length_is_the_inverse_of_the_chance(level, grade):
    """The shortest length passes with just the asked probability."""
    length = shortest_passing_length_mm(nucleus=belief(grade), level=level, knowledge=KNOWLEDGE)
    assert chance(length, belief(grade)) == pytest.approx(level, abs=1e-5)


def test_common_practice():
    """Common practice: a moderate nucleus passes about 7 mm; soft needs less, brown and black more than moderate."""
    found = passage(length_mm=7.0, nucleus=belief(3.0), knowledge=KNOWLEDGE)
    assert found.probability > 0.9
    needs = [
        passage(length_mm=7.0, nucleus=one, knowledge=KNOWLEDGE).enough_mm
        for one in (belief(1.5), belief(3.0), belief(cataract=Cataract.BROWN), belief(cataract=Cataract.BLACK))
    ]
    assert needs == sorted(needs)
    assert needs[0] > 6.0
    assert needs[-1] < 8.0


def test_hypermature_is_wide_and_measured_is_narrow():
    """A hypermature nucleus has a longer tail of too-large ones than its smaller mean suggests; a scan narrows."""
    assert belief(cataract=Cataract.HYPERMATURE).diameter_sd_mm > belief().diameter_sd_mm
    assert 1 - chance(8.0, belief(cataract=Cataract.HYPERMATURE)) > 0.005
    measured = belief(measured_diameter_mm=6.0, measured_thickness_mm=2.5)
    assert (measured.diameter_mm, measured.origin) == (6.0, "measured")
    assert chance(6.0, measured) > chance(6.0, belief())
    assert belief(measured_diameter_mm=6.0).thickness_mm == 3.05


def test_missing_and_impossible():
    """A missing length stays missing; sizes and levels that cannot be are refused."""
    assert np.isnan(chance([np.nan, 6.0], belief())).tolist() == [True, False]
    with pytest.raises(ImpossibleInputError, match="nucleus of"):
        belief(measured_diameter_mm=0.0)
    with pytest.raises(ImpossibleInputError, match="level"):
        shortest_passing_length_mm(nucleus=belief(), level=1.0, knowledge=KNOWLEDGE)
    with pytest.raises(ImpossibleInputError, match="above 0"):
        needed_slit_mm(diameter_mm=-1.0, thickness_mm=3.0)


def test_a_sure_nucleus_passes_or_does_not():
    """With hardly any spread of its size the stretch alone decides: half pass where length times stretch is needed."""
    sure = NucleusBelief(7.0, 1e-9, 3.0, 1e-9, 0.0, "measured", "practice", KNOWLEDGE.number("nucleus.stretch").basis)
    length = needed_slit_mm(diameter_mm=7.0, thickness_mm=3.0) / KNOWLEDGE.value("nucleus.stretch")
    assert chance(length, sure) == pytest.approx(0.5, abs=1e-6)
