"""Readings that the rest contradicts are found, named and flagged; sound ones are left alone."""

import itertools
import re

import numpy as np
import pytest
from bench.blunder_bench import LARGE_D, try_population
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import multivariate_normal

from eye_people import LEFT, RIGHT, keratometry, lengths, person
from sideport.eye import Slip, believe, populations, quality_flags, summarise
from sideport.eye.evidence import block_ratio, gather_evidence, shift_ratio, swap_ratio
from sideport.eye.hypotheses import mended_power, transposed
from sideport.eye.measurement import Method
from sideport.eye.observation import observe_each, padded_chunks
from sideport.eye.readings import read_all
from sideport.eye.slip import load_slip_model
from sideport.eye.working import load_eye_model
from sideport.knowledge import Severity, load_published

KNOWLEDGE = load_published()
SOUTH = "south_asian_cataract"
OPTICAL, CONTACT = Method.OPTICAL, Method.CONTACT_ULTRASOUND
SLIPS = load_slip_model(KNOWLEDGE)
EYES = load_eye_model(SOUTH, KNOWLEDGE)


def believed(*people):
    return believe(people, population=SOUTH, knowledge=KNOWLEDGE)


def suspected(*arguments, **options):
    return believed(person(*arguments, **options)).suspicions


def flags(someone, side=RIGHT):
    belief = believed(someone)
    return [flag for flag in quality_flags([someone], belief, KNOWLEDGE)[0][side] if flag.code.startswith("slip-")]


CORNEAS = keratometry(RIGHT, 44.0, 44.5), keratometry(LEFT, 44.0, 44.6)
SOUND_LEFT = lengths(LEFT, [23.50, 23.41]) + CORNEAS[1]


def test_sound_readings_raise_nothing():
    assert suspected(lengths(RIGHT, [23.4, 23.5]) + CORNEAS[0], SOUND_LEFT) == ()


@pytest.mark.parametrize(
    ("right", "slip", "value", "mended"),
    [
        (lengths(RIGHT, [23.41, 23.45, 24.35, 23.40]) + CORNEAS[0], Slip.SWAPPED_DIGITS, 24.35, 23.45),
        (lengths(RIGHT, [32.41]) + CORNEAS[0], Slip.SWAPPED_DIGITS, 32.41, 23.41),
        (lengths(RIGHT, [2.345]) + CORNEAS[0], Slip.WRONG_UNIT, 2.345, 23.45),
        (lengths(RIGHT, [234.5]) + CORNEAS[0], Slip.WRONG_UNIT, 234.5, 23.45),
        (lengths(RIGHT, [23.4]) + keratometry(RIGHT, 34.5, 43.75), Slip.SWAPPED_DIGITS, 34.5, 43.5),
        (lengths(RIGHT, [23.4]) + keratometry(RIGHT, 7.5, None), Slip.WRONG_UNIT, 7.5, 45.0),
    ],
)
def test_one_reading_is_named_with_its_slip_and_what_it_would_be(right, slip, value, mended):
    (found,) = suspected(right, SOUND_LEFT)
    (reading,) = found.readings
    assert (found.slip, reading.value, found.set_apart) == (slip, value, True)
    assert reading.mended == pytest.approx(mended)
    assert reading.side is RIGHT


def test_a_set_in_centimetres_is_one_slip():
    (found,) = suspected(lengths(RIGHT, [2.34, 2.35, 2.36]) + CORNEAS[0], SOUND_LEFT)
    assert found.slip is Slip.WRONG_UNIT
    assert [reading.mended for reading in found.readings] == pytest.approx([23.4, 23.5, 23.6])


def test_radius_for_power_in_both_eyes_is_one_slip_of_the_register():
    right, left = keratometry(RIGHT, 7.67, 7.55), keratometry(LEFT, 7.70, 7.60)
    (found,) = suspected(lengths(RIGHT, [23.4]) + right, lengths(LEFT, [23.5]) + left)
    assert (found.slip, found.sides, len(found.readings)) == (Slip.WRONG_UNIT, (RIGHT, LEFT), 4)
    assert found.readings[0].mended == pytest.approx(337.5 / 7.67)


