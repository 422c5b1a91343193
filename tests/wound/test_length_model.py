"""Named length models: what each says, and what the published series say to them."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sideport.errors import ImpossibleInputError
from sideport.knowledge import load_published
from sideport.wound.length_model import DEFAULT_MODEL, MODELS, compare_length_models, size_ratio

KNOWLEDGE = load_published()


def ratio(length, distance=1.5, model=DEFAULT_MODEL):
    return size_ratio(
        length_mm=length, limbus_distance_mm=distance, series_length_mm=6.0, series_distance_mm=1.5,
        limbus_radius_mm=5.8, model=model,
    )  # fmt: skip


def test_the_default_is_near_linear():
    """Twice the length: twice by the default (samuelson1991), eight times by the slogan."""
    assert DEFAULT_MODEL == "near-linear"
    assert ratio(12.0) == pytest.approx(2.0)
    assert ratio(12.0, model="cube") == pytest.approx(8.0)
    assert "not borne out" in MODELS["cube"].label


def test_published_series_refutes_the_cube():
    """0.64, 0.71, 1.02 D at 4.0, 5.5, 9.0 mm (superior3lengths2002): linear misses by under 0.45 D, cube by over 6."""
    found = compare_length_models(knowledge=KNOWLEDGE)
    assert [(row.length_mm, row.measured_d) for row in found["near-linear"]] == [(4.0, 0.64), (5.5, 0.71), (9.0, 1.02)]
    worst = {key: max(abs(row.expected_d - row.measured_d) for row in rows) for key, rows in found.items()}
    assert worst["near-linear"] == pytest.approx(0.64 * 9 / 4 - 1.02)
    assert worst["near-linear"] < 0.45
    assert worst["cube"] > 6


def test_two_techniques_at_one_site_refute_it_too():
    """Superior 3.0 mm 0.47 D (kamiya2021) and 6 mm 1.07 to 1.28 D: the ratio is near 2 to 3, not 8."""
    for centroid in (1.07, 1.11, 1.28):
        assert 2 < centroid / 0.47 < 3


@given(st.floats(2, 10), st.floats(0.1, 3), st.floats(0, 3), st.sampled_from(sorted(MODELS)))
def test_longer_bends_more_and_farther_back_less(length, more, distance, model):
    """Monotone in length and in distance, in either model."""
    assert ratio(length + more, distance, model) > ratio(length, distance, model)
    assert ratio(length, distance + 0.5, model) < ratio(length, distance, model)


def test_missing_and_unknown():
    """NaN stays in its row; an unknown model names those that there are."""
    assert np.isnan(ratio([np.nan, 6.0])).tolist() == [True, False]
    with pytest.raises(ImpossibleInputError, match="near-linear"):
        ratio(6.0, model="square")
