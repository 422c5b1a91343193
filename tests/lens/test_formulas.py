"""Each power formula equals its long published form, inverts exactly, and treats every row alone."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sideport.errors import ImpossibleInputError, KnowledgeError
from sideport.knowledge import load_published
from sideport.lens.formula import Biometry, Formula, FormulaConstants
from sideport.lens.registry import FORMULAS, formula, outside_advised_range
from sideport.lens.srk_t import corneal_height_undefined

MAIN = {
    "srk-t": 118.4,
    "t2": 118.4,
    "srk-ii": 118.4,
    "holladay-1": 1.4499,
    "hoffer-q": 5.1987,
    "haigis": 1.5269,
}
KEYS = sorted(FORMULAS)
THIN = [key for key in KEYS if key != "srk-ii"]
LENGTHS = st.floats(18, 36)
KS = st.floats(35, 52)
DEPTHS = st.floats(2, 4.5)
POWERS = st.floats(-10, 45)
TARGETS = st.floats(-6, 3)


def given_constants(key: str) -> FormulaConstants:
    """Ordinary constants of one lens."""
    return FormulaConstants(main=MAIN[key])


def test_registry_is_keyed_by_its_own_keys() -> None:
    """Every card stands under its key, its source is in the bibliography, and only history is called historical."""
    assert set(FORMULAS) == {"srk-t", "holladay-1", "hoffer-q", "haigis", "t2", "srk-ii"}
    for key, card in FORMULAS.items():
        assert card.key == key
        assert load_published().source(card.source)
        assert card.axial_length_range_mm[0] < card.axial_length_range_mm[1]
    assert [key for key, card in FORMULAS.items() if card.historical] == ["srk-ii"]
    assert [key for key, card in FORMULAS.items() if card.needs_chamber_depth] == ["haigis"]


def test_unknown_formula_lists_the_known() -> None:
    """A wrong key says which are right."""
    with pytest.raises(KnowledgeError, match=r"'srkt'.*srk-t, holladay-1, hoffer-q, haigis, t2, srk-ii"):
        formula("srkt")


@pytest.mark.parametrize("key", KEYS)
@given(length=LENGTHS, k=KS, depth=DEPTHS, power=POWERS)
def test_power_and_refraction_are_inverse(key: str, length: float, k: float, depth: float, power: float) -> None:
    """Over the whole clinical range, power to refraction to power returns within 1e-9 D."""
    eye, constants, card = Biometry(length, k, depth), given_constants(key), FORMULAS[key]
    refraction = card.refraction_d(eye, constants, power)
    assert float(card.power_d(eye, constants, refraction)) == pytest.approx(power, abs=1e-9)


@pytest.mark.parametrize("key", KEYS)
@given(length=LENGTHS, k=KS, depth=DEPTHS, target=TARGETS)
def test_refraction_and_power_are_inverse(key: str, length: float, k: float, depth: float, target: float) -> None:
    """Over the whole clinical range, refraction to power to refraction returns within 1e-9 D."""
    eye, constants, card = Biometry(length, k, depth), given_constants(key), FORMULAS[key]
    power = card.power_d(eye, constants, target)
    assert float(card.refraction_d(eye, constants, power)) == pytest.approx(target, abs=1e-9)


@pytest.mark.parametrize("key", THIN)
@given(length=LENGTHS, k=KS, depth=DEPTHS, power=POWERS.filter(lambda power: abs(power) > 0.5), shift=st.floats(-1, 1))
def test_constant_explains_the_result(
    key: str, length: float, k: float, depth: float, power: float, shift: float
) -> None:
    """The constant found for a result is the one that made it, and reproduces the refraction within 1e-9 D."""
    eye, card = Biometry(length, k, depth), FORMULAS[key]
    truth = FormulaConstants(main=MAIN[key] + shift)
    refraction = card.refraction_d(eye, truth, power)
    found = card.constant_for_result(eye, given_constants(key), power, refraction)
    assert float(found) == pytest.approx(float(truth.main), abs=1e-6)
    again = card.refraction_d(eye, FormulaConstants(main=found), power)
    assert float(again) == pytest.approx(float(refraction), abs=1e-9)


@given(length=LENGTHS, k=KS, power=POWERS, target=st.floats(-3, 0))
def test_srk_ii_constant(length: float, k: float, power: float, target: float) -> None:
    """SRK II: where a constant is found it reproduces the observed refraction."""
    card, eye = FORMULAS["srk-ii"], Biometry(length, k)
    found = card.constant_for_result(eye, FormulaConstants(main=0.0), power, target)
    if not np.isnan(found):
        # Beside the change of rate a rounding may fall on its other side.
        emmetropia = float(card.power_d(eye, FormulaConstants(main=found), 0.0))
        if abs(emmetropia - 14.0) > 1e-9:
            assert float(card.refraction_d(eye, FormulaConstants(main=found), power)) == pytest.approx(target, abs=1e-9)


def test_srk_ii_has_no_constant_across_its_step() -> None:
    """A myopic result that both rates of SRK II contradict has no constant; SRK II has no lens position."""
    card, eye = FORMULAS["srk-ii"], Biometry(23.5, 44.0)
    assert np.isnan(card.constant_for_result(eye, FormulaConstants(main=118.0), 16.2, -2.0))
    assert np.isnan(card.lens_position_mm(eye, FormulaConstants(main=118.0)))


@pytest.mark.parametrize(
    ("length", "step"), [(19.99, 3.0), (20.0, 2.0), (21.0, 1.0), (22.0, 0.0), (24.49, 0.0), (24.5, -0.5)]
)
def test_srk_ii_steps(length: float, step: float) -> None:
    """SRK II is A + step - 2.5 L - 0.9 K for emmetropia (sanders1988, recalled)."""
    power = FORMULAS["srk-ii"].power_d(Biometry(length, 44.0), FormulaConstants(main=118.0), 0.0)
    assert float(power) == pytest.approx(118.0 + step - 2.5 * length - 0.9 * 44.0, abs=1e-12)


def long_power(radius: float, length: float, position: float, bend: float, target: float) -> float:
    """The quotient of SRK/T and Holladay 1 as their papers print it (retzlaff1990, holladay1988, recalled)."""
    na, vertex = 1.336, 12.0
    above = na * radius - bend * length - 0.001 * target * (vertex * (na * radius - bend * length) + length * radius)
    below = (
        na * radius - bend * position - 0.001 * target * (vertex * (na * radius - bend * position) + position * radius)
    )
    return 1000 * na * above / ((length - position) * below)


def long_refraction(radius: float, length: float, position: float, bend: float, power: float) -> float:
    """The same quotient solved for refraction, as the papers print it."""
    na, vertex = 1.336, 12.0
    first, second = na * radius - bend * length, na * radius - bend * position
    above = 1000 * na * first - power * (length - position) * second
    below = na * (vertex * first + length * radius)
    below -= 0.001 * power * (length - position) * (vertex * second + position * radius)
    return above / below


@given(length=LENGTHS, k=KS, target=TARGETS, power=POWERS)
def test_srk_t_long_form(length: float, k: float, target: float, power: float) -> None:
    """SRK/T equals its long published form within 1e-9 D (retzlaff1990, recalled)."""
    radius = 337.5 / k
    corrected = length if length <= 24.2 else -3.446 + 1.716 * length - 0.0237 * length**2
    width = -5.41 + 0.58412 * corrected + 0.098 * k
    height = radius - math.sqrt(max(radius**2 - width**2 / 4, 0.0))
    position = height + 0.62467 * 118.4 - 68.747 - 3.336
    optical = length + 0.65696 - 0.02029 * length
    card, eye, constants = FORMULAS["srk-t"], Biometry(length, k), FormulaConstants(main=118.4)
    assert float(card.lens_position_mm(eye, constants)) == pytest.approx(position, abs=1e-12)
    long = long_power(radius, optical, position, 0.333, target)
    assert float(card.power_d(eye, constants, target)) == pytest.approx(long, abs=1e-9)
    long = long_refraction(radius, optical, position, 0.333, power)
    assert float(card.refraction_d(eye, constants, power)) == pytest.approx(long, abs=1e-9)


@given(length=LENGTHS, k=KS, target=TARGETS, power=POWERS)
def test_holladay_1_long_form(length: float, k: float, target: float, power: float) -> None:
    """Holladay 1 equals its long published form within 1e-9 D (holladay1988, recalled)."""
    radius = 337.5 / k
    dome = max(radius, 7.0)
    width = min(12.5 * length / 23.45, 13.5)
    position = 0.56 + dome - math.sqrt(dome**2 - width**2 / 4) + 1.4499
    card, eye, constants = FORMULAS["holladay-1"], Biometry(length, k), FormulaConstants(main=1.4499)
    assert float(card.lens_position_mm(eye, constants)) == pytest.approx(position, abs=1e-12)
    long = long_power(radius, length + 0.2, position, 1 / 3, target)
    assert float(card.power_d(eye, constants, target)) == pytest.approx(long, abs=1e-9)
    long = long_refraction(radius, length + 0.2, position, 1 / 3, power)
    assert float(card.refraction_d(eye, constants, power)) == pytest.approx(long, abs=1e-9)


@given(length=st.floats(20, 30), k=st.floats(40, 48), power=st.floats(5, 34), target=st.floats(-3, 3))
def test_holladay_1_published_reverse(length: float, k: float, power: float, target: float) -> None:
    """The surgeon factor equals the paper's own reverse solution where that has one (holladay1988, recalled)."""
    na, bend, vertex, radius = 1.336, 1 / 3, 12.0, 337.5 / k
    dome, width, optical = max(radius, 7.0), min(12.5 * length / 23.45, 13.5), length + 0.2
    depth = 0.56 + dome - math.sqrt(dome**2 - width**2 / 4)
    aq = bend - 0.001 * target * (vertex * bend - radius)
    bq = 0.001 * target * (optical * vertex * bend - radius * (optical - vertex * na)) - (bend * optical + na * radius)
    cq1 = 0.001 * target * (vertex * (na * radius - bend * optical) + optical * radius)
    cq2 = 1000 * na * (na * radius - bend * optical - cq1) / power
    cq3 = optical * na * radius - 0.001 * target * optical * vertex * radius * na
    under = bq**2 - 4 * aq * (cq3 - cq2)
    found = FORMULAS["holladay-1"].constant_for_result(Biometry(length, k), FormulaConstants(main=0.0), power, target)
    if under > 1e-6:
        assert float(found) == pytest.approx((-bq - math.sqrt(under)) / (2 * aq) - depth, abs=1e-6)


