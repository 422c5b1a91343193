"""Which formula counts in which eye: the published bands, the stand-ins, and what is said about them."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sideport.errors import ImpossibleInputError
from sideport.knowledge import load_published
from sideport.lens.formula import Biometry
from sideport.lens.trust import disagreement_flag, formula_for, range_flags, stand_in_flag

KNOWLEDGE = load_published()
FROM_A = ("srk-t", "t2", "holladay-1", "hoffer-q")


def labels(lengths, policy="auto", available=FROM_A, mean_k=44.0, depth=3.1):
    eyes = Biometry(np.asarray(lengths, dtype=float), np.full(len(lengths), mean_k), np.full(len(lengths), depth))
    return formula_for(biometry=eyes, available=available, policy=policy, knowledge=KNOWLEDGE).labels


def test_the_default_is_the_advice_of_1993_with_its_limits():
    """hoffer1993: below 22 Hoffer Q; to 24.5 the mean of three; to 26 Holladay; above 26 SRK/T."""
    assert labels([21.99, 22.0, 24.5, 24.51, 26.0, 26.01]) == (
        "hoffer-q",
        "srk-t + holladay-1 + hoffer-q",
        "srk-t + holladay-1 + hoffer-q",
        "holladay-1",
        "holladay-1",
        "srk-t",
    )


def test_nice_takes_haigis_in_short_eyes_only_where_it_can_be_run():
    """nice2017, recalled: Haigis or Hoffer Q below 22 mm."""
    with_haigis = (*FROM_A, "haigis")
    assert labels([21.0], "nice2017", with_haigis) == ("haigis",)
    assert labels([21.0], "nice2017", with_haigis, depth=np.nan) == ("hoffer-q",)
    assert labels([21.0], "nice2017") == ("hoffer-q",)


def test_t2_stands_in_where_srk_t_has_no_corneal_height():
    """At 30 mm SRK/T's root turns negative above 45.95 D."""
    assert labels([30.0], mean_k=45.9) == ("srk-t",)
    assert labels([30.0], mean_k=46.0) == ("t2",)


def test_one_named_formula_is_followed_and_srk_t_serves_where_it_cannot_be_run():
    assert labels([21.0, 30.0], "hoffer-q") == ("hoffer-q", "hoffer-q")
    assert labels([23.0], "haigis") == ("srk-t",)


@given(
    st.lists(st.floats(18, 36), min_size=1, max_size=5),
    st.floats(36, 52),
    st.sampled_from(["auto", "rcophth2010", "nice2017", "t2", "haigis"]),
    st.booleans(),
)
def test_the_weights_of_every_eye_sum_to_one(lengths, mean_k, policy, measured):
    eyes = Biometry(np.array(lengths), np.full(len(lengths), mean_k), 3.0 if measured else np.nan)
    trust = formula_for(biometry=eyes, available=(*FROM_A, "haigis"), policy=policy, knowledge=KNOWLEDGE)
    np.testing.assert_allclose(trust.weights.sum(axis=0), 1.0)
    assert np.all(trust.weights >= 0)


def test_an_eye_without_length_trusts_nothing():
    eyes = Biometry(np.array([np.nan, 23.0]), np.array([44.0, np.nan]))
    trust = formula_for(biometry=eyes, available=FROM_A, policy="auto", knowledge=KNOWLEDGE)
    assert np.isnan(trust.weights).all()


@pytest.mark.parametrize("policy", ["no-such", "limits", "", "srk-ii"])
def test_an_unknown_policy_is_refused_with_the_choices(policy):
    with pytest.raises(ImpossibleInputError, match="hoffer1993"):
        labels([23.0], policy)


def test_an_undefined_corneal_height_is_said():
    assert [flag.code for flag in range_flags(axial_length_mm=30.0, mean_k_d=46.5, keys=(), knowledge=KNOWLEDGE)] == [
        "srk-t-height-undefined"
    ]


def test_a_length_beyond_a_formulas_studies_is_said_and_nan_says_nothing():
    codes = [
        flag.code for flag in range_flags(axial_length_mm=40.0, mean_k_d=40.0, keys=("srk-t",), knowledge=KNOWLEDGE)
    ]
    assert "outside-advised-range" in codes
    assert range_flags(axial_length_mm=np.nan, mean_k_d=44.0, keys=("srk-t",), knowledge=KNOWLEDGE) == ()


def test_a_formula_that_stands_in_for_the_chosen_one_is_told():
    flag = stand_in_flag(policy="haigis", keys=["srk-t"])
    assert flag is not None
    assert "Haigis is set for every eye" in flag.message
    assert "SRK/T stands in" in flag.message
    assert stand_in_flag(policy="haigis", keys=["haigis"]) is None
    assert stand_in_flag(policy="auto", keys=["srk-t"]) is None


def test_formulas_that_differ_are_flagged_with_their_spread():
    assert disagreement_flag(refractions_d=[-0.5, -0.4, np.nan], knowledge=KNOWLEDGE) is None
    flag = disagreement_flag(refractions_d=[-0.5, 0.6, np.nan], knowledge=KNOWLEDGE)
    assert flag.code == "formulas-disagree"
    assert flag.value == pytest.approx(1.1)
