"""The priors are the published numbers, consistent with each other."""

import math

import numpy as np
import pytest

from sideport.errors import KnowledgeError
from sideport.eye import COORDINATES, Coordinate, populations
from sideport.eye.method import METHODS, load_method_errors, split_variance
from sideport.eye.prior import astigmatism_beyond, both_eyes, load_prior
from sideport.knowledge import load_published

KNOWLEDGE = load_published()
EVERY = populations(KNOWLEDGE)


def test_the_named_populations_are_there():
    wanted = {"south_asian_cataract", "central_india_rural", "singapore_indian", "germany_cataract", "china_cataract"}
    assert wanted | {"west_africa"} == set(EVERY)


@pytest.mark.parametrize("population", EVERY)
def test_covariance_is_positive_definite_and_mirror_symmetric(population):
    covariance = load_prior(population, KNOWLEDGE).covariance
    assert np.linalg.eigvalsh(covariance).min() > 1e-4
    mirror = np.where(np.arange(14) % 7 == Coordinate.J45, -1.0, 1.0)
    exchanged = np.roll(np.roll(covariance, 7, 0), 7, 1) * np.outer(mirror, mirror)
    np.testing.assert_allclose(exchanged, covariance, atol=1e-14)


@pytest.mark.parametrize("population", EVERY)
def test_spreads_and_correlation_of_length_and_power_are_as_entered(population):
    covariance = load_prior(population, KNOWLEDGE).covariance
    length = KNOWLEDGE.number(f"populations.{population}.axial_length.mean")
    assert math.sqrt(covariance[0, 0]) == pytest.approx(length.spread, rel=1e-12)
    correlation = covariance[0, 1] / math.sqrt(covariance[0, 0] * covariance[1, 1])
    entered = KNOWLEDGE.value(f"populations.{population}.correlation.axial_length_mean_k")
    assert correlation == pytest.approx(entered, rel=1e-12)


@pytest.mark.parametrize("population", EVERY)
def test_drawn_corneas_have_the_published_astigmatism(population):
    """Mean magnitude within 1%, shares of the kinds of axis within 3 points, from 200,000 draws."""
    prior = load_prior(population, KNOWLEDGE)
    rng = np.random.default_rng(5)
    j0 = rng.normal(prior.mean[2], math.sqrt(prior.covariance[2, 2]), 200_000)
    j45 = rng.normal(0.0, math.sqrt(prior.covariance[3, 3]), 200_000)
    number = KNOWLEDGE.number(f"populations.{population}.astigmatism.magnitude")
    assert np.mean(2.0 * np.hypot(j0, j45)) == pytest.approx(number.value, rel=0.01)
    oblique = np.abs(j45) > math.tan(math.pi / 3) * np.abs(j0)
    share = {name: KNOWLEDGE.value(f"populations.{population}.astigmatism.{name}") for name in
             ("with_rule", "against_rule", "oblique")}  # fmt: skip
    whole = sum(share.values())
    assert np.mean(oblique) == pytest.approx(share["oblique"] / whole, abs=0.03)
    assert np.mean(~oblique & (j0 < 0)) == pytest.approx(share["with_rule"] / whole, abs=0.03)


@pytest.mark.parametrize("population", EVERY)
def test_eyes_differ_as_often_as_published(population):
    """interocular2258: 19.2% by 0.4 mm of length, 4.5% by 1 D of power."""
    covariance = load_prior(population, KNOWLEDGE).covariance
    for coordinate, limit, share in ((0, 0.4, 0.192), (1, 1.0, 0.045)):
        sd = math.sqrt(2.0 * (covariance[coordinate, coordinate] - covariance[coordinate, coordinate + 7]))
        assert math.erfc(limit / sd / math.sqrt(2.0)) == pytest.approx(share, abs=1e-9)