@given(length=LENGTHS, k=KS, target=TARGETS)
def test_t2_as_printed(length: float, k: float, target: float) -> None:
    """T2 is SRK/T's long form with the regressed corneal height of the measured length (sheard2010, recalled)."""
    position = -10.326 + 0.32630 * length + 0.13533 * k + 0.62467 * 118.4 - 68.747 - 3.336
    optical = length + 0.65696 - 0.02029 * length
    long = long_power(337.5 / k, optical, position, 0.333, target)
    found = FORMULAS["t2"].power_d(Biometry(length, k), FormulaConstants(main=118.4), target)
    assert float(found) == pytest.approx(long, abs=1e-9)


@given(length=LENGTHS, k=KS, target=TARGETS)
def test_hoffer_q_as_printed(length: float, k: float, target: float) -> None:
    """Hoffer Q with its tangents in degrees and its sign at 23 mm, written out (hoffer1993, recalled)."""
    held = min(max(length, 18.5), 31.0)
    sign, pole = (1, 28.0) if length <= 23 else (-1, 23.5)
    depth = 5.1987 + 0.3 * (held - 23.5) + math.tan(math.radians(k)) ** 2
    depth += 0.1 * sign * (23.5 - held) ** 2 * math.tan(math.radians(0.1 * (pole - held) ** 2)) - 0.99166
    corrected = target / (1 - 0.012 * target)
    power = 1336 / (length - depth - 0.05) - 1.336 / (1.336 / (k + corrected) - (depth + 0.05) / 1000)
    found = FORMULAS["hoffer-q"].power_d(Biometry(length, k), FormulaConstants(main=5.1987), target)
    assert float(found) == pytest.approx(power, abs=1e-9)


