"""Own records, the ladder, and the harm budget of the day."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sideport.errors import ImpossibleInputError
from sideport.knowledge import load_published
from sideport.optics.side import Side
from sideport.risk import Case, Grade, OwnResults, Surgeon, assign_operators, calibrate, lowest_grade, operator_effect
from sideport.risk.harm import budget_for, senior_tears
from sideport.wound.technique import Technique

KNOWLEDGE = load_published()
MANUAL = frozenset({Technique.MSICS})
LEAD = Surgeon("Lead", Grade.SENIOR, MANUAL, supervises=True)
SECOND = Surgeon("Second", Grade.EXPERIENCED, MANUAL)
TRAINEE = Surgeon("Trainee", Grade.TRAINEE, MANUAL, cases_wanted=9)
NOVICE = Surgeon("Novice", Grade.NOVICE, MANUAL, cases_wanted=9)
TEAM = (LEAD, SECOND, TRAINEE, NOVICE)
ODDS = {"Lead": 1.0, "Second": 1.3, "Trainee": 1.6, "Novice": 3.73}
SETTING = calibrate(
    model="narendran2009", technique=Technique.MSICS, own=OwnResults(150, 10_000, ""), knowledge=KNOWLEDGE
)


def case(odds=1.0, **more):
    tears = {name: 0.01 * odds * ratio for name, ratio in ODDS.items()}
    return Case(Technique.MSICS, Side.RIGHT, odds, tears=tears, **more)


def excess(cases, advice):
    known = [(eye, one) for eye, one in zip(cases, advice, strict=True) if one.name]
    reference = sum(senior_tears(case=eye, team=TEAM, knowledge=KNOWLEDGE) for eye, _ in known)
    return sum(eye.tears[one.name] for eye, one in known) - reference, reference


def test_a_record_like_the_grades_changes_nothing():
    """Tears at the rate expected of the grade here leave the odds at the grade's."""
    plain = operator_effect(surgeon=LEAD, calibration=SETTING, knowledge=KNOWLEDGE)
    alike = Surgeon("Lead", Grade.SENIOR, MANUAL, operations=100_000, capsule_tears=round(1e5 * plain.expected_rate))
    found = operator_effect(surgeon=alike, calibration=SETTING, knowledge=KNOWLEDGE)
    assert plain.own is None
    assert found.odds_ratio == pytest.approx(plain.odds_ratio, rel=0.01)
    assert found.log_odds_sd < plain.log_odds_sd


@pytest.mark.parametrize(("tears", "worse"), [(0, False), (30, True)])
def test_a_record_moves_the_odds_its_own_way_but_not_all_the_way(tears, worse):
    surgeon = Surgeon("S", Grade.SENIOR, MANUAL, operations=500, capsule_tears=tears)
    found = operator_effect(surgeon=surgeon, calibration=SETTING, knowledge=KNOWLEDGE)
    raw = tears / 500
    assert (found.odds_ratio > 1) is worse
    assert abs(found.rate.mean - found.expected_rate) < abs(raw - found.expected_rate)
    assert f"{tears} tears in 500" in found.words


def test_three_tears_in_a_few_cases_do_not_condemn():
    """With 20 operations the grade still weighs more than the record."""
    surgeon = Surgeon("S", Grade.TRAINEE, MANUAL, operations=20, capsule_tears=3)
    found = operator_effect(surgeon=surgeon, calibration=SETTING, knowledge=KNOWLEDGE)
    assert found.expected_rate < found.rate.mean < 0.5 * (found.expected_rate + 3 / 20)


@pytest.mark.parametrize(
    ("eye", "grade"),
    [
        (case(1.0), Grade.NOVICE),
        (case(2.5), Grade.TRAINEE),
        (case(5.0), Grade.EXPERIENCED),
        (case(7.0), Grade.SENIOR),
        (case(1.0, ladder=2.0), Grade.EXPERIENCED),
        (case(1.0, only_eye=True), Grade.SENIOR),
        (case(1.0, teaching=False), Grade.EXPERIENCED),
    ],
)
def test_the_ladder_names_its_rung(eye, grade):
    """Gates of common practice (operators.toml)."""
    assert lowest_grade(case=eye, knowledge=KNOWLEDGE) is grade
    (advice,) = assign_operators([eye], TEAM, knowledge=KNOWLEDGE)
    assert advice.lowest_grade is grade


def test_no_margin_means_no_harm():
    """With a margin of 0 nobody operates whose hands add tears, though they want cases and the gate is open."""
    cases = [case(1.0)] * 4
    found = assign_operators(cases, TEAM, knowledge=KNOWLEDGE, harm_margin=0.0)
    assert {advice.name for advice in found} == {"Lead"}
    assert any("margin" in reason.text for advice in found for reason in advice.reasons)


def test_the_margin_is_spent_on_teaching_and_no_further():
    """Ten eyes of 1%: a quarter more is 0.025 tears, four eyes of a trainee at 0.006 each, or one novice's less."""
    cases = [case(1.0)] * 10
    found = assign_operators(cases, (LEAD, TRAINEE), knowledge=KNOWLEDGE, harm_margin=0.25)
    assert sum(advice.name == "Trainee" for advice in found) == math.floor(0.025 / 0.006)
    free = assign_operators(cases, (LEAD, TRAINEE), knowledge=KNOWLEDGE)
    assert sum(advice.name == "Trainee" for advice in free) == 9


def test_advice_tells_the_tears():
    (advice,) = assign_operators([case(1.0)], (LEAD, NOVICE), knowledge=KNOWLEDGE, harm_margin=5.0)
    assert advice.name == "Novice"
    assert advice.tear_probability == pytest.approx(0.0373)
    assert advice.extra_tears == pytest.approx(0.0273)


@given(
    st.lists(
        st.builds(case, st.floats(0.5, 9), ladder=st.sampled_from([0.0, 1.0, 3.0]), only_eye=st.booleans()),
        min_size=1, max_size=14,
    ),
    st.floats(0, 1),
)  # fmt: skip
def test_the_day_never_exceeds_its_margin(cases, margin):
    """Whatever the day, expected tears stay within the margin beyond an all-senior day, and nobody is left out."""
    found = assign_operators(cases, TEAM, knowledge=KNOWLEDGE, harm_margin=margin)
    assert all(advice.name for advice in found)
    extra, reference = excess(cases, found)
    assert extra <= margin * reference + 1e-9
    assert budget_for(cases=cases, team=TEAM, margin=margin, knowledge=KNOWLEDGE).all_senior == pytest.approx(reference)


def test_a_margin_below_nothing_is_refused():
    with pytest.raises(ImpossibleInputError, match="quarter"):
        assign_operators([case()], TEAM, knowledge=KNOWLEDGE, harm_margin=-0.1)