def test_a_contact_set_far_too_short_stops_the_eye_and_widens_the_belief():
    someone = person(lengths(RIGHT, [21.8, 21.9, 21.7]) + CORNEAS[0], SOUND_LEFT)
    (found,) = believed(someone).suspicions
    assert found.slip is Slip.SHORT_CONTACT
    (flag,) = flags(someone)
    assert flag.severity is Severity.STOP
    assert "21.70 to 21.90 mm" in flag.message
    assert "immersion" in flag.action
    plain = believe([someone], population=SOUTH, knowledge=KNOWLEDGE, doubt=False)
    assert believed(someone).covariance[0, 0, 0] > 2 * plain.covariance[0, 0, 0]


def test_eyes_exchanged_between_two_methods_are_named_as_both_sets():
    """Which of the two sets is the wrong one the readings cannot say, and the suspicion does not pretend to."""
    right = lengths(RIGHT, [24.8] * 5) + lengths(RIGHT, [23.4], OPTICAL)
    left = lengths(LEFT, [23.2] * 5) + lengths(LEFT, [25.0], OPTICAL)
    (found,) = suspected(right, left)
    assert found.slip is Slip.SWAPPED_EYES
    assert found.probability_any > 0.99
    assert found.probability == pytest.approx(0.5, abs=0.05)
    assert "exchanged" in found.rival
    assert not found.set_apart
    assert {one.side for one in found.possibilities} == {RIGHT, LEFT}


def test_another_patients_sheet_is_named():
    right = lengths(RIGHT, [23.0], OPTICAL) + lengths(RIGHT, [25.6]) + CORNEAS[0]
    left = lengths(LEFT, [23.1], OPTICAL) + lengths(LEFT, [25.5]) + CORNEAS[1]
    (found,) = suspected(right, left)
    assert found.slip is Slip.WRONG_PATIENT


def test_two_slips_of_one_person_are_both_found():
    found = suspected(lengths(RIGHT, [32.41]) + CORNEAS[0], lengths(LEFT, [23.5]) + keratometry(LEFT, 7.6, 7.5))
    assert {(one.slip, one.sides) for one in found} == {(Slip.SWAPPED_DIGITS, (RIGHT,)), (Slip.WRONG_UNIT, (LEFT,))}


@pytest.mark.parametrize("longer", [28.5, 30.0])
def test_truly_long_eyes_are_not_called_slips(longer):
    """Two methods agree on both eyes; an axial length of 30 mm is 6 standard deviations from this population's mean."""
    both = [lengths(side, [longer - 0.2], CONTACT) + lengths(side, [longer], OPTICAL) for side in (RIGHT, LEFT)]
    assert suspected(*both) == ()


def test_what_is_set_apart_does_not_move_the_belief():
    """A certain slip leaves the belief as if the reading had never been taken."""
    rest = lengths(RIGHT, [23.4, 23.5]) + CORNEAS[0]
    wrong = [*rest, *[reading for reading in lengths(RIGHT, [0, 0, 43.4]) if reading.value]]
    found, without = believed(person(wrong, SOUND_LEFT)), believed(person(rest, SOUND_LEFT))
    assert found.suspicions[0].set_apart
    np.testing.assert_allclose(found.mean, without.mean, atol=1e-12)
    np.testing.assert_allclose(found.covariance, without.covariance, atol=1e-12)


def test_the_summary_says_what_was_set_apart():
    someone = person(lengths(RIGHT, [23.41, 23.45, 24.35, 23.40]), SOUND_LEFT)
    belief = believed(someone)
    eye = belief.eye(0, RIGHT)
    found = summarise(someone, RIGHT, eye.mean, eye.covariance, belief.suspicions_of(0)).axial_length_mm
    assert found.readings == 3
    assert found.origin == "3 contact ultrasound readings; 1 reading set apart: looks like swapped digits"


