"""Odds multiply, probabilities follow, and the baseline returns the unit's own rate."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sideport.errors import ImpossibleInputError
from sideport.eye.person import Cataract, EyeRecord, Person, Pupil, Sex
from sideport.eye.summary import Estimate, EyeSummary
from sideport.knowledge import Basis, load_published
from sideport.optics.side import Side
from sideport.risk.models import grade_factor, odds_factors, unrecorded_factors
from sideport.risk.odds import baseline_for, composite_odds_ratio, moved, probability
from sideport.risk.team import Grade

KNOWLEDGE = load_published()


def summary(length=23.5, readings=3):
    near = Estimate(value=3.1, sd=0.1, readings=3, origin="3 readings")
    return EyeSummary(Estimate(length, 0.1, readings, ""), near, near, 90.0, near, near, near)


def composite(person, record, grade=Grade.SENIOR, length=23.5):
    eye = odds_factors(person=person, record=record, summary=summary(length), knowledge=KNOWLEDGE)
    factors = (*eye, grade_factor(grade=grade, knowledge=KNOWLEDGE))
    return float(composite_odds_ratio(odds_ratios=[entry.odds_ratio for entry in factors])), factors


def person(**known):
    return Person(person_id="1", name="A", eyes=(), **known)


def record(**known):
    return EyeRecord(side=Side.RIGHT, listed=True, **known)


# The cases are those that narendran2009 describes; the products were worked by hand from the remembered table.
SCENARIOS = [
    ({"age_years": 78, "sex": Sex.FEMALE}, {"glaucoma": True, "pupil": Pupil.LARGE}, 23.68, 1.42 * 1.30),
    ({"age_years": 58, "sex": Sex.FEMALE}, {"pupil": Pupil.LARGE}, 23.5, 1.0),
    (
        {"age_years": 68, "sex": Sex.MALE},
        {"pseudoexfoliation": True, "pupil": Pupil.MEDIUM},
        26.1,
        1.14 * 1.28 * 2.92 * 1.47 * 1.14,
    ),
    (
        {"age_years": 92, "sex": Sex.MALE, "alpha_blocker": True, "cannot_lie_flat": True},
        {"cataract": Cataract.BROWN, "fundus_seen": False},
        23.5,
        2.37 * 1.28 * 2.99 * 2.46 * 1.51 * 1.27,
    ),
    ({"age_years": 82, "sex": Sex.MALE}, {"glaucoma": True}, 20.8, 1.58 * 1.28 * 1.30),
]


@pytest.mark.parametrize(("who", "found", "length", "product"), SCENARIOS)
def test_odds_multiply_by_hand(who, found, length, product):
    """The composite is the product of the factors present; a short eye is none of them."""
    assert composite(person(**who), record(**found), length=length)[0] == pytest.approx(product)


@pytest.mark.parametrize(
    ("grade", "ratio"), [(Grade.SENIOR, 1.0), (Grade.EXPERIENCED, 0.87), (Grade.TRAINEE, 1.60), (Grade.NOVICE, 3.73)]
)
def test_grades(grade, ratio):
    """Each grade has the odds of its nearest in the model (narendran2009, from memory)."""
    assert composite(person(), record(), grade)[0] == pytest.approx(ratio)


@pytest.mark.parametrize(("age", "ratio"), [(59.9, 1), (60, 1.14), (70, 1.42), (80, 1.58), (89, 1.58), (90, 2.37)])
def test_age_bands_begin_where_they_say(age, ratio):
    """A birthday moves the band."""
    assert composite(person(age_years=age), record())[0] == pytest.approx(ratio)


def test_pseudoexfoliation_and_phacodonesis_count_once():
    """Both together are one factor of the model."""
    both = composite(person(), record(pseudoexfoliation=True, phacodonesis=True))[0]
    assert both == pytest.approx(2.92)


def test_table_is_marked_as_remembered():
    """No factor of the unread table passes for published, but the one that a later letter quotes in print."""
    factors = composite(person(age_years=85, sex=Sex.MALE), record(glaucoma=True))[1]
    assert {factor.label for factor in factors if factor.basis is not Basis.RECALLED} == {"Male"}


def test_grade_of_nucleus_stands_in_for_the_kind():
    """A very hard nucleus without a named kind counts as brunescent; a named immature one does not."""
    assert composite(person(), record(nucleus_grade=5.5))[0] == pytest.approx(2.99)
    assert composite(person(), record(nucleus_grade=5.5, cataract=Cataract.IMMATURE))[0] == pytest.approx(1.0)


def test_worst_of_everything_passes_three_quarters():
    """All worst levels in junior hands predict over 75%, as the paper's range says (narendran2009)."""
    worst, _ = composite(
        person(age_years=95, sex=Sex.MALE, alpha_blocker=True, cannot_lie_flat=True),
        record(cataract=Cataract.WHITE, phacodonesis=True, fundus_seen=False, diabetic_retinopathy=True, glaucoma=True,
               pupil=Pupil.SMALL),
        Grade.NOVICE,
        27.0,
    )  # fmt: skip
    assert probability(odds_ratio=worst, baseline=0.0075) > 0.75


