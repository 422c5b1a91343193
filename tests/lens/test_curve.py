"""The curve through three powers is the formula itself."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sideport.lens.curve import power_curve
from sideport.lens.formula import Biometry, FormulaConstants
from sideport.lens.registry import FORMULAS

MAIN = {"srk-t": 118.4, "t2": 118.4, "holladay-1": 1.45, "hoffer-q": 5.2, "haigis": 1.2}


@given(
    st.sampled_from(sorted(MAIN)),
    st.floats(18.0, 36.0),
    st.floats(35.0, 52.0),
    st.floats(2.0, 4.5),
    st.lists(st.floats(-10.0, 45.0), min_size=1, max_size=8),
)
def test_the_curve_agrees_with_the_formula_to_a_billionth_of_a_dioptre(key, length, mean_k, depth, powers):
    """Over the whole clinical range, wherever a spectacle lens could correct the eye at all."""
    eye, constants = Biometry(length, mean_k, depth), FormulaConstants(MAIN[key])
    powers = np.array(powers)
    with np.errstate(all="ignore"):
        at_zero = FORMULAS[key].power_d(eye, constants, 0.0)
    powers = powers[np.abs(powers - at_zero) < 30.0]
    if not powers.size:
        return
    curve = power_curve(formula=FORMULAS[key], biometry=eye, constants=constants, power_d=powers)
    np.testing.assert_allclose(curve.at(powers), FORMULAS[key].refraction_d(eye, constants, powers), rtol=0, atol=1e-9)


@pytest.mark.parametrize("key", sorted(MAIN))
def test_a_shelf_of_all_powers_in_many_eyes_at_once(key):
    """Eyes down, lenses across, and an unknown eye stays unknown alone."""
    length, mean_k = np.array([20.0, 23.5, np.nan, 28.0]), np.array([46.0, 44.0, 44.0, 42.0])
    eye, constants = Biometry(length, mean_k, 3.1), FormulaConstants(MAIN[key])
    powers = np.arange(-5.0, 35.5, 0.5)
    curve = power_curve(formula=FORMULAS[key], biometry=eye, constants=constants, power_d=powers)
    across = Biometry(length[:, None], mean_k[:, None], 3.1)
    found = np.stack([curve.at(np.array(power)) for power in powers], axis=1)
    np.testing.assert_allclose(found, FORMULAS[key].refraction_d(across, constants, powers), rtol=0, atol=1e-9)
    assert np.isnan(found).all(axis=1).tolist() == [False, False, True, False]
