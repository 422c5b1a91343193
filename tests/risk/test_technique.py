"""Technique advice: each finding pushes the way the trade knows."""

import pytest

from sideport.eye.person import Cataract, EyeRecord, Person
from sideport.eye.summary import Estimate, EyeSummary
from sideport.knowledge import Effect, load_published
from sideport.optics.side import Side
from sideport.risk import Grade, estimate_risk, suggest_technique
from sideport.wound.technique import Technique

KNOWLEDGE = load_published()
NEAR = Estimate(value=3.1, sd=0.1, readings=3, origin="3 readings")
SUMMARY = EyeSummary(NEAR, NEAR, NEAR, 90.0, NEAR, NEAR, NEAR)


def advise(phaco=True, only_eye=None, **findings):
    facts = {
        "person": Person(person_id="1", name="A", eyes=(), only_eye=only_eye),
        "record": EyeRecord(side=Side.RIGHT, listed=True, **findings),
        "summary": SUMMARY,
        "knowledge": KNOWLEDGE,
    }
    risk = estimate_risk(grade=Grade.SENIOR, **facts)
    return suggest_technique(senior_risk=risk, phaco_available=phaco, **facts)


@pytest.mark.parametrize(
    ("findings", "suggested", "alternative"),
    [
        ({"cataract": Cataract.NONE}, Technique.REFER, None),
        ({"cataract": Cataract.IMMATURE, "nucleus_grade": 2.0}, Technique.MSICS, Technique.PHACO),
        ({"cataract": Cataract.IMMATURE, "nucleus_grade": 2.0, "phaco": False}, Technique.MSICS, None),
        ({"cataract": Cataract.IMMATURE, "nucleus_grade": 4.5}, Technique.MSICS, Technique.ECCE),
        ({"cataract": Cataract.IMMATURE, "nucleus_grade": 2.0, "bleb": True}, Technique.PHACO, Technique.MSICS),
        ({"cataract": Cataract.BROWN, "bleb": True}, Technique.MSICS, Technique.ECCE),
        ({"cataract": Cataract.WHITE}, Technique.MSICS, Technique.PHACO),
        ({"cataract": Cataract.HYPERMATURE}, Technique.MSICS, Technique.ECCE),
        ({"cataract": Cataract.BLACK}, Technique.MSICS, Technique.ECCE),
        ({"cataract": Cataract.IMMATURE, "phacodonesis": True}, Technique.MSICS, Technique.ICCE),
        ({"cataract": Cataract.HYPERMATURE, "phacodonesis": True}, Technique.MSICS, Technique.ICCE),
        (
            {"cataract": Cataract.HYPERMATURE, "phacodonesis": True, "only_eye": Side.RIGHT},
            Technique.MSICS,
            Technique.REFER,
        ),
        (
            {"cataract": Cataract.HYPERMATURE, "phacodonesis": True, "only_eye": Side.LEFT},
            Technique.MSICS,
            Technique.ICCE,
        ),
    ],
)
def test_gate(findings, suggested, alternative):
    """Each finding leads to its operation and alternative."""
    found = advise(**findings)
    assert (found.suggested, found.alternative) == (suggested, alternative)


def test_infection_stops_the_day_not_the_technique():
    """An infected lid is said first, against operating today; the operation stays what it was."""
    clean, infected = advise(cataract=Cataract.WHITE), advise(cataract=Cataract.WHITE, infected=True)
    assert infected.suggested is clean.suggested
    assert "not today" in infected.reasons[0].text
    assert infected.reasons[0].effect is Effect.AGAINST


def test_cost_is_the_published_ratio():
    """Phaco over manual cost is 42.10 / 15.34 = 2.7 (gogate2007)."""
    reason = next(entry for entry in advise(cataract=Cataract.WHITE).reasons if entry.source == "gogate2007")
    assert reason.weight == pytest.approx(42.10 / 15.34)
    assert "2.7 times" in reason.text


@pytest.mark.parametrize("kind", [kind for kind in Cataract if kind is not Cataract.NONE])
def test_reasons_have_sources(kind):
    """Every reason, for every kind of cataract, points into the bibliography."""
    reasons = advise(cataract=kind, nucleus_grade=5.0, phacodonesis=True).reasons
    assert reasons
    for reason in reasons:
        assert KNOWLEDGE.source(reason.source)