@given(st.lists(st.floats(0.2, 100), min_size=1, max_size=40), st.floats(0.001, 0.6))
def test_baseline_returns_the_units_rate(ratios, rate):
    """With the solved baseline the mean prediction is the unit's rate."""
    base = baseline_for(mean_probability=rate, odds_ratios=ratios)
    assert np.mean(probability(odds_ratio=ratios, baseline=base)) == pytest.approx(rate, rel=1e-9)


@given(st.floats(0.001, 0.5), st.floats(0.1, 50))
def test_probability_is_the_odds_rule(base, ratio):
    """Odds after over odds before is the odds ratio."""
    after = probability(odds_ratio=ratio, baseline=base)
    assert (after / (1 - after)) / (base / (1 - base)) == pytest.approx(ratio)


def test_shapes_and_missing():
    """Rows and columns broadcast; a missing row stays missing alone."""
    found = probability(odds_ratio=[[1.0], [np.nan]], baseline=[0.01, 0.02, 0.03])
    assert found.shape == (2, 3)
    assert np.isnan(found[1]).all()
    assert not np.isnan(found[0]).any()


def test_missing_factors_are_named():
    """What nobody wrote down is listed; retinopathy is not missing without diabetes."""
    gaps = unrecorded_factors(person=person(), record=record(), summary=summary(readings=0), knowledge=KNOWLEDGE)
    assert {"age", "sex", "pupil", "axial length of this eye", "diabetic retinopathy"} <= set(gaps)
    assert "diabetic retinopathy" not in unrecorded_factors(
        person=person(diabetic=False), record=record(), summary=summary(), knowledge=KNOWLEDGE
    )


def test_impossible_odds_and_rates():
    """No odds of zero, no rate of two hundred in a hundred, no unit without operations."""
    with pytest.raises(ImpossibleInputError, match="above 0"):
        composite_odds_ratio(odds_ratios=[1.0, 0.0])
    with pytest.raises(ImpossibleInputError, match="between 0 and 1"):
        probability(odds_ratio=1.0, baseline=2.0)
    with pytest.raises(ImpossibleInputError, match="between 0 and 1"):
        baseline_for(mean_probability=2.0, odds_ratios=[1.0])
    with pytest.raises(ImpossibleInputError, match="at least one"):
        baseline_for(mean_probability=0.02, odds_ratios=[])


def test_weights_count_like_repeats():
    """An eye of weight three is three eyes."""
    repeated = baseline_for(mean_probability=0.03, odds_ratios=[1.0, 5.0, 5.0, 5.0])
    assert baseline_for(mean_probability=0.03, odds_ratios=[1.0, 5.0], weights=[1, 3]) == pytest.approx(repeated)


@given(st.floats(0.001, 0.5), st.floats(0.001, 0.5))
def test_a_baseline_moves_with_its_rate(base, rate):
    """Moved from a rate to itself it stays; moved from itself it arrives."""
    assert moved(baseline=base, to=rate, away_from=rate) == pytest.approx(base)
    assert moved(baseline=base, to=rate, away_from=base) == pytest.approx(rate)
