"""Vector analysis against worked examples, identities and other ways of computing it."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sideport.errors import ImpossibleInputError
from sideport.wound.vectors import analyse_astigmatism, double_angle, polar_value

SIZE = st.floats(0, 6)
AXIS = st.floats(0, 180)


@pytest.mark.parametrize(
    ("before", "after", "induced", "axis"),
    [
        ((1.00, 90), (0.50, 90), 0.500, 0.0),
        ((1.00, 90), (1.00, 180), 2.000, 0.0),
        ((1.50, 85), (1.00, 10), 2.418, 0.97),
        ((1.42, 179), (2.48, 0), 1.062, 1.34),
        ((0.0, 90), (0.5, 0), 0.5, 0.0),
    ],
)
def test_sums_by_the_law_of_cosines(before, after, induced, axis):
    """Sizes by the law of cosines on the double-angle plane, axes by hand; 1.42 x 179 to 2.48 x 0 is superior58eyes."""
    found = analyse_astigmatism(
        before_d=before[0], before_axis_deg=before[1], after_d=after[0], after_axis_deg=after[1]
    )
    angle = np.radians(2 * (before[1] - after[1]))
    law = np.sqrt(before[0] ** 2 + after[0] ** 2 - 2 * before[0] * after[0] * np.cos(angle))
    assert found.induced_d == pytest.approx(law, abs=1e-12)
    assert found.induced_d == pytest.approx(induced, abs=6e-4)
    assert (found.induced_axis_deg + 90 - axis) % 180 == pytest.approx(90, abs=6e-3)


@given(SIZE, AXIS, SIZE, AXIS, SIZE, AXIS)
def test_target_is_induced_and_difference(b, ba, a, aa, t, ta):
    """On the plane the difference is what the induced change left of the target."""
    found = analyse_astigmatism(
        before_d=b, before_axis_deg=ba, after_d=a, after_axis_deg=aa, target_d=t, target_axis_deg=ta
    )
    planes = [
        np.array(double_angle(magnitude_d=getattr(found, f"{k}_d"), axis_deg=getattr(found, f"{k}_axis_deg")))
        for k in ("target", "induced", "difference")
    ]
    assert planes[0] == pytest.approx(planes[1] + planes[2], abs=1e-9)


@given(st.floats(0.1, 4), AXIS, st.floats(0.1, 4), AXIS)
def test_flattening_and_torque_by_the_angle_of_error(b, ba, a, aa):
    """Flattening and torque are the printed cosine and sine of twice the angle of error (alpins2001, recalled)."""
    found = analyse_astigmatism(before_d=b, before_axis_deg=ba, after_d=a, after_axis_deg=aa)
    if found.induced_d < 1e-6:
        return
    doubled = np.radians(2 * found.angle_of_error_deg)
    assert found.flattening_d == pytest.approx(found.induced_d * np.cos(doubled), abs=1e-9)
    assert found.torque_d == pytest.approx(found.induced_d * np.sin(doubled), abs=1e-9)
    assert np.hypot(found.flattening_d, found.torque_d) == pytest.approx(found.induced_d)
    assert found.flattening_index <= found.correction_index + 1e-12


def test_an_exact_operation():
    """All astigmatism gone: indices 1, 1 and 0, no error of angle or size."""
    found = analyse_astigmatism(before_d=2.0, before_axis_deg=178.0, after_d=0.0, after_axis_deg=90.0)
    assert found.correction_index == pytest.approx(1)
    assert found.flattening_index == pytest.approx(1)
    assert found.index_of_success == pytest.approx(0)
    assert found.magnitude_of_error_d == pytest.approx(0)
    assert found.angle_of_error_deg == pytest.approx(0, abs=1e-9)
    assert found.target_axis_deg == pytest.approx(88)


@given(SIZE, AXIS, SIZE, AXIS, st.floats(-720, 720))
def test_turning_everything_turns_the_axes_only(b, ba, a, aa, turn):
    """Axes turn along, through 180; sizes and indices stay."""
    plain = analyse_astigmatism(before_d=b, before_axis_deg=ba, after_d=a, after_axis_deg=aa)
    turned = analyse_astigmatism(before_d=b, before_axis_deg=ba + turn, after_d=a, after_axis_deg=aa + turn)
    assert turned.induced_d == pytest.approx(plain.induced_d, abs=1e-9)
    assert 0 <= turned.induced_axis_deg < 180
    if plain.induced_d > 1e-3:
        off = np.radians(2 * (turned.induced_axis_deg - plain.induced_axis_deg - turn))
        assert np.cos(off) == pytest.approx(1.0)


@given(SIZE, AXIS, SIZE, AXIS)
def test_the_mirror_image_has_the_opposite_torque(b, ba, a, aa):
    """Axes at 180 less the axis: same sizes, torque and angle of error change sign."""
    right = analyse_astigmatism(before_d=b, before_axis_deg=ba, after_d=a, after_axis_deg=aa)
    left = analyse_astigmatism(before_d=b, before_axis_deg=180 - ba, after_d=a, after_axis_deg=180 - aa)
    assert left.induced_d == pytest.approx(right.induced_d, abs=1e-9)
    assert left.torque_d == pytest.approx(-right.torque_d, abs=1e-9, nan_ok=True)


def test_polar_values_are_the_cut_frame():
    """A superior cut's vector seen at 90: the double-angle parts with both signs changed (naeser2008, recalled)."""
    x, y = double_angle(magnitude_d=1.2, axis_deg=7.0)
    found = polar_value(magnitude_d=1.2, axis_deg=7.0, meridian_deg=90.0)
    assert (found.along_d, found.torque_d) == (pytest.approx(-x), pytest.approx(-y))


def test_rows_keep_to_themselves():
    """Broadcast shape, a missing row missing alone, no target no index, blocks join without a seam."""
    found = analyse_astigmatism(
        before_d=[[1.0], [np.nan]], before_axis_deg=90.0, after_d=[0.5, 1.0, 2.0], after_axis_deg=80.0
    )
    assert found.induced_d.shape == (2, 3)
    assert np.isnan(found.induced_d).tolist() == [[False] * 3, [True] * 3]
    none = analyse_astigmatism(before_d=0.0, before_axis_deg=0.0, after_d=0.5, after_axis_deg=0.0)
    assert np.isnan(none.correction_index)
    assert none.target_axis_deg == 90
    sizes = np.linspace(0.1, 3, 20_001)
    whole = analyse_astigmatism(before_d=sizes, before_axis_deg=30.0, after_d=0.4, after_axis_deg=sizes * 50)
    for row in (0, 8_191, 8_192, 20_000):
        one = analyse_astigmatism(
            before_d=sizes[row], before_axis_deg=30.0, after_d=0.4, after_axis_deg=sizes[row] * 50
        )
        assert whole.torque_d[row] == pytest.approx(one.torque_d)


def test_impossible_sizes():
    """A negative or infinite size is refused with what to give."""
    with pytest.raises(ImpossibleInputError, match="steep axis"):
        analyse_astigmatism(before_d=-1.0, before_axis_deg=90, after_d=0.0, after_axis_deg=0)
    with pytest.raises(ImpossibleInputError, match="finite"):
        analyse_astigmatism(before_d=np.inf, before_axis_deg=90, after_d=0.0, after_axis_deg=0)
