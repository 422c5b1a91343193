"""Radius and power of the cornea are inverse at any index, and impossible corneas are refused."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sideport.errors import ImpossibleInputError
from sideport.optics.keratometry import power_from_radius, radius_from_power, thick_cornea_power


@given(st.floats(6, 10), st.floats(1.31, 1.40))
def test_round_trip(radius: float, index: float) -> None:
    """Radius to power and back."""
    power = power_from_radius(radius_mm=radius, index=index)
    assert float(radius_from_power(power_d=power, index=index)) == pytest.approx(radius, abs=1e-12)


def test_convention() -> None:
    """7.50 mm reads 45.00 D and 8.00 mm 42.19 D, as keratometers are marked."""
    assert power_from_radius(radius_mm=[7.5, 8.0]) == pytest.approx([45.0, 42.1875])


@given(st.floats(6.5, 9), st.floats(1.01, 1.5), st.floats(1.01, 1.5))
def test_thin_surface_limit(radius: float, cornea: float, aqueous: float) -> None:
    """As thickness vanishes, two equal surfaces act as one between air and aqueous."""
    power = thick_cornea_power(
        front_radius_mm=radius, back_radius_mm=radius, thickness_mm=1e-9, cornea_index=cornea, aqueous_index=aqueous
    )
    assert float(power) == pytest.approx(1000 * (aqueous - 1) / radius, abs=1e-6)


@pytest.mark.parametrize("radius", [0.0, -7.5, np.inf])
def test_impossible_radius(radius: float) -> None:
    """A radius must be above 0."""
    with pytest.raises(ImpossibleInputError, match="corneal radius"):
        power_from_radius(radius_mm=radius)


def test_impossible_index() -> None:
    """An index of 1 bends nothing; the percentage 37.5 or such is a slip that gives itself away elsewhere."""
    with pytest.raises(ImpossibleInputError, match="index"):
        radius_from_power(power_d=44.0, index=1.0)
