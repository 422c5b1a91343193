"""The models side by side: each uses what was read of it, and a simulated cohort has the published rate."""

import numpy as np
import pytest

from sideport.errors import ImpossibleInputError
from sideport.eye.person import Cataract, EyeRecord, Person, Pupil, Sex
from sideport.eye.summary import Estimate, EyeSummary
from sideport.knowledge import load_published
from sideport.optics.acuity import parse_acuity
from sideport.optics.side import Side
from sideport.risk import MODELS, Grade, OwnResults, Surgeon, calibrate, estimate_risk, model_named, own_results
from sideport.risk.case_mix import case_mix
from sideport.risk.models import grade_factor, odds_factors, unrecorded_factors
from sideport.risk.odds import composite_odds_ratio, probability
from sideport.risk.shrink import belief_from
from sideport.wound.technique import Technique

KNOWLEDGE = load_published()
NEAR = Estimate(value=23.5, sd=0.1, readings=3, origin="3 readings")
SUMMARY = EyeSummary(NEAR, NEAR, NEAR, 90.0, NEAR, NEAR, NEAR)


def composite(model, person=None, grade=Grade.SENIOR, **found):
    factors = odds_factors(
        person=Person(person_id="1", name="A", eyes=(), **(person or {})),
        record=EyeRecord(side=Side.RIGHT, listed=True, **found), summary=SUMMARY, knowledge=KNOWLEDGE, model=model,
    )  # fmt: skip
    hands = grade_factor(grade=grade, knowledge=KNOWLEDGE, model=model)
    return float(composite_odds_ratio(odds_ratios=[1.0, hands.odds_ratio, *(f.odds_ratio for f in factors)]))


@pytest.mark.parametrize(
    ("known", "ratio"),
    [
        ({"cataract": Cataract.BROWN}, 2.41),
        ({"phacodonesis": True}, 3.47),
        ({"person": {"age_years": 45, "sex": Sex.MALE}}, 3.05),
        ({"person": {"age_years": 75, "sex": Sex.MALE}}, 1.0),
        ({"grade": Grade.NOVICE}, 3.75),
        ({"grade": Grade.TRAINEE}, 1.60),
        ({"glaucoma": True, "fundus_seen": False, "pupil": Pupil.SMALL}, 1.0),
    ],
)
def test_the_later_audit_uses_the_odds_that_were_read(known, ratio):
    """Odds of the abstract (sim2024); a trainee's are borrowed from narendran2009, nothing else is guessed."""
    assert composite("sim2024", **known) == pytest.approx(ratio)


@pytest.mark.parametrize(
    ("known", "ratio"),
    [
        ({"corneal_scar": True}, 3.21),
        ({"diabetic_retinopathy": True}, 2.74),
        ({"cataract": Cataract.WHITE}, 1.87),
        ({"cataract": Cataract.BROWN}, 1.0),
        ({"acuity": parse_acuity("HM")}, 1.98),
        ({"acuity": parse_acuity("6/60")}, 1.0),
    ],
)
def test_the_register_uses_the_odds_that_were_read(known, ratio):
    """Odds of the abstract, two of them from memory (segers2022)."""
    assert composite("segers2022", **known) == pytest.approx(ratio)


def test_age_by_the_register():
    """80 against 55 years is about 20% more, as a review of segers2022 says: 1.007 to the power of 25."""
    old, young = (composite("segers2022", person={"age_years": age}) for age in (80, 55))
    assert old / young == pytest.approx(1.20, abs=0.015)
    assert young == 1.0


@pytest.mark.parametrize(
    ("known", "printed"),
    [
        ({}, 1.55),
        ({"pupil": Pupil.SMALL}, 1.57),
        ({"cataract": Cataract.WHITE}, 4.96),
        ({"phacodonesis": True, "pseudoexfoliation": True}, 8.0),
    ],
)
def test_the_points_score_gives_its_groups_back(known, printed):
    """The rate of tears in each group as printed (muhtaseb2004, table 2)."""
    setting = calibrate(model="muhtaseb2004", technique=Technique.PHACO, own=None, knowledge=KNOWLEDGE)
    found = estimate_risk(
        person=Person(person_id="1", name="A", eyes=()), record=EyeRecord(side=Side.RIGHT, listed=True, **known),
        summary=SUMMARY, grade=Grade.SENIOR, knowledge=KNOWLEDGE, calibration=setting,
    )  # fmt: skip
    assert 100 * found.probability == pytest.approx(printed, abs=0.005)
    assert found.low < found.probability < found.high