def test_a_flag_tells_readings_slip_effect_and_action():
    (flag,) = flags(person(lengths(RIGHT, [25.32]) + CORNEAS[0], SOUND_LEFT))
    assert flag.severity is Severity.STOP
    for part in ("25.32 mm", "swapped digits", "23.52 mm", "this RIGHT eye would be about", "widened"):
        assert part in flag.message
    assert "original sheet" in flag.action
    assert flag.source in KNOWLEDGE.sources


def test_a_slip_of_an_unlisted_fellow_eye_is_told_of_the_listed_one():
    someone = person(lengths(RIGHT, [23.4]) + CORNEAS[0], lengths(LEFT, [32.5]) + CORNEAS[1])
    (flag,) = flags(someone)
    assert (flag.code, flag.severity) == ("slip-fellow-eye", Severity.WARN)
    assert "Left eye's axial length of 32.50 mm" in flag.message
    assert flags(someone, LEFT) == []


LONG, SHORT = [25.40, 25.31, 25.43], [23.24, 23.20, 23.20]


def mirrored():
    """By contact 25.4 and 23.2, optically 25.4 in the left alone: one short set, or the eyes exchanged."""
    left = lengths(LEFT, SHORT) + lengths(LEFT, [25.42], OPTICAL) + CORNEAS[1]
    return person(lengths(RIGHT, LONG) + CORNEAS[0], left, listed=(RIGHT,))


def test_exchanged_eyes_are_told_by_what_they_mean_for_the_listed_eye():
    """The eye whose own readings look sound hears what it would be, and what lens it would need."""
    (flag,) = flags(mirrored())
    assert flag.severity is Severity.STOP
    told = "If the two eyes' readings were exchanged, this RIGHT eye would be about 23.3 mm, not 25.5 mm"
    assert re.match(told + r", and need about \+2\d D, not \+1\d D\.", flag.message)
    assert "the lens changes by" not in flag.message


def test_the_belief_holds_exchanged_eyes_as_well_where_they_have_a_chance():
    """Both lengths of the right eye lie within one and a half standard deviations, though leaving out tells one."""
    belief = believed(mirrored())
    centre, sd = belief.mean[0, 0], np.sqrt(belief.covariance[0, 0, 0])
    assert abs(25.4 - centre) < 1.5 * sd
    assert abs(23.4 - centre) < 1.5 * sd
    (one,) = belief.suspicions[0].possibilities
    assert (one.side, one.slip) == (RIGHT, Slip.SWAPPED_EYES)
    spread = one.probability * (1 - one.probability) * (one.otherwise_mm - one.as_read_mm) ** 2
    assert sd**2 >= 0.9 * spread


def test_a_contact_set_two_millimetres_short_is_rarer_than_exchanged_eyes():
    (found,) = believed(mirrored()).suspicions
    assert found.slip is Slip.SWAPPED_EYES
    assert found.probability > 0.5
    assert not found.set_apart


def test_eyes_that_truly_differ_are_not_pulled_together():
    """The sets put back: 23.2 by contact and 25.4 by two methods; the reading plus its bias of 0.2 mm is believed."""
    right = lengths(RIGHT, SHORT) + CORNEAS[0]
    belief = believed(person(right, lengths(LEFT, LONG) + lengths(LEFT, [25.42], OPTICAL) + CORNEAS[1]))
    assert belief.suspicions == ()
    assert belief.mean[0, 0] == pytest.approx(np.mean(SHORT) + 0.2, abs=0.15)
    assert belief.mean[0, 7] == pytest.approx(25.42, abs=0.05)
    assert np.sqrt(belief.covariance[0, 0, 0]) > 0.15


