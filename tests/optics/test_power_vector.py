"""Power vectors add like lenses, keep their two sign conventions apart, and come back as they went."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sideport.errors import ImpossibleInputError
from sideport.optics.power_vector import (
    corneal_astigmatism,
    corneal_vector_from_astigmatism,
    corneal_vector_from_keratometry,
    refraction_vector,
    sphere_cylinder,
)

AXES = st.floats(0, 179.999)


def apart(one: float, other: float) -> float:
    """Distance of two axes [deg]."""
    return abs((one - other + 90) % 180 - 90)


@given(st.floats(-10, 10), st.floats(-6, -0.05), AXES)
def test_refraction_round_trip(sphere: float, cylinder: float, axis: float) -> None:
    """Minus-cylinder form returns."""
    vector = refraction_vector(sphere_d=sphere, cylinder_d=cylinder, axis_deg=axis)
    back = sphere_cylinder(mean_d=vector.mean_d, j0_d=vector.j0_d, j45_d=vector.j45_d)
    assert float(back.sphere_d) == pytest.approx(sphere, abs=1e-12)
    assert float(back.cylinder_d) == pytest.approx(cylinder, abs=1e-12)
    assert apart(float(back.axis_deg), axis) < 1e-9
    assert 0 <= float(back.axis_deg) < 180


@given(st.floats(-10, 10), st.floats(-6, 6), AXES)
def test_transposition(sphere: float, cylinder: float, axis: float) -> None:
    """Plus- and minus-cylinder forms of one lens are one vector, and blur is its length."""
    one = refraction_vector(sphere_d=sphere, cylinder_d=cylinder, axis_deg=axis)
    other = refraction_vector(sphere_d=sphere + cylinder, cylinder_d=-cylinder, axis_deg=axis + 90)
    for part in ("mean_d", "j0_d", "j45_d", "blur_d"):
        assert float(getattr(one, part)) == pytest.approx(float(getattr(other, part)), abs=1e-12)


@given(st.floats(-6, 6), AXES, st.floats(0, 180))
def test_power_along_a_meridian(cylinder: float, axis: float, meridian: float) -> None:
    """The vector's profile is the cylinder's sine-squared law (elementary optics)."""
    vector = refraction_vector(sphere_d=1.0, cylinder_d=cylinder, axis_deg=axis)
    angle = np.radians(meridian)
    profile = vector.mean_d + vector.j0_d * np.cos(2 * angle) + vector.j45_d * np.sin(2 * angle)
    assert float(profile) == pytest.approx(1.0 + cylinder * np.sin(angle - np.radians(axis)) ** 2, abs=1e-12)


@given(st.floats(38, 50), st.floats(0.05, 6), AXES)
def test_keratometry_round_trip(flat: float, size: float, steep_axis: float) -> None:
    """Two principal readings in either order give mean, size and steep meridian."""
    low, high = (flat, steep_axis - 90), (flat + size, steep_axis)
    for first, second in ((low, high), (high, low)):
        vector = corneal_vector_from_keratometry(
            k1_d=first[0], k1_axis_deg=first[1], k2_d=second[0], k2_axis_deg=second[1]
        )
        found = corneal_astigmatism(j0_d=vector.j0_d, j45_d=vector.j45_d)
        assert float(vector.mean_d) == pytest.approx(flat + size / 2)
        assert float(found.magnitude_d) == pytest.approx(size, abs=1e-9)
        assert apart(float(found.steep_axis_deg), steep_axis) < 1e-6
        assert float(vector.off_square_deg) == pytest.approx(0, abs=1e-9)


def test_signs() -> None:
    """Steep at 90 (with the rule) is a negative corneal J0 and a positive J0 of the correcting lens."""
    cornea = corneal_vector_from_keratometry(k1_d=43.0, k1_axis_deg=180.0, k2_d=44.0, k2_axis_deg=90.0)
    assert float(cornea.j0_d) == pytest.approx(-0.5)
    lens = refraction_vector(sphere_d=0.0, cylinder_d=-1.0, axis_deg=180.0)
    assert float(lens.j0_d) == pytest.approx(0.5)


def test_one_axis_is_enough() -> None:
    """An axis that was not recorded stands at right angles to the other, and the caller can tell."""
    vector = corneal_vector_from_keratometry(k1_d=43.0, k1_axis_deg=np.nan, k2_d=44.5, k2_axis_deg=30.0)
    found = corneal_astigmatism(j0_d=vector.j0_d, j45_d=vector.j45_d)
    assert float(found.steep_axis_deg) == pytest.approx(30.0)
    assert np.isnan(vector.off_square_deg)


def test_axes_not_square() -> None:
    """Meridians 80 apart: size kept, the error split, and its amount told; one meridian twice gives no axis."""
    vector = corneal_vector_from_keratometry(k1_d=43.0, k1_axis_deg=10.0, k2_d=45.0, k2_axis_deg=90.0)
    found = corneal_astigmatism(j0_d=vector.j0_d, j45_d=vector.j45_d)
    assert float(found.magnitude_d) == pytest.approx(2.0)
    assert float(found.steep_axis_deg) == pytest.approx(95.0)
    assert float(vector.off_square_deg) == pytest.approx(10.0)
    twice = corneal_vector_from_keratometry(k1_d=43.0, k1_axis_deg=90.0, k2_d=45.0, k2_axis_deg=90.0)
    assert np.isnan(twice.j0_d)
    assert float(twice.mean_d) == 44.0
    assert float(twice.off_square_deg) == 90.0


def test_round_cornea() -> None:
    """Equal powers are no astigmatism, with whatever axes, and the axis then reads 90."""
    vector = corneal_vector_from_keratometry(k1_d=44.0, k1_axis_deg=np.nan, k2_d=44.0, k2_axis_deg=np.nan)
    found = corneal_astigmatism(j0_d=vector.j0_d, j45_d=vector.j45_d)
    assert (float(found.magnitude_d), float(found.steep_axis_deg)) == (0.0, 90.0)


@given(st.floats(0.05, 6), AXES)
def test_astigmatism_round_trip(size: float, axis: float) -> None:
    """Size and axis to vector and back; the axis is never 180 itself."""
    vector = corneal_vector_from_astigmatism(mean_d=44.0, magnitude_d=size, steep_axis_deg=axis)
    found = corneal_astigmatism(j0_d=vector.j0_d, j45_d=vector.j45_d)
    assert float(found.magnitude_d) == pytest.approx(size, abs=1e-12)
    assert apart(float(found.steep_axis_deg), axis) < 1e-6
    assert 0 <= float(found.steep_axis_deg) < 180


def test_axis_just_below_zero() -> None:
    """A hair below the horizontal stays inside [0, 180)."""
    assert float(corneal_astigmatism(j0_d=0.5, j45_d=-1e-20).steep_axis_deg) == 0.0


def test_missing_and_impossible() -> None:
    """NaN stays in its row; an infinite axis or a negative power is refused."""
    lens = sphere_cylinder(mean_d=[0.0, 1.0], j0_d=[np.nan, 0.5], j45_d=0.0)
    assert np.isnan(lens.axis_deg[0])
    assert lens.cylinder_d[1] == -1.0
    with pytest.raises(ImpossibleInputError, match="axis"):
        refraction_vector(sphere_d=0.0, cylinder_d=1.0, axis_deg=np.inf)
    with pytest.raises(ImpossibleInputError, match="corneal power"):
        corneal_vector_from_keratometry(k1_d=-43.0, k1_axis_deg=0.0, k2_d=44.0, k2_axis_deg=90.0)