@pytest.mark.parametrize("model", [key for key in MODELS if key != "muhtaseb2004"])
def test_a_case_mix_is_a_distribution(model):
    for mix in ("united_kingdom", "manual_unit"):
        eyes = case_mix(mix=mix, model=model, knowledge=KNOWLEDGE)
        assert eyes.share.sum() == pytest.approx(1)
        assert (eyes.share >= 0).all()
        assert (eyes.odds_ratio > 0).all()


def draw_cohort(count, mix, generator):
    """People and eyes with the prevalences of a mix, and the probability of each by the program's own way."""
    share = {key: number.value for key, number in KNOWLEDGE.table(f"risk_case_mix.{mix}").items()}
    bands = ["age_60_69", "age_70_79", "age_80_89", "age_90_over"]
    ages = generator.choice(
        [55, 65, 75, 85, 92], count, p=[1 - sum(share[b] for b in bands), *(share[b] for b in bands)]
    )
    pupils = generator.choice(
        [Pupil.LARGE, Pupil.MEDIUM, Pupil.SMALL], count,
        p=[1 - share["pupil_medium"] - share["pupil_small"], share["pupil_medium"], share["pupil_small"]],
    )  # fmt: skip
    weights = np.array([share[f"grade_{g}"] for g in ("consultant", "associate_specialist", "registrar",
                                                      "senior_house_officer")])  # fmt: skip
    grades = generator.choice(list(Grade), count, p=weights / weights.sum())

    def has(key):
        return generator.random(count) < share[key]

    dense = has("dense_cataract")
    hidden = generator.random(count) < np.where(dense, share["no_fundus_if_dense"], share["no_fundus_else"])
    columns = zip(
        ages, has("male"), pupils, grades, dense, hidden, has("pseudoexfoliation_phacodonesis"),
        has("diabetic_retinopathy"), has("alpha_blocker"), has("axial_length_long"), has("glaucoma"),
        has("cannot_lie_flat"), strict=True,
    )  # fmt: skip
    for age, male, pupil, grade, is_dense, is_hidden, loose, dr, alpha, long, glaucoma, sitting in columns:
        person = Person("1", "A", (), float(age), Sex.MALE if male else Sex.FEMALE, alpha_blocker=bool(alpha),
                        cannot_lie_flat=bool(sitting))  # fmt: skip
        record = EyeRecord(
            Side.RIGHT, True, Cataract.BROWN if is_dense else Cataract.IMMATURE, pupil=pupil, fundus_seen=not is_hidden,
            pseudoexfoliation=bool(loose), diabetic_retinopathy=bool(dr), glaucoma=bool(glaucoma),
        )  # fmt: skip
        length = Estimate(27.0 if long else 23.5, 0.1, 3, "")
        yield person, record, EyeSummary(length, NEAR, NEAR, 90.0, NEAR, NEAR, NEAR), grade


def mean_prediction(model, mix, baseline, count=6000, seed=20090101):
    found = []
    for person, record, summary, grade in draw_cohort(count, mix, np.random.default_rng(seed)):
        factors = odds_factors(person=person, record=record, summary=summary, knowledge=KNOWLEDGE, model=model)
        hands = grade_factor(grade=grade, knowledge=KNOWLEDGE, model=model)
        found.append(np.prod([hands.odds_ratio, *(factor.odds_ratio for factor in factors)]))
    return float(np.mean(probability(odds_ratio=found, baseline=baseline)))