def test_eyes_that_agree_are_believed_by_the_gaussian_alone():
    someone = person(lengths(RIGHT, [23.4]) + CORNEAS[0], SOUND_LEFT)
    plain = believe([someone], population=SOUTH, knowledge=KNOWLEDGE, doubt=False)
    np.testing.assert_array_equal(believed(someone).covariance, plain.covariance)


def test_a_short_contact_set_is_told_as_two_possibilities():
    """A blend of two lengths is said to be one, in the origin of the estimate and on the flag."""
    right = lengths(RIGHT, [21.86, 21.89, 21.84, 21.93, 21.84]) + CORNEAS[0]
    someone = person(right, lengths(LEFT, [23.34, 23.34, 23.39, 23.35, 23.42]) + CORNEAS[1])
    belief = believed(someone)
    eye = belief.eye(0, RIGHT)
    found = summarise(someone, RIGHT, eye.mean, eye.covariance, belief.suspicions_of(0)).axial_length_mm
    words = "two possibilities: 22.1 mm as read, or about 23.6 mm if the probe pressed: measure again before choosing"
    assert words in found.origin
    (flag,) = flags(someone)
    assert flag.severity is Severity.STOP
    assert flag.message.startswith("If the probe pressed, this RIGHT eye would be about 23.6 mm, not 22.1 mm")


def test_a_contact_length_far_shorter_than_the_fellow_stops_the_eye_even_where_it_may_be_true():
    someone = person(lengths(RIGHT, SHORT) + CORNEAS[0], lengths(LEFT, LONG) + CORNEAS[1])
    found = quality_flags([someone], believed(someone), KNOWLEDGE)[0]
    assert ("axial-length-contact-short", Severity.STOP) in {(flag.code, flag.severity) for flag in found[RIGHT]}
    assert Severity.STOP not in {flag.severity for flag in found[LEFT]}


def test_doubting_one_person_leaves_others_alone():
    odd = person(lengths(RIGHT, [32.41]) + CORNEAS[0], SOUND_LEFT)
    sound = person(lengths(RIGHT, [23.4]) + CORNEAS[0], SOUND_LEFT)
    together = believed(sound, odd, sound)
    assert [one.person for one in together.suspicions] == [1]
    np.testing.assert_allclose(together.mean[1], believed(odd).mean[0], atol=1e-9)
    np.testing.assert_allclose(together.mean[2], believed(sound).mean[0], atol=1e-9)


@given(value=st.floats(10.0, 99.99).map(lambda number: round(number, 2)), digit=st.integers(0, 2))
@settings(max_examples=200, deadline=None)
def test_transposing_digits_twice_gives_the_reading_back(value, digit):
    once = transposed(np.array([value]), digit)
    if not np.isnan(once[0]):
        assert transposed(once, digit)[0] == pytest.approx(value)
        assert sorted(f"{value:05.2f}") == sorted(f"{once[0]:05.2f}")


def test_mending_a_radius_is_its_own_inverse():
    np.testing.assert_allclose(mended_power(mended_power(np.array([7.7, 43.0]))), [7.7, 43.0])


def weighed(*people):
    """Evidence of a few people, with the dense Gaussian mixture of the same model beside it."""
    seen = observe_each(read_all(people), meridian_variance=EYES.prior.meridian_variance).seen
    (part,) = padded_chunks(seen, errors=EYES.errors, size=10)
    mean = np.tile(EYES.prior.mean, 2)
    evidence = gather_evidence(part, mean=np.tile(mean, (len(people), 1)), prior=EYES.prior.covariance, slips=SLIPS)

    def dense(observed, design, extra=None):
        total = np.zeros(len(SLIPS.tail_scale))
        for tail, (share, scale, along) in enumerate(
            zip(np.exp(SLIPS.tail_log_share), SLIPS.tail_scale, SLIPS.tail_direction, strict=True)
        ):
            prior = EYES.prior.covariance.copy()
            if along.any():
                variance = along @ prior @ along / 4.0
                prior += (scale**2 - 1.0) * variance * np.outer(along, along)
            spread = design @ prior @ design.T + part.noise[0] + (0.0 if extra is None else extra)
            total[tail] = share * multivariate_normal(design @ mean, spread).pdf(observed)
        return float(np.log(total.sum()))

    return evidence, part, dense


