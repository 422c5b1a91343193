"""The estimate of one eye: points, hazards apart from the odds, interval, note."""

import pytest

from sideport.errors import ImpossibleInputError
from sideport.eye.person import Cataract, EyeRecord, Person, Pupil
from sideport.eye.summary import Estimate, EyeSummary
from sideport.knowledge import load_published
from sideport.optics.side import Side
from sideport.risk import Grade, estimate_risk, group_for, risk_points, trade_factors
from sideport.risk.calibrate import OwnResults, calibrate
from sideport.risk.points import wilson_rate
from sideport.wound.technique import Technique

KNOWLEDGE = load_published()


def summary(depth=3.1, readings=3):
    near = Estimate(value=23.5, sd=0.1, readings=3, origin="3 readings")
    return EyeSummary(near, near, near, 90.0, Estimate(depth, 0.1, readings, ""), near, near)


def facts(depth=3.1, readings=3, person=None, **findings):
    return {
        "person": Person(person_id="1", name="A", eyes=(), **(person or {})),
        "record": EyeRecord(side=Side.RIGHT, listed=True, **findings),
        "summary": summary(depth, readings),
        "knowledge": KNOWLEDGE,
    }


@pytest.mark.parametrize(
    ("known", "points"),
    [
        ({}, 0),
        ({"cataract": Cataract.WHITE}, 3),
        ({"pseudoexfoliation": True, "phacodonesis": True}, 6),
        ({"pupil": Pupil.SMALL, "corneal_scar": True, "vitrectomy": True}, 3),
        ({"depth": 2.4}, 1),
        ({"depth": 2.5}, 0),
        ({"depth": 2.4, "readings": 0}, 0),
        ({"person": {"age_years": 88}}, 0),
        ({"person": {"age_years": 89, "cannot_lie_flat": True}}, 2),
    ],
)
def test_points(known, points):
    """Points by the printed table (muhtaseb2004, table 1); a depth nobody measured scores nothing."""
    assert risk_points(**facts(**known)) == points


@pytest.mark.parametrize(("points", "group"), [(0, 1), (1, 2), (2, 2), (3, 3), (5, 3), (6, 4), (12, 4)])
def test_groups_begin_where_printed(points, group):
    """Groups 0, 1 to 2, 3 to 5, 6 and over (muhtaseb2004, table 2)."""
    assert group_for(points=points, knowledge=KNOWLEDGE).group == group


def test_groups_make_the_printed_total():
    """The four groups hold 1000 operations and 22 tears (muhtaseb2004, table 2, total)."""
    groups = [group_for(points=points, knowledge=KNOWLEDGE) for points in (0, 1, 3, 6)]
    assert (sum(group.operations for group in groups), sum(group.tears for group in groups)) == (1000, 22)


def test_wilson_by_hand():
    """Wilson's limits for 2 of 25, worked from the quadratic by hand."""
    z, n, p = 1.959963984540054, 25, 2 / 25
    centre, half = (
        (p + z * z / (2 * n)) / (1 + z * z / n),
        z / (1 + z * z / n) * (p * (1 - p) / n + (z / 2 / n) ** 2) ** 0.5,
    )
    found = wilson_rate(events=2, operations=25)
    assert (found.low, found.high) == (pytest.approx(centre - half), pytest.approx(centre + half))
    with pytest.raises(ImpossibleInputError, match="cannot be"):
        wilson_rate(events=3, operations=2)


def test_hazards_never_enter_the_odds():
    """A fibrosed capsule is listed apart and leaves the odds alone."""
    plain = estimate_risk(grade=Grade.SENIOR, **facts())
    fibrosed = estimate_risk(grade=Grade.SENIOR, **facts(fibrosed_capsule=True))
    assert fibrosed.probability == plain.probability
    assert [factor.label for factor in fibrosed.trade_factors] == ["Fibrosed front capsule"]


@pytest.mark.parametrize(
    ("known", "label"),
    [
        ({"cataract": Cataract.HYPERMATURE}, "Hypermature, nucleus may be free"),
        ({"phacodonesis": True}, "Weak zonule"),
        ({"cataract": Cataract.INTUMESCENT}, "White lens under pressure"),
        ({"pupil": Pupil.SMALL}, "Small pupil"),
        ({"depth": 2.0}, "Shallow chamber"),
        ({"person": {"alpha_blocker": True}}, "Alpha-blocker: the iris may billow"),
        ({"person": {"only_eye": Side.RIGHT}}, "Only seeing eye"),
    ],
)
def test_each_hazard(known, label):
    """Each hazard brings its label, a filled-in advice and a source in the bibliography."""
    (found,) = trade_factors(**facts(**known))
    assert found.label == label
    assert "{" not in found.advice
    assert KNOWLEDGE.source(found.source)


def test_the_other_eye_is_not_the_only_eye():
    """Operating on the blind side of a one-eyed person is no only-eye operation."""
    assert trade_factors(**facts(person={"only_eye": Side.LEFT})) == ()


def test_interval_holds_the_middle_and_widens_with_factors():
    """Each factor present adds to the doubt, in log odds."""
    plain = estimate_risk(grade=Grade.SENIOR, **facts())
    many = estimate_risk(grade=Grade.SENIOR, **facts(cataract=Cataract.WHITE, phacodonesis=True, fundus_seen=False))
    assert plain.low < plain.probability < plain.high
    assert many.high / many.low > plain.high / plain.low


def test_the_published_model_stands_where_the_unit_is_unknown():
    """Without a calibration an ordinary eye has the model's own baseline, and the note says whose rate it is."""
    plain = estimate_risk(grade=Grade.SENIOR, **facts())
    assert plain.probability == pytest.approx(KNOWLEDGE.value("risk_pcr.narendran2009.baseline"))
    assert "not at this unit's own rate" in plain.note
    assert "from memory" in plain.note


def test_own_results_replace_the_published_rate():
    """Twice the published rate in many operations doubles the odds, narrows the interval, and says its count."""
    plain = estimate_risk(grade=Grade.SENIOR, **facts())
    own = OwnResults(tears=0.0377 * 50_000, operations=50_000, words="the unit")
    calibration = calibrate(model="narendran2009", technique=Technique.PHACO, own=own, knowledge=KNOWLEDGE)
    found = estimate_risk(grade=Grade.SENIOR, calibration=calibration, **facts())
    odds = [value / (1 - value) for value in (plain.probability, found.probability)]
    assert odds[1] / odds[0] == pytest.approx(0.0377 / 0.9623 / (0.0192 / 0.9808), rel=0.02)
    assert found.low < found.probability < found.high
    assert found.high / found.low < plain.high / plain.low
    assert found.own_operations == 50_000
    assert "this unit's own results" in found.note


def test_the_waterfall_adds_up():
    """It starts at the ordinary eye, tells the largest rise first, and ends at the eye's own probability."""
    found = estimate_risk(grade=Grade.NOVICE, **facts(cataract=Cataract.WHITE, glaucoma=True, person={"age_years": 72}))
    steps = found.waterfall
    assert steps[0].probability == pytest.approx(KNOWLEDGE.value("risk_pcr.narendran2009.baseline"))
    assert steps[-1].probability == pytest.approx(found.probability)
    assert sum(step.change for step in steps) == pytest.approx(found.probability)
    ratios = [step.odds_ratio for step in steps[1:]]
    assert ratios == sorted(ratios, reverse=True) == [3.73, 2.99, 1.42, 1.30]
    assert all(KNOWLEDGE.source(step.source) for step in steps)
