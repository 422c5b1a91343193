"""The belief is the exact conditional Gaussian of the stated model, and behaves as knowing should."""

import math
from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eye_people import LEFT, RIGHT, keratometry, lengths, person
from sideport.errors import ImpossibleInputError, KnowledgeError
from sideport.eye import COORDINATES, Coordinate, believe, populations
from sideport.eye.measurement import Measurement, Method, Quantity
from sideport.eye.method import METHODS, load_method_errors
from sideport.eye.person import EyeRecord, Sex
from sideport.eye.prior import load_prior
from sideport.knowledge import load_published

KNOWLEDGE = load_published()
SOUTH = "south_asian_cataract"
AL, K, J0, J45, ACD = (
    Coordinate.AXIAL_LENGTH,
    Coordinate.MEAN_K,
    Coordinate.J0,
    Coordinate.J45,
    Coordinate.CHAMBER_DEPTH,
)


def believed(*people, population=SOUTH):
    """Every reading taken for what it says; slips have their own tests."""
    return believe(people, population=population, knowledge=KNOWLEDGE, doubt=False)


def sds(belief, index=0):
    return np.sqrt(np.diagonal(belief.covariance[index]))


def dense(prior, errors, rows):
    """Textbook conditional by inverse, from rows of (weights (14,), value, method, coordinate, side)."""
    weights = np.array([row[0] for row in rows])
    value = np.array([row[1] - errors.bias[METHODS.index(row[2]), row[3]] for row in rows])
    noise = np.zeros((len(rows), len(rows)))
    for i, (_, _, method, coordinate, side) in enumerate(rows):
        for j, (_, _, other_method, other_coordinate, other_side) in enumerate(rows):
            at = METHODS.index(method), coordinate
            if method is other_method and coordinate == other_coordinate:
                noise[i, j] += errors.shared_variance[at]
                if side is other_side:
                    noise[i, j] += errors.session_variance[at]
            if i == j:
                noise[i, j] += errors.repeat_variance[at]
    mean = np.concatenate([prior.mean, prior.mean])
    cross = prior.covariance @ weights.T
    gain = cross @ np.linalg.inv(weights @ cross + noise)
    return mean + gain @ (value - weights @ mean), prior.covariance - gain @ cross.T


def unit(side, coordinate):
    found = np.zeros(14)
    found[int(coordinate) + (0 if side is RIGHT else 7)] = 1.0
    return found


def test_repeats_of_two_methods_in_both_eyes_agree_with_the_dense_formula_reading_by_reading():
    """Means of repeats must give what every single reading, with its shared errors, gives in one dense solve."""
    contact, optical = Method.CONTACT_ULTRASOUND, Method.OPTICAL
    right = lengths(RIGHT, [23.1, 23.3, 22.9]) + lengths(RIGHT, [23.4, 23.41], optical)
    left = lengths(LEFT, [24.0, 24.1]) + keratometry(LEFT, 44.0, 45.0, 90.0)
    belief = believed(person(right, left))
    rows = [(unit(RIGHT, AL), value, contact, AL, RIGHT) for value in (23.1, 23.3, 22.9)]
    rows += [(unit(RIGHT, AL), value, optical, AL, RIGHT) for value in (23.4, 23.41)]
    rows += [(unit(LEFT, AL), value, contact, AL, LEFT) for value in (24.0, 24.1)]
    manual = Method.MANUAL_KERATOMETER
    rows += [(unit(LEFT, K), 44.5, manual, K, LEFT), (unit(LEFT, J0), 0.5, manual, J0, LEFT)]
    rows += [(unit(LEFT, J45), 0.0, manual, J45, LEFT)]
    mean, covariance = dense(load_prior(SOUTH, KNOWLEDGE), load_method_errors(KNOWLEDGE), rows)
    np.testing.assert_allclose(belief.mean[0], mean, atol=1e-9)
    np.testing.assert_allclose(belief.covariance[0], covariance, atol=1e-9)


