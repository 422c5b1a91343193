"""Angles on the cornea mean the same place in right and left eyes."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sideport.errors import ImpossibleInputError
from sideport.optics.side import Side
from sideport.wound.axis import axis_difference_deg, axis_from_meridian, clock_hour, meridian_deg, meridian_from_clock
from sideport.wound.plan import Site

ANGLES = st.floats(-720, 720, allow_nan=False)


@pytest.mark.parametrize(
    ("site", "right", "left"),
    [(Site.SUPERIOR, 90, 90), (Site.SUPEROTEMPORAL, 135, 45), (Site.TEMPORAL, 180, 0), (Site.SUPERONASAL, 45, 135)],
)
def test_known_places(site, right, left):
    """Facing the patient, the right eye's temple is on the examiner's left."""
    assert (meridian_deg(site=site, side=Side.RIGHT), meridian_deg(site=site, side=Side.LEFT)) == (right, left)


@pytest.mark.parametrize(("hour", "angle"), [(12, 90), (3, 0), (6, 270), (9, 180), (10.5, 135), (1.5, 45)])
def test_clock_hours(hour, angle):
    """Clock hours as the examiner sees them, both ways."""
    assert meridian_from_clock(hour=hour) == pytest.approx(angle)
    assert clock_hour(angle_deg=angle) == pytest.approx(hour)


@given(ANGLES)
def test_clock_round_trip(angle):
    """Angle to clock and back is the same angle."""
    back = meridian_from_clock(hour=clock_hour(angle_deg=angle))
    assert np.cos(np.radians(back - angle)) == pytest.approx(1.0)


@given(ANGLES, ANGLES)
def test_axis_difference_is_least_and_antisymmetric(first, second):
    """No turn between axes exceeds 90, and it brings the second onto the first."""
    turn = axis_difference_deg(first_deg=first, second_deg=second)
    assert -90 <= turn < 90
    assert np.cos(2 * np.radians(second + turn - first)) == pytest.approx(1.0)


def test_through_180():
    """179 and 1 are two degrees apart, 0 and 180 are one axis."""
    assert axis_difference_deg(first_deg=179, second_deg=1) == -2
    assert axis_difference_deg(first_deg=0, second_deg=180) == 0
    assert axis_from_meridian(angle_deg=[180, 270, -1e-14, 360]).tolist() == [0, 90, 0, 0]


def test_missing_angle_stays_missing():
    """NaN in gives NaN out, in its own row only."""
    assert np.isnan(clock_hour(angle_deg=[np.nan, 90])).tolist() == [True, False]


def test_no_hour_zero():
    """An hour that no clock shows is refused with what to write."""
    with pytest.raises(ImpossibleInputError, match="write 12"):
        meridian_from_clock(hour=0)
