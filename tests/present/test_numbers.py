"""Numbers as text: signs are never lost, gaps are never dashes."""

import math
from datetime import date, time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sideport.present import numbers
from sideport.present.words import clock_hour


@given(st.integers(-40, 180))
def test_a_power_can_be_read_back_from_its_text(quarters: int) -> None:
    """Quarter-dioptre powers survive writing and reading, sign and all."""
    text = numbers.power(quarters / 4)
    assert text[0] in {"+", numbers.MINUS}
    assert float(text.removesuffix("\u00a0D").replace(numbers.MINUS, "-")) == quarters / 4


@given(st.floats(-30, 30))
def test_a_refraction_shows_its_sign_and_two_decimals(refraction_d: float) -> None:
    """Anything that does not round to zero has a sign, and no ASCII hyphen stands for a minus."""
    text = numbers.refraction(refraction_d)
    assert "-" not in text
    assert text.removesuffix("\u00a0D")[-3] == "."
    if abs(refraction_d) > 0.005:
        assert text[0] == ("+" if refraction_d > 0 else numbers.MINUS)


@pytest.mark.parametrize("missing", [None, math.nan, math.inf])
def test_missing_numbers_are_words(missing: float | None) -> None:
    """A dash could be read as a minus."""
    told = [numbers.power(missing), numbers.refraction(missing), numbers.millimetres(missing), numbers.degrees(missing)]
    told += [numbers.percent(missing), numbers.with_spread(missing, 0.1, "mm"), numbers.count(missing)]
    assert set(told) == {numbers.NOT_KNOWN}
    assert numbers.money(missing, "QID") == "no price"
    assert numbers.age(missing) == "age not known"


@pytest.mark.parametrize(
    ("share", "text"),
    [(0.0, "0%"), (0.0004, "<0.1%"), (0.0994, "9.9%"), (0.0996, "10%"), (0.5, "50%"), (0.9949, "99%"), (0.999, ">99%"),
     (1.0, "100%")],
)  # fmt: skip
def test_percentages_do_not_claim_certainty(share: float, text: str) -> None:
    """A probability that is not 0 or 1 never prints as 0% or 100%."""
    assert numbers.percent(share) == text


def test_dates_and_times_do_not_depend_on_the_locale() -> None:
    """4 March 2031 is a Tuesday."""
    assert numbers.long_date(date(2031, 3, 4)) == "Tuesday 4 March 2031"
    assert numbers.clock_time(time(8, 5)) == "08:05"
    assert numbers.age(67.9) == "67\u00a0y"


@pytest.mark.parametrize(("meridian", "hour"), [(90, 12), (0, 3), (270, 6), (180, 9), (60, 1), (120, 11), (360, 3)])
def test_clock_hours_follow_the_examiners_clock_face(meridian: float, hour: int) -> None:
    """12 is up, 3 is to the examiner's right."""
    assert clock_hour(meridian) == f"{hour} o'clock"