@given(length=LENGTHS, k=KS, depth=DEPTHS, target=TARGETS)
def test_haigis_as_printed(length: float, k: float, depth: float, target: float) -> None:
    """Haigis with its own corneal index and three constants, written out (haigis2000, recalled)."""
    position = 0.9 + 0.35 * depth + 0.12 * length
    z = 331.5 / (337.5 / k) + target / (1 - 0.012 * target)
    power = 1336 / (length - position) - 1336 / (1336 / z - position)
    constants = FormulaConstants(main=0.9, a1=0.35, a2=0.12)
    assert float(FORMULAS["haigis"].power_d(Biometry(length, k, depth), constants, target)) == pytest.approx(
        power, abs=1e-9
    )


@pytest.mark.parametrize(("length", "k"), [(22.0, 53.31), (23.5, 50.78), (26.0, 48.21), (30.0, 45.95)])
def test_srk_t_says_where_its_height_is_undefined(length: float, k: float) -> None:
    """The flag turns on where r^2 = Cw^2 / 4, solved by bisection elsewhere to 0.01 D, and T2 has no such edge."""
    assert not corneal_height_undefined(Biometry(length, k - 0.02))
    assert corneal_height_undefined(Biometry(length, k + 0.02))
    assert not corneal_height_undefined(Biometry(np.nan, k))
    constants = FormulaConstants(main=118.4)
    power = FORMULAS["srk-t"].power_d(Biometry(length, k + 1.0), constants, 0.0)
    assert np.isfinite(power)


