"""Targets by name, and the caution about eyes left far apart."""

import pytest

from sideport.errors import ImpossibleInputError
from sideport.knowledge import Basis, Severity, load_published
from sideport.lens.target import imbalance_flag, target_named, target_policies

KNOWLEDGE = load_published()


@pytest.mark.parametrize("policy", target_policies(KNOWLEDGE))
def test_every_policy_is_found_by_its_name_however_it_is_written(policy):
    value = target_named(policy=policy, knowledge=KNOWLEDGE)
    assert value < 0, "no policy aims at long-sightedness"
    assert target_named(policy=policy.upper().replace("_", "-"), knowledge=KNOWLEDGE) == value


def test_an_unknown_policy_names_the_known_ones():
    with pytest.raises(ImpossibleInputError, match="distance, field_work, near_work"):
        target_named(policy="moonlight", knowledge=KNOWLEDGE)


@pytest.mark.parametrize(
    ("eye", "fellow", "flagged"),
    [(-0.5, -3.5, False), (-0.5, -3.6, True), (2.6, -0.5, True), (-0.5, 0.0, False), (-0.5, float("nan"), False)],
)
def test_only_more_than_three_dioptres_apart_is_a_caution(eye, fellow, flagged):
    """krarup2020: the limit itself is still within what was studied and borne."""
    found = imbalance_flag(refraction_d=eye, fellow_d=fellow, fellow_words="has", knowledge=KNOWLEDGE)
    assert (found is not None) == flagged


def test_the_caution_says_both_numbers_with_their_signs_and_its_source():
    found = imbalance_flag(refraction_d=-0.4, fellow_d=-6.0, fellow_words="has", knowledge=KNOWLEDGE)
    assert found is not None
    assert "-0.40 D" in found.message
    assert "has -6.00 D" in found.message
    assert (found.severity, found.source, found.basis) == (Severity.WARN, "krarup2020", Basis.PUBLISHED)
    assert found.value == pytest.approx(5.6)
