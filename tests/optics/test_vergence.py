"""The thin-lens relation, solved for each of its quantities, agrees with an independent trace and with itself."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sideport.errors import ImpossibleInputError
from sideport.optics.vergence import (
    corneal_to_spectacle,
    lens_position_for_result,
    power_at_position,
    power_for_refraction,
    refraction_for_power,
    spectacle_to_corneal,
)

LENGTHS = st.floats(18, 36)
POSITIONS = st.floats(2.5, 8.5)
CORNEAS = st.floats(34, 52)
POWERS = st.floats(-10, 45)
REFRACTIONS = st.floats(-12, 8)


def focus_by_matrices(length: float, position: float, cornea: float, power: float, refraction: float) -> float:
    """Height at the retina [relative] of a ray that enters parallel through the spectacle lens, by ABCD matrices."""

    def lens(dioptres: float) -> np.ndarray:
        return np.array([[1.0, 0.0], [-dioptres, 1.0]])

    def gap(millimetres: float, index: float) -> np.ndarray:
        return np.array([[1.0, millimetres / 1000 / index], [0.0, 1.0]])

    system = gap(length - position, 1.336) @ lens(power) @ gap(position, 1.336) @ lens(cornea) @ gap(12, 1.0)
    return float((system @ lens(refraction) @ np.array([1.0, 0.0]))[0])


@given(LENGTHS, POSITIONS, CORNEAS, REFRACTIONS)
def test_power_focuses_on_the_retina(length: float, position: float, cornea: float, refraction: float) -> None:
    """With the computed power a parallel ray meets the axis at the retina (independent ABCD matrices)."""
    power = power_for_refraction(
        axial_length_mm=length, lens_position_mm=position, corneal_power_d=cornea, refraction_d=refraction
    )
    assert focus_by_matrices(length, position, cornea, float(power), refraction) == pytest.approx(0, abs=1e-12)


@given(LENGTHS, POSITIONS, CORNEAS, POWERS)
def test_refraction_inverts_power(length: float, position: float, cornea: float, power: float) -> None:
    """Power to refraction and back returns within 1e-9 D."""
    eye = {"axial_length_mm": length, "lens_position_mm": position, "corneal_power_d": cornea}
    refraction = refraction_for_power(**eye, power_d=power)
    assert float(power_for_refraction(**eye, refraction_d=refraction)) == pytest.approx(power, abs=1e-9)


@given(LENGTHS, POSITIONS, CORNEAS, POWERS.filter(lambda power: abs(power) > 1))
def test_position_inverts_refraction(length: float, position: float, cornea: float, power: float) -> None:
    """The position that explains a computed result is the one it was computed with, minus lenses included."""
    refraction = refraction_for_power(
        axial_length_mm=length, lens_position_mm=position, corneal_power_d=cornea, power_d=power
    )
    found = lens_position_for_result(
        axial_length_mm=length, corneal_power_d=cornea, power_d=power, refraction_d=refraction
    )
    assert float(found) == pytest.approx(position, abs=1e-7)


def test_no_power_says_nothing_about_position() -> None:
    """A lens of power 0 leaves its position unknown: NaN, not an error."""
    found = lens_position_for_result(axial_length_mm=30.0, corneal_power_d=44.0, power_d=0.0, refraction_d=-1.0)
    assert np.isnan(found)


def test_inexplicable_result_has_no_position() -> None:
    """Where no position can explain the result the answer is NaN."""
    found = lens_position_for_result(axial_length_mm=21.0, corneal_power_d=44.0, power_d=-15.0, refraction_d=8.0)
    assert np.isnan(found)


@given(LENGTHS, POSITIONS, CORNEAS, REFRACTIONS)
def test_forward_lens_needs_less_plus(length: float, position: float, cornea: float, refraction: float) -> None:
    """A plus lens moved forward needs less power for the same refraction."""
    eye = {"axial_length_mm": length, "corneal_power_d": cornea, "refraction_d": refraction}
    behind = float(power_for_refraction(**eye, lens_position_mm=position))
    ahead = float(power_for_refraction(**eye, lens_position_mm=position - 0.5))
    if behind > 0.5:
        assert ahead < behind


@given(st.floats(5, 34), CORNEAS, POSITIONS)
def test_power_at_position_agrees_with_the_whole_eye(power: float, cornea: float, position: float) -> None:
    """Bag to sulcus without the length is the same as by way of the length."""
    vergence = power + 1336 * cornea / (1336 - position * cornea)
    length = position + 1336 / vergence
    direct = power_at_position(
        power_d=power, position_mm=position, other_position_mm=position - 0.5, corneal_power_d=cornea
    )
    whole = power_for_refraction(
        axial_length_mm=length, lens_position_mm=position - 0.5, corneal_power_d=cornea, refraction_d=0.0
    )
    assert float(direct) == pytest.approx(float(whole), abs=1e-9)


@given(st.floats(-30, 20))
def test_vertex_round_trip(refraction: float) -> None:
    """Spectacle to cornea and back is the identity; at vertex 0 nothing changes."""
    assert float(corneal_to_spectacle(refraction_d=spectacle_to_corneal(refraction_d=refraction))) == pytest.approx(
        refraction, abs=1e-12
    )
    assert float(spectacle_to_corneal(refraction_d=refraction, vertex_mm=0.0)) == refraction


def test_plus_spectacles_are_stronger_at_the_cornea() -> None:
    """A +10 D spectacle lens 12 mm away acts as 10 / 0.88 D, a -10 D lens as -10 / 1.12 D (elementary vergence)."""
    assert float(spectacle_to_corneal(refraction_d=10.0)) == pytest.approx(10 / 0.88, abs=1e-12)
    assert float(spectacle_to_corneal(refraction_d=-10.0)) == pytest.approx(-10 / 1.12, abs=1e-12)


def test_shapes_and_missing_rows() -> None:
    """Columns against rows give a table; a missing value spoils its own row alone."""
    lengths = np.array([[22.0], [np.nan], [25.0]])
    table = power_for_refraction(
        axial_length_mm=lengths, lens_position_mm=5.0, corneal_power_d=[43.0, 44.0], refraction_d=0.0
    )
    assert table.shape == (3, 2)
    assert np.isnan(table[1]).all()
    one = power_for_refraction(axial_length_mm=25.0, lens_position_mm=5.0, corneal_power_d=44.0, refraction_d=0.0)
    assert table[2, 1] == one


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"axial_length_mm": [23.0, -1.0, 0.0]}, "axial length.*2 of 3 values \\(first rows: 1, 2\\)"),
        ({"axial_length_mm": np.inf}, "axial length.*one value"),
        ({"axial_length_mm": 2.35}, "retina.*millimetres"),
        ({"corneal_power_d": 0.0}, "corneal power"),
        ({"refraction_d": np.inf}, "refraction"),
        ({"refraction_d": 90.0}, "stronger than a spectacle lens"),
    ],
)
def test_impossible_input_is_named(change: dict[str, object], words: str) -> None:
    """What no eye can have raises, and the message says which, how many and where."""
    eye: dict[str, object] = {
        "axial_length_mm": 23.5,
        "lens_position_mm": 5.0,
        "corneal_power_d": 44.0,
        "refraction_d": 0.0,
    }
    with pytest.raises(ImpossibleInputError, match=words):
        power_for_refraction(**{**eye, **change})  # type: ignore[arg-type]