def test_calibration_in_the_large():
    """A cohort drawn with the audit's prevalences has the audit's overall rate: 1.92%, interval 1.81 to 2.04.

    narendran2009; age, sex and grade as ukcataract1998 prints them, the rest of the prevalences from memory. Neither
    the baseline nor the prevalences were fitted to it.
    """
    baseline = KNOWLEDGE.value("risk_pcr.narendran2009.baseline")
    rate = mean_prediction("narendran2009", "united_kingdom", baseline)
    assert KNOWLEDGE.value("risk_pcr.narendran2009.overall_low") <= rate
    assert rate <= KNOWLEDGE.value("risk_pcr.narendran2009.overall_high")


@pytest.mark.parametrize(("model", "overall"), [("sim2024", 0.0101), ("narendran2009", None)])
def test_a_solved_baseline_returns_the_rate_it_was_solved_for(model, overall):
    """The later audit's 1.01% in its own country (sim2024), and the pooled manual rate in a manual unit."""
    technique, mix = (Technique.PHACO, "united_kingdom") if overall else (Technique.MSICS, "manual_unit")
    setting = calibrate(model=model, technique=technique, own=None, knowledge=KNOWLEDGE)
    assert mean_prediction(model, mix, setting.baseline) == pytest.approx(overall or setting.rate, rel=0.06)


def test_own_results_win_over_everybody_elses():
    """Many own operations make the unit's rate; a few move it half-way; none leaves the published one."""
    rates = [
        calibrate(model="narendran2009", technique=Technique.MSICS, own=own, knowledge=KNOWLEDGE).rate
        for own in (None, OwnResults(2, 40, ""), OwnResults(500, 50_000, ""))
    ]
    assert rates[2] == pytest.approx(0.01, rel=0.01)
    assert min(rates[0], 0.05) < rates[1] < max(rates[0], 0.05)
    spread = [
        calibrate(model="narendran2009", technique=Technique.MSICS, own=own, knowledge=KNOWLEDGE).log_odds_sd
        for own in (None, OwnResults(2, 40, ""), OwnResults(500, 50_000, ""))
    ]
    assert spread == sorted(spread, reverse=True)
    assert spread[2] == pytest.approx(500**-0.5, rel=0.05)


def test_where_own_results_come_from():
    """The stated rate goes first, else the team's records together, else nothing."""
    team = [
        Surgeon("A", Grade.SENIOR, frozenset(), operations=1000, capsule_tears=12),
        Surgeon("B", Grade.TRAINEE, frozenset(), operations=100, capsule_tears=3),
        Surgeon("C", Grade.NOVICE, frozenset(), operations=5),
    ]
    found = own_results(rate=None, operations=None, team=team, knowledge=KNOWLEDGE)
    assert (found.tears, found.operations) == (15, 1100)
    stated = own_results(rate=0.02, operations=500, team=team, knowledge=KNOWLEDGE)
    assert (stated.tears, stated.operations) == (10, 500)
    bare = own_results(rate=0.02, operations=None, team=team, knowledge=KNOWLEDGE)
    assert "not given" in bare.words
    assert own_results(rate=None, operations=None, team=team[2:], knowledge=KNOWLEDGE) is None
    with pytest.raises(ImpossibleInputError, match=r"0\.02"):
        own_results(rate=2.0, operations=None, team=(), knowledge=KNOWLEDGE)


def test_the_prior_is_worth_what_its_spread_says():
    """The prior's operations are those of a beta belief with the pooled mean and the spread of the next series."""
    setting = calibrate(model="narendran2009", technique=Technique.MSICS, own=None, knowledge=KNOWLEDGE)
    belief = belief_from(rate=setting.rate, log_odds_sd=setting.log_odds_sd)
    assert belief.operations == pytest.approx(setting.prior_operations)


def test_an_unknown_model_is_refused_with_the_known_ones():
    with pytest.raises(ImpossibleInputError, match="segers2022"):
        model_named("oracle")


@pytest.mark.parametrize("model", list(MODELS))
def test_every_card_is_sourced_and_says_how_far_it_was_read(model):
    card = MODELS[model]
    assert KNOWLEDGE.source(card.key)
    assert card.status.value
    assert card.calibration
    gaps = unrecorded_factors(
        person=Person("1", "A", ()), record=EyeRecord(Side.RIGHT, True), summary=SUMMARY, knowledge=KNOWLEDGE,
        model=model,
    )  # fmt: skip
    assert "kind of cataract" in gaps