def test_one_meridian_with_its_axis_agrees_with_the_dense_formula():
    """The power along 30 degrees is mean + J0 cos 60 + J45 sin 60."""
    belief = believed(person(keratometry(RIGHT, 44.0, None, 30.0)))
    weights = unit(RIGHT, K) + math.cos(math.pi / 3) * unit(RIGHT, J0) + math.sin(math.pi / 3) * unit(RIGHT, J45)
    rows = [(weights, 44.0, Method.MANUAL_KERATOMETER, K, RIGHT)]
    mean, covariance = dense(load_prior(SOUTH, KNOWLEDGE), load_method_errors(KNOWLEDGE), rows)
    np.testing.assert_allclose(belief.mean[0], mean, atol=1e-9)
    np.testing.assert_allclose(belief.covariance[0], covariance, atol=1e-9)


@pytest.mark.parametrize("population", populations(KNOWLEDGE))
def test_nothing_read_leaves_the_prior_of_every_population(population):
    belief = believed(person(), population=population)
    prior = load_prior(population, KNOWLEDGE)
    np.testing.assert_array_equal(belief.mean[0], np.tile(prior.mean, 2))
    np.testing.assert_array_equal(belief.covariance[0], prior.covariance)


def test_people_do_not_touch_each_other_whatever_their_pattern_of_readings():
    """Believing all at once is believing each alone."""
    people = [
        person(),
        person(lengths(RIGHT, [23.0])),
        person(lengths(RIGHT, [25.0] * 5) + keratometry(RIGHT, 41.0, 42.0), lengths(LEFT, [24.8])),
        person(left=keratometry(LEFT, 46.0, None, None)),
    ]
    together = believed(*people)
    for index, one in enumerate(people):
        alone = believed(one)
        np.testing.assert_allclose(together.mean[index], alone.mean[0], atol=1e-12)
        np.testing.assert_allclose(together.covariance[index], alone.covariance[0], atol=1e-12)


@given(
    values=st.lists(st.floats(20.0, 28.0), min_size=1, max_size=6),
    more=st.floats(20.0, 28.0),
    method=st.sampled_from([Method.CONTACT_ULTRASOUND, Method.OPTICAL, Method.UNKNOWN]),
)
@settings(max_examples=40, deadline=None)
def test_one_more_reading_never_widens_any_quantity(values, more, method):
    few = believed(person(lengths(RIGHT, values, method)))
    many = believed(person(lengths(RIGHT, [*values, more], method)))
    assert (sds(many) <= sds(few) + 1e-12).all()


def test_the_order_of_readings_does_not_matter():
    readings = [*lengths(RIGHT, [23.0, 23.4]), *keratometry(RIGHT, 43.0, 44.5, 80.0)]
    expected = believed(person(readings)).mean
    for shuffled in permutations(readings):
        np.testing.assert_allclose(believed(person(shuffled)).mean, expected, atol=1e-12)


@given(axis=st.floats(0.0, 180.0), k1=st.floats(40.0, 47.0), k2=st.floats(40.0, 47.0), length=st.floats(21.0, 27.0))
@settings(max_examples=40, deadline=None)
def test_mirrored_readings_of_the_other_eye_give_the_mirrored_belief(axis, k1, k2, length):
    """Exchanging right and left with axes mirrored (a to 180 - a) exchanges the beliefs and turns the sign of J45."""
    seen = believed(person(keratometry(RIGHT, k1, k2, axis) + lengths(RIGHT, [length])))
    mirrored = believed(person(left=keratometry(LEFT, k1, k2, 180.0 - axis) + lengths(LEFT, [length])))
    sign = np.where(np.arange(7) == J45, -1.0, 1.0)
    np.testing.assert_allclose(seen.mean[0, :7], sign * mirrored.mean[0, 7:], atol=1e-9)
    np.testing.assert_allclose(seen.mean[0, 7:], sign * mirrored.mean[0, :7], atol=1e-9)


def test_an_oblique_cornea_makes_the_fellow_eye_expected_oblique_the_other_way():
    """Steep at 30 in the right eye speaks for steep at 150 in the left."""
    belief = believed(person(keratometry(RIGHT, 46.0, 43.0, 30.0)))
    assert belief.mean[0, J45] > 0.5
    assert belief.mean[0, 7 + J45] < -0.2