@pytest.mark.parametrize("key", KEYS)
@given(length=LENGTHS, k=KS, depth=DEPTHS, power=st.floats(0, 40), more=st.floats(0.1, 3))
def test_more_power_is_more_myopic(key: str, length: float, k: float, depth: float, power: float, more: float) -> None:
    """A stronger lens always leaves a more myopic refraction."""
    eye, constants, card = Biometry(length, k, depth), given_constants(key), FORMULAS[key]
    weak = float(card.refraction_d(eye, constants, power))
    assert float(card.refraction_d(eye, constants, power + more)) < weak


@pytest.mark.parametrize("key", THIN)
@given(length=LENGTHS, k=KS, depth=DEPTHS)
def test_larger_constant_sits_deeper(key: str, length: float, k: float, depth: float) -> None:
    """A larger constant means a deeper lens and, for a plus lens, a more hyperopic result."""
    eye, card = Biometry(length, k, depth), FORMULAS[key]
    more = FormulaConstants(main=MAIN[key] + 0.5)
    assert float(card.lens_position_mm(eye, more)) > float(card.lens_position_mm(eye, given_constants(key)))
    assert float(card.refraction_d(eye, more, 15.0)) > float(card.refraction_d(eye, given_constants(key), 15.0))


def every_function(card: Formula, eye: Biometry, constants: FormulaConstants) -> list[np.ndarray]:
    """All four answers."""
    return [
        np.asarray(card.lens_position_mm(eye, constants)),
        np.asarray(card.power_d(eye, constants, -0.5)),
        np.asarray(card.refraction_d(eye, constants, 20.0)),
        np.asarray(card.constant_for_result(eye, constants, 20.0, -0.5)),
    ]


@pytest.mark.parametrize("key", KEYS)
def test_shapes_rows_and_missing(key: str) -> None:
    """Scalars give scalars, columns against rows a table; each row is as it is alone; NaN stays in its row."""
    card, constants = FORMULAS[key], given_constants(key)
    lengths = np.array([[21.0], [np.nan], [23.4], [27.5]])
    ks = np.array([41.0, 44.0, 47.5])
    for answer in every_function(card, Biometry(23.4, 44.0, 3.1), constants):
        assert answer.shape == ()
    tables = every_function(card, Biometry(lengths, ks, 3.1), constants)
    alone = every_function(card, Biometry(23.4, 44.0, 3.1), constants)
    for place, (table, one) in enumerate(zip(tables, alone, strict=True)):
        if key == "haigis" and place == 0:
            assert table.shape == (4, 1)  # its position needs no keratometry
            table = np.broadcast_to(table, (4, 3))
        assert table.shape == (4, 3)
        assert np.isnan(table[1]).all()
        np.testing.assert_allclose(table[2, 1], one, rtol=0, atol=1e-12)
    assert not np.isnan(tables[1][[0, 2, 3]]).any()


def test_haigis_without_a_chamber_depth_is_missing() -> None:
    """Haigis never runs on a guessed chamber depth."""
    answers = every_function(FORMULAS["haigis"], Biometry(23.4, 44.0), FormulaConstants(main=1.5))
    assert all(np.isnan(answer) for answer in answers)


