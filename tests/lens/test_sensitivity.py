"""Sensitivities: the textbook rule, signs, and refusal."""

import numpy as np
import pytest

from sideport.errors import ImpossibleInputError
from sideport.knowledge import load_published
from sideport.lens.sensitivity import length_sensitivity

KNOWLEDGE = load_published()
FROM_A = ["srk-t", "t2", "holladay-1", "hoffer-q"]


@pytest.mark.parametrize(
    ("length", "mean_k", "key", "disagreement"),
    [(20.0, 46.0, "short", 0.75), (23.5, 43.8, "average", 0.25), (30.0, 42.3, "long", 0.35)],
)
@pytest.mark.parametrize("formula", FROM_A)
def test_a_millimetre_does_what_the_textbook_says(formula, length, mean_k, key, disagreement):
    """textbook_biometry, recalled: 3.75, 2.35 and 1.75 D a mm; the formulas lie around it by up to what is allowed."""
    found = length_sensitivity(formula_key=formula, axial_length_mm=length, mean_k_d=mean_k, a_constant=118.4)
    assert abs(-float(found) - KNOWLEDGE.value(f"lens_outcomes.per_mm.{key}")) <= disagreement


def test_arrays_go_in_and_come_out_and_nan_stays_in_its_row():
    found = length_sensitivity(
        formula_key="hoffer-q", axial_length_mm=[22.0, np.nan, 26.0], mean_k_d=44.0, a_constant=118.4
    )
    assert np.isnan(found).tolist() == [False, True, False]


def test_haigis_is_refused_because_it_needs_a_depth():
    with pytest.raises(ImpossibleInputError, match="chamber depth"):
        length_sensitivity(formula_key="haigis", axial_length_mm=23.0, mean_k_d=44.0, a_constant=118.4)