def test_fifty_contact_readings_do_not_undo_the_uncertainty_of_the_bias():
    """The limit is the spread of the bias without the repeat: sqrt(0.26^2 - 0.159^2) = 0.206 mm, prior aside."""
    errors = load_method_errors(KNOWLEDGE)
    row = METHODS.index(Method.CONTACT_ULTRASOUND)
    floor = errors.shared_variance[row, AL] + errors.session_variance[row, AL]
    prior = load_prior(SOUTH, KNOWLEDGE).covariance[AL, AL]
    found = sds(believed(person(lengths(RIGHT, [23.0] * 5000))))[AL]
    assert found == pytest.approx(math.sqrt(1.0 / (1.0 / floor + 1.0 / prior)), rel=1e-3)
    assert math.sqrt(floor) == pytest.approx(math.sqrt(0.26**2 - 0.159**2), rel=1e-9)


def test_contact_readings_are_lengthened_by_the_published_bias():
    """ademolapopoola2015: contact reads 0.20 mm short; a mean at the prior mean less 0.20 surprises nobody."""
    prior = load_prior(SOUTH, KNOWLEDGE)
    belief = believed(person(lengths(RIGHT, [prior.mean[AL] - 0.20])))
    assert belief.mean[0, AL] == pytest.approx(prior.mean[AL], abs=1e-12)


def test_a_fellow_eye_read_optically_leaves_the_published_difference_between_eyes():
    """interocular2258: 19.2% differ by 0.4 mm or more, 0.307 mm if normal; the prior takes a little off."""
    found = sds(believed(person(left=lengths(LEFT, [23.4], Method.OPTICAL))))[AL]
    assert found == pytest.approx(0.307, abs=0.012)


def test_a_pair_without_axes_tells_the_mean_and_nothing_of_the_direction():
    belief = believed(person(keratometry(RIGHT, 42.0, 46.0, None)))
    prior = load_prior(SOUTH, KNOWLEDGE)
    assert sds(belief)[K] < 0.5
    assert sds(belief)[J0] == pytest.approx(math.sqrt(prior.covariance[J0, J0]), rel=1e-12)


def test_a_meridian_without_axis_tells_less_than_a_pair():
    one = sds(believed(person(keratometry(RIGHT, 44.0, None, None))))[K]
    two = sds(believed(person(keratometry(RIGHT, 44.0, 44.0, None))))[K]
    none = sds(believed(person()))[K]
    assert two < one < none


def test_axis_of_the_second_meridian_alone_is_enough():
    """K2 at 180 says that K1 stands at 90."""
    full = keratometry(RIGHT, 44.0, 45.0, 90.0)
    half = [replace(full[0], axis_deg=None), full[1]]
    np.testing.assert_allclose(believed(person(half)).mean, believed(person(full)).mean, atol=1e-9)


def test_a_method_that_cannot_measure_the_quantity_counts_as_unknown():
    strange = believed(person(lengths(RIGHT, [24.0], Method.CALLIPER)))
    unknown = believed(person(lengths(RIGHT, [24.0], Method.UNKNOWN)))
    np.testing.assert_array_equal(strange.mean, unknown.mean)


def test_a_reading_that_is_nan_is_no_reading():
    np.testing.assert_array_equal(believed(person(lengths(RIGHT, [math.nan]))).mean, believed(person()).mean)


@pytest.mark.parametrize("value", [0.0, -23.0, math.inf])
def test_a_reading_that_cannot_be_is_refused_with_its_place(value):
    with pytest.raises(ImpossibleInputError, match=r"axial length .* right eye .* correct or remove"):
        believed(person(lengths(RIGHT, [value])))


def test_an_axis_beyond_180_is_refused():
    bad = Measurement(side=RIGHT, quantity=Quantity.K1, value=44.0, axis_deg=190.0)
    with pytest.raises(ImpossibleInputError, match="0 to 180"):
        believed(person([bad]))


def test_a_reading_filed_under_the_other_eye_is_refused():
    wrong = replace(person(), eyes=(EyeRecord(side=RIGHT, listed=True, measurements=tuple(lengths(LEFT, [23.0]))),))
    with pytest.raises(ImpossibleInputError, match="filed under the other"):
        believed(wrong)