def test_many_rows_equal_few() -> None:
    """A list long enough to be worked in blocks gives each row what it gets alone."""
    generator = np.random.default_rng(3)
    lengths, ks = generator.uniform(18, 36, 40_000), generator.uniform(35, 52, 40_000)
    for key in ("srk-t", "holladay-1", "hoffer-q", "t2", "srk-ii"):
        card, constants = FORMULAS[key], given_constants(key)
        whole = card.power_d(Biometry(lengths, ks), constants, -0.5)
        part = card.power_d(Biometry(lengths[16_380:16_390], ks[16_380:16_390]), constants, -0.5)
        np.testing.assert_allclose(whole[16_380:16_390], part, rtol=0, atol=1e-12)


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize(
    ("eye", "main", "target", "words"),
    [
        (Biometry([23.0, -23.0], 44.0, 3.0), None, 0.0, r"axial length.*Found -23.*1 of 2 values \(first rows: 1\)"),
        (Biometry(23.0, 0.0, 3.0), None, 0.0, "keratometry"),
        (Biometry(23.0, np.inf, 3.0), None, 0.0, "keratometry"),
        (Biometry(23.0, 44.0, 3.0), np.inf, 0.0, "constant"),
        (Biometry(23.0, 44.0, 3.0), None, np.inf, "refraction"),
    ],
)
def test_impossible_input(key: str, eye: Biometry, main: float | None, target: float, words: str) -> None:
    """What no eye or lens can have is refused by every formula, with the rows."""
    constants = given_constants(key) if main is None else FormulaConstants(main=main)
    with pytest.raises(ImpossibleInputError, match=words):
        FORMULAS[key].power_d(eye, constants, target)


@pytest.mark.parametrize("key", KEYS)
def test_infinite_power(key: str) -> None:
    """An infinite power is no lens."""
    with pytest.raises(ImpossibleInputError, match="lens power"):
        FORMULAS[key].refraction_d(Biometry(23.0, 44.0, 3.0), given_constants(key), [20.0, np.inf])


def test_a_lens_behind_the_retina_is_refused() -> None:
    """A constant typed for another formula that puts the lens behind the retina is refused, not computed."""
    with pytest.raises(ImpossibleInputError, match=r"retina.*millimetres"):
        FORMULAS["holladay-1"].power_d(Biometry(23.4, 44.0), FormulaConstants(main=118.4), 0.0)


def test_a_chamber_as_deep_as_the_eye_is_refused() -> None:
    """An axial length in centimetres beside a chamber depth in millimetres is a contradiction."""
    with pytest.raises(ImpossibleInputError, match="as deep as the eye is long"):
        FORMULAS["haigis"].power_d(Biometry(2.34, 44.0, 3.0), given_constants("haigis"), 0.0)


def test_outside_range_is_told_not_refused() -> None:
    """An unusual length is computed and can be flagged; a missing one is not called unusual."""
    card = FORMULAS["holladay-1"]
    flags = outside_advised_range(card, Biometry([21.0, 24.0, 29.0, np.nan], 44.0))
    assert flags.tolist() == [True, False, True, False]
    assert np.isfinite(card.power_d(Biometry(29.0, 44.0), given_constants("holladay-1"), 0.0))


PINNED = {
    "srk-t": [29.081, 26.063, 22.964, 21.105, 19.747, 17.007, 13.534, 6.467],
    "t2": [29.275, 26.202, 23.009, 21.101, 19.719, 17.047, 13.824, 6.708],
    "holladay-1": [29.371, 26.243, 23.015, 21.116, 19.744, 17.098, 13.299, 5.795],
    "hoffer-q": [29.816, 26.419, 23.007, 21.036, 19.630, 16.765, 13.382, 5.852],
    "haigis": [31.398, 27.913, 24.395, 22.167, 20.605, 17.547, 14.026, 6.669],
    "srk-ii": [28.375, 25.550, 22.385, 20.971, 19.825, 17.100, 13.900, 7.200],
}


@pytest.mark.pinned
@pytest.mark.parametrize("key", KEYS)
def test_pinned_rows(key: str) -> None:
    """Eight eyes as two independent programs of these equations gave them; to notice a change, not evidence."""
    lengths = [20.5, 21.5, 22.6, 23.45, 24.2, 25.0, 26.5, 29.0]
    ks = [46.0, 45.25, 44.6, 43.81, 43.0, 43.25, 42.5, 43.0]
    depths = [2.7, 2.9, 3.22, 3.24, 3.3, 3.35, 3.5, 3.7]
    power = FORMULAS[key].power_d(Biometry(lengths, ks, depths), given_constants(key), -0.5)
    assert power == pytest.approx(PINNED[key], abs=0.0011)
