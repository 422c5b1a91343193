"""The odds models set against their own overall rates, and how long an eye's estimate takes."""

import time

import numpy as np

from bench.big_day import big_day
from sideport.day import plan_day
from sideport.eye.person import Cataract, EyeRecord, Person, Pupil, Sex
from sideport.eye.summary import Estimate, EyeSummary
from sideport.knowledge import Knowledge, load_published
from sideport.optics.side import Side
from sideport.risk import Grade, calibrate, estimate_risk
from sideport.risk.case_mix import case_mix
from sideport.risk.odds import probability
from sideport.wound.technique import Technique

COHORTS = 1000
NEAR = Estimate(value=23.5, sd=0.1, readings=3, origin="3 readings")
SUMMARY = EyeSummary(NEAR, NEAR, NEAR, 90.0, NEAR, NEAR, NEAR)


def bench_calibration(knowledge: Knowledge) -> None:
    """Cohorts of the published size drawn from the published prevalences: mean prediction and the range of outcomes."""
    generator = np.random.default_rng(1)
    for model in ("narendran2009", "sim2024", "segers2022"):
        overall = knowledge.number(f"risk_pcr.{model}.overall")
        eyes = case_mix(mix="united_kingdom", model=model, knowledge=knowledge)
        setting = calibrate(model=model, technique=Technique.PHACO, own=None, knowledge=knowledge)
        chances = probability(odds_ratio=eyes.odds_ratio, baseline=setting.baseline)
        expected = float(np.sum(eyes.share * chances))
        tears = generator.binomial(overall.n or 0, expected, size=COHORTS) / (overall.n or 1)
        low, high = np.quantile(tears, [0.025, 0.975])
        how = "remembered baseline" if model == "narendran2009" else "solved baseline"
        print(
            f"{model:15} published {100 * overall.value:5.2f}%   predicted {100 * expected:5.2f}%   "
            f"{COHORTS} cohorts of {overall.n:,}: {100 * low:5.2f} to {100 * high:5.2f}%   ({how})"
        )


def bench_estimate(knowledge: Knowledge) -> None:
    """One eye's estimate with factors, waterfall and hazards."""
    person = Person("1", "A", (), 78.0, Sex.MALE, alpha_blocker=True)
    record = EyeRecord(Side.RIGHT, True, Cataract.HYPERMATURE, pupil=Pupil.SMALL, fundus_seen=False, phacodonesis=True)
    setting = calibrate(model="narendran2009", technique=Technique.MSICS, own=None, knowledge=knowledge)
    rounds = 500
    begun = time.perf_counter()
    for _ in range(rounds):
        estimate_risk(
            person=person, record=record, summary=SUMMARY, grade=Grade.TRAINEE, knowledge=knowledge, calibration=setting
        )
    print(f"one eye's odds              {1000 * (time.perf_counter() - begun) / rounds:8.2f} ms")


def bench_harm(knowledge: Knowledge) -> None:
    """Expected tears of a 60-eye day by the unit's margin."""
    request = big_day(eyes=60, boxes=400)
    plan = plan_day(request, knowledge, seed=0, inputs_sha256="bench")
    print(
        f"60 eyes: expected tears {plan.expected_tears:.3f}, all-senior {plan.all_senior_tears:.3f}, teaching costs "
        f"{plan.training_cost_tears:.3f}, margin {100 * (plan.harm_margin or 0):.0f}%"
    )


def run() -> None:
    """Prints all three."""
    knowledge = load_published()
    bench_calibration(knowledge)
    bench_estimate(knowledge)
    bench_harm(knowledge)


if __name__ == "__main__":
    run()
