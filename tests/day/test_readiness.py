"""Before the knife: what stops, what warns, what is to do."""

import pytest

from sideport.day.plan import ReadyState
from sideport.day.readiness import LIMITS, readiness_for
from sideport.eye.person import EyeRecord, Person
from sideport.knowledge import load_published
from sideport.optics.acuity import parse_acuity
from sideport.optics.side import Side

KNOWLEDGE = load_published()
READY_PERSON = {
    "identity_checked": True, "consent": True, "allergy": False, "systolic_mmhg": 130, "diastolic_mmhg": 80,
    "diabetic": False, "anticoagulant": False,
}  # fmt: skip
READY_EYE = {
    "marked": True, "sac_patent": True, "infected": False, "pressure_mmhg": 15, "fundus_seen": True,
    "pupil_defect": False,
}  # fmt: skip


def readiness(person=None, eye=None, limits=None):
    items = readiness_for(
        person=Person("1", "A", (), **{**READY_PERSON, **(person or {})}),
        record=EyeRecord(Side.LEFT, True, **{**READY_EYE, **(eye or {})}), limits=limits or {}, knowledge=KNOWLEDGE,
    )  # fmt: skip
    return {item.code: item for item in items}


def test_a_ready_eye_is_ready():
    assert {item.state for item in readiness().values()} == {ReadyState.DONE}


def test_nothing_recorded_is_all_to_do():
    items = readiness_for(
        person=Person("1", "A", ()), record=EyeRecord(Side.LEFT, True), limits={}, knowledge=KNOWLEDGE
    )
    assert {item.state for item in items} == {ReadyState.TO_DO}
    assert all(item.action for item in items)
    assert "LEFT" in next(item.action for item in items if item.code == "side-marked")


@pytest.mark.parametrize(
    ("person", "eye", "code", "state"),
    [
        ({"identity_checked": False}, {}, "identity", ReadyState.STOP),
        ({"consent": False}, {}, "consent", ReadyState.STOP),
        ({}, {"marked": False}, "side-marked", ReadyState.STOP),
        ({"allergy": True}, {}, "allergy", ReadyState.WARN),
        ({"systolic_mmhg": 180, "diastolic_mmhg": 110}, {}, "blood-pressure", ReadyState.WARN),
        ({"systolic_mmhg": 181}, {}, "blood-pressure", ReadyState.STOP),
        ({"diastolic_mmhg": 111}, {}, "blood-pressure", ReadyState.STOP),
        ({"systolic_mmhg": 159, "diastolic_mmhg": 99}, {}, "blood-pressure", ReadyState.DONE),
        ({"systolic_mmhg": None, "diastolic_mmhg": 112}, {}, "blood-pressure", ReadyState.STOP),
        ({"diabetic": True}, {}, "blood-sugar", ReadyState.TO_DO),
        ({"sugar_mmol_l": 17.0}, {}, "blood-sugar", ReadyState.WARN),
        ({"sugar_mmol_l": 17.1}, {}, "blood-sugar", ReadyState.STOP),
        ({"sugar_mmol_l": 3.9}, {}, "blood-sugar", ReadyState.STOP),
        ({"sugar_mmol_l": 8.0}, {}, "blood-sugar", ReadyState.DONE),
        ({"anticoagulant": True}, {}, "anticoagulant", ReadyState.WARN),
        ({}, {"pressure_mmhg": 22}, "eye-pressure", ReadyState.WARN),
        ({}, {"pressure_mmhg": 30}, "eye-pressure", ReadyState.STOP),
        ({}, {"infected": True}, "lids", ReadyState.STOP),
        ({}, {"sac_patent": False}, "tear-sac", ReadyState.STOP),
        ({}, {"fundus_seen": False}, "fundus", ReadyState.TO_DO),
        ({}, {"fundus_seen": False, "bscan_normal": True}, "fundus", ReadyState.DONE),
        ({}, {"fundus_seen": False, "bscan_normal": False}, "fundus", ReadyState.WARN),
        ({}, {"fundus_seen": False}, "light-projection", ReadyState.TO_DO),
        ({}, {"light_projection": False}, "light-projection", ReadyState.WARN),
        ({}, {"acuity": parse_acuity("NPL")}, "light-projection", ReadyState.STOP),
        ({}, {"pupil_defect": True}, "pupil-reaction", ReadyState.WARN),
    ],
)
def test_each_rule(person, eye, code, state):
    """Blood pressure: do not delay at or under 180/110 (bpguideline2016, from memory); the rest is common practice."""
    found = readiness(person, eye)[code]
    assert found.state is state
    assert KNOWLEDGE.source(found.source)
    assert bool(found.action) is (state is not ReadyState.DONE)


def test_the_units_own_thresholds_go_first():
    found = readiness({"systolic_mmhg": 172}, limits={"systolic_stop": 170.0})["blood-pressure"]
    assert (found.state, found.limit, found.source) == (ReadyState.STOP, 170.0, "unit")
    assert set(LIMITS) <= {key.removeprefix("readiness.") for key in KNOWLEDGE.numbers if key.startswith("readiness.")}


def test_the_worst_comes_first():
    items = readiness_for(
        person=Person("1", "A", (), consent=False, allergy=True, diabetic=False), record=EyeRecord(Side.RIGHT, True),
        limits={}, knowledge=KNOWLEDGE,
    )  # fmt: skip
    ranks = [list(ReadyState).index(item.state) for item in items]
    assert ranks == sorted(ranks)
    assert items[0].code == "consent"