def test_an_unknown_population_names_the_known_ones():
    with pytest.raises(KnowledgeError, match="germany_cataract"):
        believed(person(), population="atlantis")


def test_sex_moves_length_and_power_by_the_published_difference():
    """pan2011: men 23.68, women 23.23 mm; srilanka2021: men 43.80, women 44.61 D."""
    belief = believed(person(sex=Sex.MALE), person(sex=Sex.FEMALE), population="singapore_indian")
    shift = belief.mean[0] - belief.mean[1]
    assert shift[AL] == pytest.approx(0.45, abs=1e-9)
    assert shift[K] == pytest.approx(-0.81, abs=1e-9)
    assert (np.delete(shift, [AL, K, AL + 7, K + 7]) == 0).all()


def test_age_moves_length_as_printed():
    """pan2011: 23.53 mm in the forties, 23.25 at seventy and over, all 23.45."""
    belief = believed(person(age_years=45), person(age_years=80), population="singapore_indian")
    np.testing.assert_allclose(belief.mean[:, AL], [23.53, 23.25], atol=1e-9)


def test_one_eye_is_the_part_of_the_person():
    belief = believed(person(lengths(RIGHT, [23.0])), person(left=lengths(LEFT, [25.0])))
    part = belief.eyes([0, 1, 1], [RIGHT, LEFT, RIGHT])
    assert part.mean.shape == (3, len(COORDINATES))
    np.testing.assert_array_equal(part.mean[1], belief.mean[1, 7:])
    np.testing.assert_array_equal(part.covariance[1], belief.covariance[1, 7:, 7:])
    np.testing.assert_array_equal(part.covariance[2], belief.eye(1, RIGHT).covariance)
    with pytest.raises(ImpossibleInputError, match="one side a person"):
        belief.eyes([0], [])


def test_intervals_cover_as_often_as_they_say_on_people_drawn_from_the_model():
    """80% intervals cover 80% of 3,000 simulated truths, within 3 standard errors, for every kind of quantity."""
    rng = np.random.default_rng(20)
    prior, errors = load_prior(SOUTH, KNOWLEDGE), load_method_errors(KNOWLEDGE)
    size = 3000
    truth = rng.multivariate_normal(np.tile(prior.mean, 2), prior.covariance, size=size)
    people = [simulated(rng, row, errors) for row in truth]
    belief = believed(*people)
    half = 1.2815515655446004 * np.sqrt(np.diagonal(belief.covariance, axis1=1, axis2=2))
    covered = np.abs(truth - belief.mean) <= half
    for coordinate in (AL, K, J0, ACD, AL + 7, K + 7):
        assert abs(covered[:, coordinate].mean() - 0.8) < 3.0 * math.sqrt(0.8 * 0.2 / size), COORDINATES[coordinate % 7]


def simulated(rng, truth, errors):
    """A person measured by contact ultrasound and manual keratometer, some eyes unread."""
    contact, manual = METHODS.index(Method.CONTACT_ULTRASOUND), METHODS.index(Method.MANUAL_KERATOMETER)

    def draw(row, coordinate, shared, count):
        session = rng.normal(0.0, math.sqrt(errors.session_variance[row, coordinate]))
        repeats = rng.normal(0.0, math.sqrt(errors.repeat_variance[row, coordinate]), count)
        return errors.bias[row, coordinate] + shared[coordinate] + session + repeats

    shared_length = rng.normal(0.0, np.sqrt(errors.shared_variance[contact]))
    shared_power = rng.normal(0.0, np.sqrt(errors.shared_variance[manual]))
    sides = []
    for side, start in ((RIGHT, 0), (LEFT, 7)):
        found = []
        if rng.random() < 0.7:
            found += lengths(side, truth[start + AL] + draw(contact, AL, shared_length, int(rng.integers(1, 6))))
        if rng.random() < 0.7:
            mean, j0, j45 = (truth[start + c] + draw(manual, c, shared_power, 1)[0] for c in (K, J0, J45))
            half, axis = math.hypot(j0, j45), 0.5 * math.degrees(math.atan2(j45, j0)) % 180.0
            found += keratometry(side, mean + half, mean - half, axis)
        sides.append(found)
    return person(*sides)
