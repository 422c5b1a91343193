"""Readiness, tariff, stock and risk settings read from the sheets."""

from pathlib import Path

import pytest

from exchange.folders import DAY, read

HEADINGS = (
    "Patient no,Name,Eye,Identity,Consent,Systolic (mmHg),Diastolic (mmHg),Blood sugar,Allergy,Pays (share),Marked,"
    "Syringing,B-scan,Light projection,RAPD\n"
)


def test_readiness_of_a_person_and_an_eye(tmp_path: Path) -> None:
    """A sugar in mg/dL is turned into mmol/L by a tenth of glucose's molar mass: 180 mg/dL are 9.99 mmol/L."""
    found = read(tmp_path, register=HEADINGS + "P-1,Asha,R,yes,yes,142,88,180,no,50 %,yes,yes,no,yes,no\n")
    assert found.request is not None
    (person,) = found.request.people
    assert (person.identity_checked, person.consent, person.allergy) == (True, True, False)
    assert (person.systolic_mmhg, person.diastolic_mmhg, person.pays_share) == (142, 88, 0.5)
    assert person.sugar_mmol_l == pytest.approx(9.99, abs=0.005)
    (eye,) = person.eyes
    assert (eye.marked, eye.sac_patent, eye.bscan_normal, eye.light_projection, eye.pupil_defect) == (
        True, True, False, True, False,
    )  # fmt: skip


def test_refraction_and_the_lens_of_an_operated_eye(tmp_path: Path) -> None:
    """They are what the belief reads lengths from; a refraction of 60 D is set aside."""
    headings = "Patient no,Name,Eye,Operate,Refraction (D),Implanted power (D),Implanted A-constant\n"
    rows = "P-1,Asha,R,yes,-6.50,,\nP-1,Asha,L,no,-0.50,12.0,118.4\nP-2,Bina,R,yes,60,,\n"
    found = read(tmp_path, register=headings + rows)
    assert found.request is not None
    asha, bina = found.request.people
    assert [eye.refraction_d for eye in asha.eyes] == [-6.5, -0.5]
    assert [(eye.implanted_power_d, eye.implanted_a_constant) for eye in asha.eyes] == [(None, None), (12.0, 118.4)]
    assert bina.eyes[0].refraction_d is None


def test_settings_of_risk_and_money(tmp_path: Path) -> None:
    settings = (
        "Risk model,Sim 2024\nHarm margin,10 %\nFee MSICS,900\nFolding surcharge,300\nUsual share paid,80 %\n"
        "Stop systolic (mmHg),170\nCapsule tear rate,1.4 %\nOperations behind the tear rate,2100\n"
    )
    found = read(tmp_path, day=DAY + settings, register="Patient no,Name,Eye\nP-1,Asha,R\n",
                 prices="Item,Price,In stock\nIris hooks,200,3\nIrrigating fluid,,5000\n")  # fmt: skip
    assert found.request is not None
    read_settings = found.request.settings
    assert (read_settings.risk_model, read_settings.harm_margin) == ("sim2024", 0.1)
    assert read_settings.fees == {"manual small-incision": 900.0}
    assert (read_settings.folding_surcharge, read_settings.pays_share) == (300.0, 0.8)
    assert read_settings.limits == {"systolic_stop": 170.0}
    assert read_settings.complication_rate == pytest.approx(0.014)
    assert read_settings.complication_operations == 2100
    assert read_settings.stock == {"Iris hooks": 3.0, "Irrigating fluid": 5000.0}
    assert read_settings.costs == {"Iris hooks": 200.0}


def test_a_model_that_is_not_known_is_set_aside_with_those_that_are(tmp_path: Path) -> None:
    found = read(tmp_path, day=DAY + "Risk model,oracle\n", register="Patient no,Name,Eye\nP-1,Asha,R\n")
    assert any("narendran2009" in item.accepted for item in found.rejected)


def test_a_stock_below_nothing_is_set_aside(tmp_path: Path) -> None:
    found = read(
        tmp_path, register="Patient no,Name,Eye\nP-1,Asha,R\n", prices="Item,Price,In stock\nIris hooks,200,-3\n"
    )
    assert any("nothing in stock" in item.why for item in found.rejected)
    assert found.request is not None
    assert found.request.settings.stock == {}