SEVERAL = person(lengths(RIGHT, [23.4, 24.6]) + CORNEAS[0], lengths(LEFT, [22.9]) + CORNEAS[1])


def test_the_likelihood_ratio_of_a_shift_agrees_with_the_dense_mixture():
    """Rank-one updates against scipy's multivariate_normal, tail by tail, for a known and for an unknown amount."""
    evidence, part, dense = weighed(SEVERAL)
    change = np.zeros(part.observed.shape[1])
    change[:2] = 1.0
    observed, design = part.observed[0], part.design[0]
    for amount, variance in ((0.7, 0.0), (1.0, 0.25), (0.0, 4.0)):
        found = shift_ratio(
            evidence, row=np.array([0]), change=change[None], amount=np.array([amount]), variance=np.array([variance])
        )
        wide = variance * np.outer(change, change)
        expected = dense(observed + amount * change, design, wide) - dense(observed, design)
        assert found[0] == pytest.approx(expected, abs=1e-8)


def test_the_likelihood_ratio_of_exchanged_eyes_agrees_with_the_dense_mixture():
    evidence, part, dense = weighed(SEVERAL)
    swapped = np.zeros((1, part.observed.shape[1]), dtype=bool)
    length = np.flatnonzero((part.design[0][:, 0] != 0) | (part.design[0][:, 7] != 0))
    swapped[0, length] = True
    turned = part.design[0].copy()
    turned[length] = np.roll(turned[length], 7, axis=1)
    expected = dense(part.observed[0], turned) - dense(part.observed[0], part.design[0])
    assert swap_ratio(evidence, row=np.array([0]), swapped=swapped)[0] == pytest.approx(expected, abs=1e-8)


def test_a_set_of_another_person_is_as_likely_as_two_people_apart():
    """p(set) p(rest) / p(all), the first two from the prior without tails."""
    evidence, part, dense = weighed(SEVERAL)
    inside = part.design[0][:, [0, 7]].any(axis=1)
    centre = part.design[0] @ np.tile(EYES.prior.mean, 2)
    spread = part.design[0] @ EYES.prior.covariance @ part.design[0].T + part.noise[0]
    apart = sum(
        multivariate_normal(centre[which], spread[np.ix_(which, which)]).logpdf(part.observed[0][which])
        for which in (inside, ~inside)
    )
    found = block_ratio(evidence, row=np.array([0]), inside=inside[None])
    assert found[0] == pytest.approx(apart - dense(part.observed[0], part.design[0]), abs=1e-8)


@pytest.mark.parametrize("population", populations(KNOWLEDGE))
def test_planted_slips_are_found_and_sound_people_left_alone(population):
    """A small run of the bench: 95% of slips that move the lens by 3 D are found, under 3% of sound people flagged."""
    trial = try_population(population, 2500, seed=21)
    large = trial.move_d >= LARGE_D
    assert large.sum() > 60
    assert trial.found[large].mean() >= 0.95
    assert trial.false_share < 0.03
    assert trial.odd_share < 0.05


def test_no_test_beats_the_best_possible_one():
    """Averaged over the smaller slips, what is found stays below the likelihood ratio with the truth known."""
    trial = try_population(SOUTH, 4000, seed=22)
    known = ~np.isnan(trial.best)
    for low, high in itertools.pairwise((0.0, 1.0, 3.0, np.inf)):
        inside = known & (trial.move_d >= low) & (trial.move_d < high)
        allowance = 2.0 * np.sqrt(0.25 / max(inside.sum(), 1))
        assert trial.found[inside].mean() <= trial.best[inside].mean() + allowance
