"""The whole plan's harm, teaching, readiness, kit and money; and the eye that must go to the senior surgeon."""

from dataclasses import replace

import pytest
from bench.big_day import big_day

from sideport.day import plan_day
from sideport.day.plan import ReadyState
from sideport.errors import ImpossibleInputError
from sideport.eye.person import Cataract, EyeRecord
from sideport.knowledge import load_published
from sideport.optics.side import Side
from sideport.risk import Grade

KNOWLEDGE = load_published()


def plan(request, **settings):
    changed = replace(request, settings=replace(request.settings, **settings))
    return plan_day(changed, KNOWLEDGE, seed=0, inputs_sha256="test")


@pytest.fixture(scope="module")
def request_():
    return big_day(eyes=24, boxes=120)


@pytest.fixture(scope="module")
def planned(request_):
    return plan(request_)


def test_the_plan_says_what_training_costs_and_whom_it_teaches(planned):
    (learner,) = planned.taught
    mine = [eye for eye in planned.eyes if eye.operator.grade is Grade.TRAINEE]
    assert learner.name == "Learner"
    assert set(learner.eyes) == {eye.key for eye in mine if eye.slot}
    assert learner.extra_tears == pytest.approx(planned.training_cost_tears)
    assert planned.training_cost_tears > 0
    assert learner.name in learner.words


def test_expected_tears_stay_within_the_margin(planned):
    assert planned.all_senior_tears > 0
    assert planned.expected_tears <= planned.all_senior_tears * (1 + planned.harm_margin) + 1e-9


def test_the_operators_own_probability_is_the_eyes(planned):
    """What the budget counted is what the eye's page shows."""
    for eye in planned.eyes:
        if eye.slot:
            assert eye.risk.probability == pytest.approx(eye.operator.tear_probability)
            assert eye.risk.waterfall[-1].probability == pytest.approx(eye.risk.probability)


def test_no_margin_no_teaching(request_):
    strict = plan(request_, harm_margin=0.0)
    assert strict.training_cost_tears == 0
    assert strict.expected_tears <= strict.all_senior_tears + 1e-9
    assert "not given" in strict.taught[0].words


@pytest.mark.parametrize("model", ["sim2024", "segers2022", "muhtaseb2004"])
def test_the_model_can_be_switched(request_, model):
    other = plan(request_, risk_model=model)
    assert {eye.risk.model for eye in other.eyes} == {model}
    assert 0 < other.expected_tears < len(other.eyes)


def test_an_unknown_model_is_refused(request_):
    with pytest.raises(ImpossibleInputError, match="choose one of"):
        plan(request_, risk_model="oracle")


def test_the_hardest_eye_goes_to_the_senior_with_its_kit_and_the_plan_says_why(request_):
    """No view of the fundus, one-eyed, a free nucleus, a fibrosed capsule: common practice on every count."""
    person = request_.people[0]
    hard = EyeRecord(
        side=Side.RIGHT, listed=True, cataract=Cataract.HYPERMATURE, fibrosed_capsule=True, fundus_seen=False,
        measurements=person.eyes[0].measurements,
    )  # fmt: skip
    people = (replace(person, eyes=(hard,), only_eye=Side.RIGHT), *request_.people[1:])
    eye = next(one for one in plan(replace(request_, people=people)).eyes if one.person_id == person.person_id)
    assert (eye.operator.grade, eye.operator.lowest_grade, eye.operator.supervisor) == (
        Grade.SENIOR,
        Grade.SENIOR,
        None,
    )
    said = " ".join(reason.text for reason in eye.operator.reasons)
    assert "only seeing eye" in said
    assert "hazards" in said
    closed = {item.name for item in eye.kit if item.contingency}
    assert {"Capsule scissors", "Capsular tension ring", "Bent 26-gauge needle and two-way cannula"} <= closed
    trolley = {item.name: item for item in eye.trolley}
    assert {"Vitrectomy set", "Sulcus lens", "Chamber lens"} <= set(trolley)
    assert trolley["Capsule scissors"].opened
    assert {"Fibrosed front capsule", "Hypermature, nucleus may be free", "Only seeing eye"} <= {
        factor.label for factor in eye.risk.trade_factors
    }
    assert "No view of the fundus" in {step.label for step in eye.risk.waterfall}
    fundus = next(item for item in eye.readiness if item.code == "fundus")
    assert (fundus.state, "no ultrasound" in fundus.message) == (ReadyState.TO_DO, True)


def test_stops_and_shortages_reach_tonight(request_):
    person = replace(request_.people[0], consent=False)
    short = plan(replace(request_, people=(person, *request_.people[1:])), stock={"Local anaesthetic block": 2.0})
    assert any(item.severity == "stop" and "Consent" in item.message for item in short.tonight)
    assert any("Local anaesthetic block" in item.message and "Fetch" in item.action for item in short.tonight)


def test_the_days_money_is_that_of_its_eyes(request_):
    paid = plan(
        request_, fees={"manual small-incision": 900.0}, costs={"Local anaesthetic block": 18.0}, pays_share=0.5
    )
    on_list = [eye for eye in paid.eyes if eye.slot]
    assert paid.money.pays == pytest.approx(sum(eye.money.pays or 0 for eye in on_list))
    assert paid.money.without_tariff == sum(eye.money.pays is None for eye in on_list)
    assert {eye.money.pays for eye in on_list} <= {450.0, None}
    assert all(eye.money is None for eye in paid.eyes if not eye.slot)
