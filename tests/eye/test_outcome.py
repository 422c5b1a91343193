"""Refractions tell length and power: a known implant much, an eye with a cataract a little."""

import numpy as np
import pytest

from eye_people import LEFT, RIGHT, keratometry, lengths, person
from sideport.errors import ImpossibleInputError
from sideport.eye import believe, summarise
from sideport.eye.measurement import Method
from sideport.eye.outcome import implanted_slopes, load_outcome_model, phakic_slopes
from sideport.eye.prior import load_prior
from sideport.knowledge import load_published

KNOWLEDGE = load_published()
SOUTH = "south_asian_cataract"
MODEL = load_outcome_model(KNOWLEDGE)


def believed(*people):
    return believe(people, population=SOUTH, knowledge=KNOWLEDGE)


def sd(belief, place):
    return float(np.sqrt(belief.covariance[0, place, place]))


def test_the_phakic_regression_reproduces_the_published_correlations_and_spread():
    """reykjavik2007: r of refraction with length -0.59 and power -0.16; nangia2010: spread 1.48 D. By simulation."""
    per_mm, per_d, left = phakic_slopes(KNOWLEDGE)
    rng = np.random.default_rng(5)
    cross = -0.44 * 0.91 * 1.71
    eye = rng.multivariate_normal([0, 0], [[0.91**2, cross], [cross, 1.71**2]], size=400_000)
    refraction = per_mm * eye[:, 0] + per_d * eye[:, 1] + left * rng.standard_normal(len(eye))
    found = np.corrcoef(np.column_stack([refraction, eye]).T)[0]
    assert found[1] == pytest.approx(-0.59, abs=0.01)
    assert found[2] == pytest.approx(-0.16, abs=0.01)
    assert refraction.std() == pytest.approx(1.48, abs=0.01)


def test_an_implanted_eye_moves_about_as_the_textbook_says():
    """textbook_biometry: 2.35 D/mm at 23.5 mm (formulas differ by 0.25) and 0.8 to 1.0 D a dioptre of keratometry."""
    _, by_length, by_power, _ = implanted_slopes(
        *(np.array([value]) for value in (23.5, 43.8, 21.0, 118.4)), model=MODEL
    )
    assert by_length[0] == pytest.approx(-2.35, abs=0.25)
    assert -1.0 < by_power[0] < -0.8


def test_a_short_sighted_eye_is_expected_longer_but_only_a_little_surer():
    belief = believed(person(refraction={RIGHT: -8.0}))
    alone = believed(person())
    assert belief.mean[0, 0] > alone.mean[0, 0] + 0.5
    assert 0.75 * sd(alone, 0) < sd(belief, 0) < sd(alone, 0)


def test_a_known_implant_and_its_result_tell_the_length_of_both_eyes():
    """A 12 D lens that left -0.5 D speaks for a long eye; the fellow eye follows by the published agreement."""
    told = person(left=keratometry(LEFT, 44.0, 44.5), refraction={LEFT: -0.5}, implanted={LEFT: (12.0, 118.4)})
    belief, without = believed(told), believed(person(left=keratometry(LEFT, 44.0, 44.5)))
    assert belief.mean[0, 7] > without.mean[0, 7] + 1.5
    assert belief.mean[0, 0] > without.mean[0, 0] + 1.5
    assert sd(belief, 7) < 0.45
    assert sd(belief, 0) < 0.6


def test_the_length_behind_a_result_comes_back():
    """A result made for a known eye by the model's own relation gives that eye's length when the cornea is known."""
    truth = 25.0
    value, *_ = implanted_slopes(*(np.array([v]) for v in (truth, 44.25, 15.0, 118.4)), model=MODEL)
    someone = person(
        keratometry(RIGHT, 44.25, 44.25, 90.0, Method.OPTICAL) * 4,
        refraction={RIGHT: float(value[0])},
        implanted={RIGHT: (15.0, 118.4)},
    )
    assert believed(someone).mean[0, 0] == pytest.approx(truth, abs=0.3)


def test_an_implant_of_unknown_model_tells_less():
    known, unknown = (
        believed(person(refraction={RIGHT: 0.0}, implanted={RIGHT: (21.0, constant)})) for constant in (118.2, None)
    )
    assert sd(known, 0) < sd(unknown, 0) < sd(believed(person()), 0)


def test_a_refraction_of_an_eye_that_may_have_been_operated_on_is_not_used():
    """The fellow eye is not listed and nothing says that it has a cataract."""
    np.testing.assert_array_equal(believed(person(refraction={LEFT: -8.0})).mean, believed(person()).mean)


def test_the_linear_update_agrees_with_weighing_draws_from_the_prior():
    """Importance weights on 400,000 draws: mean within 0.15 mm, spread within 15% for a result 4 D from the usual."""
    prior = load_prior(SOUTH, KNOWLEDGE)
    rng = np.random.default_rng(8)
    draws = rng.multivariate_normal(prior.mean[:2], prior.covariance[:2, :2], size=400_000)
    expected, *_ = implanted_slopes(
        draws[:, 0], draws[:, 1], np.full(len(draws), 21.0), np.full(len(draws), 118.4), model=MODEL
    )
    weight = np.exp(-0.5 * (expected + 4.0) ** 2 / MODEL.implanted_variance)
    mean = float(np.average(draws[:, 0], weights=weight))
    spread = float(np.sqrt(np.average((draws[:, 0] - mean) ** 2, weights=weight)))
    belief = believed(person(refraction={RIGHT: -4.0}, implanted={RIGHT: (21.0, 118.4)}))
    assert belief.mean[0, 0] == pytest.approx(mean, abs=0.15)
    assert sd(belief, 0) == pytest.approx(spread, rel=0.15)


def test_people_with_and_without_refractions_do_not_touch_each_other():
    people = [
        person(lengths(RIGHT, [23.0])),
        person(refraction={RIGHT: -3.0}),
        person(),
        person(left=lengths(LEFT, [24.0] * 3), refraction={LEFT: 0.5}, implanted={LEFT: (20.0, None)}),
    ]
    together = believed(*people)
    for index, one in enumerate(people):
        np.testing.assert_allclose(together.mean[index], believed(one).mean[0], atol=1e-9)


def test_the_summary_says_that_a_refraction_helped():
    someone = person(refraction={LEFT: -0.5}, implanted={LEFT: (12.0, 118.4)})
    eye = believed(someone).eye(0, RIGHT)
    assert summarise(someone, RIGHT, eye.mean, eye.covariance).axial_length_mm.origin == (
        "population only, with the result of the lens implanted in the fellow eye"
    )


def test_an_infinite_refraction_is_refused():
    with pytest.raises(ImpossibleInputError, match="infinite refraction"):
        believed(person(refraction={RIGHT: float("inf")}))
