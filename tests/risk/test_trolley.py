"""The trolley: each thing by its trigger, with its chance; and operations argued for and against."""

import pytest

from sideport.eye.person import Cataract, EyeRecord, Person, Pupil
from sideport.eye.summary import Estimate, EyeSummary
from sideport.knowledge import Effect, load_published
from sideport.optics.side import Side
from sideport.risk import Grade, Surgeon, estimate_risk, suggest_technique, trolley_for
from sideport.risk import trolley as names
from sideport.wound.technique import Technique

KNOWLEDGE = load_published()
NEAR = Estimate(value=3.1, sd=0.1, readings=3, origin="3 readings")
SUMMARY = EyeSummary(NEAR, NEAR, NEAR, 90.0, NEAR, NEAR, NEAR)
MANUAL = Surgeon("Manual", Grade.SENIOR, frozenset({Technique.MSICS}))
OLD = Surgeon("Old", Grade.SENIOR, frozenset({Technique.ECCE, Technique.ICCE}))
ALL = Surgeon("All", Grade.SENIOR, frozenset(Technique))


def facts(alpha_blocker=None, **findings):
    return {
        "person": Person("1", "A", (), alpha_blocker=alpha_blocker),
        "record": EyeRecord(Side.RIGHT, True, **findings),
        "knowledge": KNOWLEDGE,
    }


def trolley(technique=Technique.MSICS, **findings):
    known = facts(**findings)
    risk = estimate_risk(summary=SUMMARY, grade=Grade.SENIOR, **known)
    return {item.name: item for item in trolley_for(technique=technique, risk=risk, **known)}, risk


@pytest.mark.parametrize(
    ("known", "name", "chance", "opened"),
    [
        ({"cataract": Cataract.WHITE}, names.DYE, 1.0, True),
        ({"corneal_scar": True}, names.DYE, 1.0, True),
        ({"pupil": Pupil.SMALL}, names.HOOKS, 0.5, True),
        ({"alpha_blocker": True}, names.HOOKS, 0.2, False),
        ({"alpha_blocker": True, "pupil": Pupil.SMALL}, names.HOOKS, 0.6, True),
        ({"fibrosed_capsule": True}, names.SCISSORS, 0.5, True),
        ({"phacodonesis": True}, names.RING, 0.3, False),
        ({"cataract": Cataract.HYPERMATURE}, names.RING, 7 / 105, False),
        ({"cataract": Cataract.HYPERMATURE}, names.NEEDLE, 1.0, True),
    ],
)
def test_each_trigger_brings_its_thing(known, name, chance, opened):
    """Common practice, but for the ring in a hypermature lens: 7 of 105 zonules gave way (morgagnian105)."""
    found, _ = trolley(**known)
    assert found[name].probability == pytest.approx(chance, abs=5e-4)
    assert found[name].opened is opened
    assert KNOWLEDGE.source(found[name].source)


def test_a_plain_eye_asks_for_nothing_but_what_follows_a_tear_or_a_leak():
    found, _ = trolley(cataract=Cataract.IMMATURE)
    assert set(found) == {names.VITRECTOR, names.SULCUS_LENS, names.CHAMBER_LENS, names.SUTURE}
    assert not any(item.opened for item in found.values())


def test_the_vitrector_follows_the_tear():
    """51 of 84 tears needed one (jeang2022); it is laid open once a tear is likely."""
    found, risk = trolley(cataract=Cataract.BROWN, fundus_seen=False, phacodonesis=True)
    assert found[names.VITRECTOR].probability == pytest.approx(risk.probability * 51 / 84, rel=1e-3)
    assert found[names.VITRECTOR].opened


def test_a_hypermature_bag_may_come_out_whole():
    """At least the 4 of 105 of the series (morgagnian105) need another place for the lens."""
    found, _ = trolley(cataract=Cataract.HYPERMATURE)
    assert found[names.CHAMBER_LENS].probability > 4 / 105


def test_sutured_wounds_and_referrals():
    assert names.SUTURE not in trolley(technique=Technique.ECCE)[0]
    assert trolley(technique=Technique.REFER)[0] == {}


def advise(team=(), phaco=True, fees=None, share=1.0, **findings):
    known = facts(**findings)
    risk = estimate_risk(summary=SUMMARY, grade=Grade.SENIOR, **known)
    return suggest_technique(
        summary=SUMMARY, senior_risk=risk, phaco_available=phaco, team=team, fees=fees, pays_share=share, **known
    )


def test_an_operation_that_nobody_does_gives_way():
    """No tunnel surgeon: extracapsular; nobody at all: refer; and the reasons say so."""
    found = advise(team=[OLD], cataract=Cataract.BROWN)
    assert found.suggested is Technique.ECCE
    assert "Nobody on the team does manual small-incision" in found.reasons[0].text
    phaco_only = Surgeon("P", Grade.SENIOR, frozenset({Technique.PHACO}))
    assert advise(team=[phaco_only], cataract=Cataract.BROWN).suggested is Technique.REFER
    assert advise(team=[phaco_only], cataract=Cataract.IMMATURE, nucleus_grade=2.0).suggested is Technique.PHACO
    assert advise(team=[MANUAL], cataract=Cataract.IMMATURE).suggested is Technique.MSICS


def test_intracapsular_is_never_suggested_for_a_steady_lens():
    icce = Surgeon("I", Grade.SENIOR, frozenset({Technique.ICCE}))
    assert advise(team=[icce], cataract=Cataract.BROWN).suggested is Technique.REFER
    assert advise(team=[icce], cataract=Cataract.BROWN, phacodonesis=True).suggested is Technique.ICCE


def test_every_operation_is_argued():
    """Four options, the suggested one first, each with sourced reasons, hands, cut and cost."""
    fees = {"manual small-incision": 900.0}
    found = advise(team=[ALL, MANUAL], cataract=Cataract.HYPERMATURE, phaco=False, fees=fees, share=0.5)
    assert [option.technique for option in found.options][:2] == [Technique.MSICS, Technique.ECCE]
    assert len(found.options) == 4
    by = {option.technique: option for option in found.options}
    assert by[Technique.MSICS].operators == ("All", "Manual")
    assert by[Technique.MSICS].patient_pays == 450
    assert by[Technique.ECCE].patient_pays is None
    assert not by[Technique.PHACO].possible
    assert all(option.reasons for option in found.options)
    for option in found.options:
        for reason in option.reasons:
            assert KNOWLEDGE.source(reason.source)


def test_astigmatism_and_cost_are_the_published_ones():
    """georgeeye2005 (from memory): 0.77, 1.17, 1.77 D; gogate2007: 42.10, 15.34; muralikrishnan2004: 16.25, 17.03."""
    by = {option.technique: option for option in advise(cataract=Cataract.BROWN).options}
    induced = [by[one].induced_d for one in (Technique.PHACO, Technique.MSICS, Technique.ECCE)]
    assert induced == [0.77, 1.17, 1.77]
    assert by[Technique.PHACO].cost_ratio == pytest.approx(42.10 / 15.34)
    assert by[Technique.ECCE].cost_ratio == pytest.approx(16.25 / 17.03)
    phaco = next(reason for reason in by[Technique.PHACO].reasons if reason.source == "georgeeye2005")
    assert phaco.effect is Effect.FOR