def test_spread_of_lens_power_follows_from_length_and_power():
    """natung2019 prints 2.79 D; slopes of the oldest regression (2.5 a mm, 0.9 a D; recalled), within 15%."""
    covariance = load_prior("south_asian_cataract", KNOWLEDGE).covariance[:2, :2]
    slopes = np.array([2.5, 0.9])
    assert math.sqrt(slopes @ covariance @ slopes) == pytest.approx(2.79, rel=0.15)


@pytest.mark.parametrize(("population", "printed"), [("germany_cataract", 2.6), ("central_india_rural", 4.56)])
def test_very_astigmatic_corneas_are_rarer_in_the_prior_than_in_life(population, printed):
    """hoffmann2010 and prasher2017 print 2.6% and 4.56% above 3 D: a disagreement that is known and documented."""
    assert 0.0 < astigmatism_beyond(population=population, limit_d=3.0) < printed


def test_axes_of_fellow_eyes_are_nearer_to_mirror_images_than_to_copies():
    """mirroraxes2008: median difference 10 degrees mirrored, 20 as read, where both eyes have 0.25 D; within 6 here.

    The published sample is of refractions, with more with-the-rule axes than corneas with cataract have.
    """
    prior = load_prior("germany_cataract", KNOWLEDGE)
    drawn = np.random.default_rng(8).multivariate_normal(np.tile(prior.mean, 2), prior.covariance, size=40_000)
    drawn = drawn[(np.hypot(drawn[:, 2], drawn[:, 3]) >= 0.125) & (np.hypot(drawn[:, 9], drawn[:, 10]) >= 0.125)]
    right, left = (np.degrees(0.5 * np.arctan2(drawn[:, at + 3], drawn[:, at + 2])) for at in (0, 7))
    mirrored, direct = (np.median(np.abs((right - sign * left + 90.0) % 180.0 - 90.0)) for sign in (-1.0, 1.0))
    assert mirrored == pytest.approx(KNOWLEDGE.value("populations.between_eyes.j45.mirrored_axis_difference"), abs=6.0)
    assert direct == pytest.approx(KNOWLEDGE.value("populations.between_eyes.j45.direct_axis_difference"), abs=6.0)


def test_contradictory_numbers_are_refused():
    within = np.eye(len(COORDINATES))
    with pytest.raises(KnowledgeError, match="contradict"):
        both_eyes(within, 5.0 * within, "nowhere")


def test_the_parts_of_every_method_add_up_to_its_published_spread():
    errors = load_method_errors(KNOWLEDGE)
    total = errors.shared_variance + errors.session_variance + errors.repeat_variance
    assert (errors.shared_variance >= 0).all()
    assert (errors.session_variance >= 0).all()
    names = [name.value for name in METHODS]
    assert math.sqrt(total[names.index("contact ultrasound"), 0]) == pytest.approx(0.26)
    assert math.sqrt(total[names.index("manual keratometer"), 1]) == pytest.approx(0.34)
    assert not errors.measures[names.index("calliper"), 0]
    assert errors.measures[names.index("calliper"), 6]


def test_precision_ranks_the_methods_of_length():
    errors = load_method_errors(KNOWLEDGE)
    total = (errors.shared_variance + errors.session_variance + errors.repeat_variance)[:, 0]
    spread = dict(zip((method.value for method in METHODS), total, strict=True))
    assert spread["optical"] < spread["immersion ultrasound"] < spread["contact ultrasound"] < spread["unknown"]


def test_a_repeat_wider_than_its_session_is_refused():
    stem = "measurement_methods.optical.axial_length"
    numbers = dict(KNOWLEDGE.numbers)
    repeat = numbers[f"{stem}.repeat_sd"]
    numbers[f"{stem}.repeat_sd"] = type(repeat)(**{
        field: getattr(repeat, field) for field in repeat.__dataclass_fields__} | {"value": 1.0})  # fmt: skip
    wrong = type(KNOWLEDGE)(version="x", numbers=numbers, sources=KNOWLEDGE.sources)
    with pytest.raises(KnowledgeError, match="no less than"):
        split_variance(stem, wrong)
