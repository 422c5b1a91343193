"""A length by sound moves with the speed that is assumed."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sideport.errors import ImpossibleInputError
from sideport.optics.ultrasound import phakic_length_hoffer1994, phakic_velocity_hoffer1994, ultrasound_length


@given(st.floats(15, 36), st.floats(1400, 1700), st.floats(1400, 1700))
def test_there_and_back(reading: float, used: float, right: float) -> None:
    """Changing the speed and changing it back returns the reading; a faster medium means a longer eye."""
    moved = float(ultrasound_length(reading_mm=reading, velocity_used_m_s=used, velocity_m_s=right))
    assert float(ultrasound_length(reading_mm=moved, velocity_used_m_s=right, velocity_m_s=used)) == pytest.approx(
        reading
    )
    assert (moved > reading) == (right > used) or moved == pytest.approx(reading)


@given(st.floats(15, 36))
def test_square_rule_is_a_change_of_speed(reading: float) -> None:
    """The square rule's length is the reading moved to the speed that it implies."""
    velocity = phakic_velocity_hoffer1994(length_at_1532_mm=reading)
    by_speed = ultrasound_length(reading_mm=reading, velocity_used_m_s=1532.0, velocity_m_s=velocity)
    assert float(phakic_length_hoffer1994(length_at_1532_mm=reading)) == pytest.approx(float(by_speed))


def test_impossible() -> None:
    """A length or speed must be positive."""
    with pytest.raises(ImpossibleInputError, match="velocity"):
        ultrasound_length(reading_mm=23.0, velocity_used_m_s=0.0, velocity_m_s=1555.0)
    with pytest.raises(ImpossibleInputError, match="cornea and lens"):
        phakic_length_hoffer1994(length_at_1532_mm=0.3)
    assert np.isnan(phakic_length_hoffer1994(length_at_1532_mm=np.nan))
