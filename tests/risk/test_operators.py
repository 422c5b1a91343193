"""Who operates: gates, teaching, supervision, load."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sideport.errors import ImpossibleInputError
from sideport.eye.person import Cataract, EyeRecord, Person
from sideport.eye.summary import Estimate, EyeSummary
from sideport.knowledge import load_published
from sideport.optics.side import Side
from sideport.risk import Case, Grade, Surgeon, assign_operators, case_for, estimate_risk
from sideport.wound.technique import Technique

KNOWLEDGE = load_published()
BOTH = frozenset({Technique.MSICS, Technique.PHACO})
MANUAL = frozenset({Technique.MSICS})
LEAD = Surgeon("Lead", Grade.SENIOR, BOTH, supervises=True)
SECOND = Surgeon("Second", Grade.EXPERIENCED, MANUAL)
TRAINEE = Surgeon("Trainee", Grade.TRAINEE, MANUAL, cases_wanted=2)
NOVICE = Surgeon("Novice", Grade.NOVICE, MANUAL, cases_wanted=1)


def case(odds=1.0, **more):
    return Case(more.pop("technique", Technique.MSICS), Side.RIGHT, odds, **more)


def names(cases, team):
    return [advice.name for advice in assign_operators(cases, team, knowledge=KNOWLEDGE)]


@pytest.mark.parametrize(
    ("eye", "who"),
    [
        (case(2.0), "Novice"),
        (case(2.1), "Trainee"),
        (case(3.0), "Trainee"),
        (case(3.1), "Second"),
        (case(6.0), "Second"),
        (case(6.1), "Lead"),
        (case(1.0, ladder=1.0), "Second"),
        (case(1.0, ladder=3.0), "Lead"),
        (case(1.0, only_eye=True), "Lead"),
        (case(1.0, teaching=False), "Second"),
        (case(1.0, technique=Technique.PHACO), "Lead"),
    ],
)
def test_each_gate(eye, who):
    """One eye goes to the most junior person that every gate allows, the senior being the slowest here."""
    slow_lead = Surgeon("Lead", Grade.SENIOR, BOTH, minutes_msics=60, supervises=True)
    assert names([eye], [slow_lead, SECOND, TRAINEE, NOVICE]) == [who]


def test_mildest_eyes_teach_and_no_more_than_wanted():
    """A trainee who wants two gets the two mildest; the rest are shared by those who operate alone."""
    found = assign_operators([case(2.9), case(1.4), case(1.1), case(2.0)], [LEAD, SECOND, TRAINEE], knowledge=KNOWLEDGE)
    assert [advice.name == "Trainee" for advice in found] == [False, True, True, False]
    assert {advice.supervisor for advice in found if advice.name == "Trainee"} == {"Lead"}
    assert all(advice.supervisor is None for advice in found if advice.name != "Trainee")


def test_without_a_supervisor_nobody_learns():
    """No supervisor, no teaching case; a team of a trainee alone is told why."""
    lone = Surgeon("Lead", Grade.SENIOR, BOTH)
    assert names([case()], [lone, TRAINEE]) == ["Lead"]
    (advice,) = assign_operators([case()], [TRAINEE], knowledge=KNOWLEDGE)
    assert advice.name is None
    assert "nobody to supervise" in advice.reasons[0].text


def test_supervisor_must_do_the_operation():
    """A supervisor who does not do phaco cannot supervise it."""
    learner = Surgeon("Trainee", Grade.TRAINEE, BOTH, cases_wanted=1)
    manual_lead = Surgeon("Lead", Grade.SENIOR, MANUAL, supervises=True)
    (advice,) = assign_operators([case(technique=Technique.PHACO)], [manual_lead, learner], knowledge=KNOWLEDGE)
    assert advice.name is None


def test_load_is_shared_by_minutes():
    """Two alike share six eyes three and three; one twice as slow gets two of six."""
    peer = Surgeon("Peer", Grade.SENIOR, BOTH, minutes_msics=10)
    quick = Surgeon("Lead", Grade.SENIOR, BOTH, minutes_msics=10)
    slow = Surgeon("Peer", Grade.SENIOR, BOTH, minutes_msics=20)
    assert names([case()] * 6, [quick, peer]).count("Peer") == 3
    assert names([case()] * 6, [quick, slow]).count("Peer") == 2


def test_nobody_may():
    """An eye over everyone's gate has no operator and one reason for each person."""
    (advice,) = assign_operators([case(50.0)], [SECOND, TRAINEE], knowledge=KNOWLEDGE)
    assert (advice.name, advice.grade) == (None, None)
    assert len(advice.reasons) == 2
    assert names([case(technique=Technique.REFER)], [LEAD]) == [None]
    assert names([case()], []) == [None]


def test_two_of_one_name():
    """Two people of one name must be told apart."""
    with pytest.raises(ImpossibleInputError, match="initials"):
        assign_operators([], [LEAD, LEAD], knowledge=KNOWLEDGE)


def test_the_hardest_eye_goes_to_the_senior():
    """No fundus view, only eye, free nucleus, fibrosed capsule: senior hands, and the page says why."""
    facts = {
        "person": Person(person_id="1", name="A", eyes=(), only_eye=Side.RIGHT),
        "record": EyeRecord(
            side=Side.RIGHT, listed=True, cataract=Cataract.HYPERMATURE, fibrosed_capsule=True, fundus_seen=False
        ),
        "summary": EyeSummary(*[Estimate(3.1, 0.1, 3, "")] * 3, 90.0, *[Estimate(3.1, 0.1, 3, "")] * 3),
        "knowledge": KNOWLEDGE,
    }
    risk = estimate_risk(grade=Grade.SENIOR, **facts)
    eye = case_for(senior_risk=risk, technique=Technique.MSICS, **facts)
    (advice,) = assign_operators([eye], [SECOND, TRAINEE, LEAD], knowledge=KNOWLEDGE)
    assert advice.name == "Lead"
    assert "only seeing eye" in " ".join(reason.text for reason in advice.reasons)


CASES = st.lists(
    st.builds(
        case,
        st.floats(0.5, 40),
        ladder=st.sampled_from([0.0, 1.0, 2.0, 5.0]),
        only_eye=st.booleans(),
        teaching=st.booleans(),
        technique=st.sampled_from(list(Technique)),
    ),
    max_size=12,
)
TEAMS = st.sets(st.sampled_from([LEAD, SECOND, TRAINEE, NOVICE])).map(lambda team: sorted(team, key=lambda s: s.name))


@given(CASES, TEAMS)
def test_gates_hold_on_any_day(cases, team):
    """Nobody operates outside grade or technique, learners never alone, and the same day gives the same answer."""
    found = assign_operators(cases, team, knowledge=KNOWLEDGE)
    assert found == assign_operators(cases, team, knowledge=KNOWLEDGE)
    people = {surgeon.name: surgeon for surgeon in team}
    for eye, advice in zip(cases, found, strict=True):
        assert advice.reasons
        if advice.name is None:
            continue
        surgeon = people[advice.name]
        assert eye.technique in surgeon.techniques
        assert surgeon.grade is Grade.SENIOR or (eye.senior_odds_ratio <= 6 and not eye.only_eye and eye.ladder <= 2)
        learner = surgeon.grade in {Grade.TRAINEE, Grade.NOVICE}
        assert (advice.supervisor is not None) == learner
        assert not learner or (eye.senior_odds_ratio <= 3 and eye.teaching and eye.ladder == 0)
    for surgeon in (TRAINEE, NOVICE):
        assert sum(advice.name == surgeon.name for advice in found) <= surgeon.cases_wanted
