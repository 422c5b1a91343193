"""Tonight's remeasurements: what is offered, in which order, and in which words."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from sideport.day import plan_day
from sideport.day.settings import DayRequest, DaySettings
from sideport.errors import ImpossibleInputError
from sideport.exchange.plan_file import plan_from_json, plan_to_json
from sideport.eye.measurement import Measurement, Method, Quantity
from sideport.eye.person import Cataract, EyeRecord, Person
from sideport.knowledge import load_published
from sideport.lens.model import LensModel, Placement
from sideport.optics.side import Side
from sideport.risk.team import Grade, Surgeon
from sideport.shelf.box import Box
from sideport.wound.technique import Technique

KNOWLEDGE = load_published()
ANY = frozenset({Placement.BAG, Placement.SULCUS})
RIGID = LensModel("Rigid A", 118.2, ANY, False, 6.0, 5.5, {}, results_n=200)
CLAW = LensModel("Chamber D", 115.0, frozenset({Placement.CHAMBER}), False, 5.5, 5.5, {})
SHELF = (
    *(Box(box_id=f"A{power}", model="Rigid A", power_d=float(power), count=3) for power in np.arange(15, 28, 0.5)),
    *(Box(box_id=f"D{power}", model="Chamber D", power_d=float(power), count=1) for power in np.arange(14, 23, 0.5)),
)


def reading(quantity, value, method, number=1, side=Side.RIGHT, axis=None):
    return Measurement(side=side, quantity=quantity, value=value, method=method, axis_deg=axis, reading=number)


def eye(lengths=(), method=Method.CONTACT_ULTRASOUND, side=Side.RIGHT, keratometry=True, **found):
    readings = [reading(Quantity.AXIAL_LENGTH, value, method, n, side) for n, value in enumerate(lengths, 1)]
    if keratometry:
        readings.append(reading(Quantity.K1, 43.75, Method.MANUAL_KERATOMETER, 1, side, 180.0))
        readings.append(reading(Quantity.K2, 44.25, Method.MANUAL_KERATOMETER, 1, side, 90.0))
    found = {"listed": True, "cataract": Cataract.IMMATURE} | found
    return EyeRecord(side=side, measurements=tuple(readings), **found)


def plan(*people, **settings):
    team = (Surgeon("Senior", Grade.SENIOR, frozenset({Technique.MSICS, Technique.PHACO}), supervises=True),)
    day = DaySettings(unit="Quill Island Eye Unit", day=date(2031, 3, 4), **settings)
    return plan_day(DayRequest(day, people, (RIGID, CLAW), SHELF, team), KNOWLEDGE, seed=0, inputs_sha256="invented")


def person(name, *eyes, **found):
    return Person(person_id=name, name=name, eyes=eyes, age_years=66.0, **found)


GOOD = person("good", eye((23.40, 23.41, 23.40, 23.41, 23.40), Method.OPTICAL))
SHORT = person("short", eye((23.2,)))
NOTHING = person("nothing", eye(()))


def test_the_eye_that_was_never_measured_comes_first_and_the_exact_one_not_at_all():
    found = plan(GOOD, SHORT, NOTHING).remeasure
    lengths = [entry for entry in found if entry.what == "axial length"]
    assert [entry.eye_key for entry in lengths] == ["nothing-right", "short-right"]
    assert found[0] == lengths[0]
    assert [entry.gain for entry in found] == sorted((entry.gain for entry in found), reverse=True)
    assert all(entry.gain >= KNOWLEDGE.value("remeasure.worth.gain") for entry in found)


def test_only_methods_that_the_unit_has_are_offered():
    """Without an optical reading on the register nobody is sent to an optical biometer."""
    methods = {entry.method for entry in plan(SHORT, NOTHING).remeasure}
    assert methods <= {"contact ultrasound", "manual keratometer"}
    assert "optical" in {entry.method for entry in plan(GOOD, SHORT, NOTHING).remeasure}


def test_an_eye_whose_length_is_doubted_has_more_to_gain():
    """A length of 1.5 mm less than the fellow eye's is doubted; the same number of readings settles more there."""
    fellow = eye((23.4, 23.4), side=Side.LEFT, listed=False)
    plain = plan(person("plain", eye((23.3, 23.3)), fellow)).remeasure
    odd = plan(person("odd", eye((21.9, 21.9)), fellow)).remeasure
    best = [max((entry.gain for entry in found if entry.what == "axial length"), default=0.0) for found in (plain, odd)]
    assert best[1] > best[0]


def test_light_is_not_sent_through_a_dense_lens():
    white = person("white", eye((23.2,), cataract=Cataract.WHITE))
    found = [entry for entry in plan(GOOD, white).remeasure if entry.eye_key == "white-right"]
    assert all(entry.method != "optical" for entry in found if entry.what == "axial length")


def test_the_words_say_what_is_there_already_and_both_chances():
    found = {entry.eye_key: entry for entry in plan(SHORT, NOTHING).remeasure if entry.what == "axial length"}
    again, first = found.get("short-right"), found["nothing-right"]
    assert first.words.startswith("5 contact ultrasound readings of the axial length")
    assert again is None or again.words.startswith("5 more contact ultrasound readings")
    assert f"from {100 * first.sees_6_12:.0f} to {100 * (first.sees_6_12 + first.gain):.0f} in 100" in first.words
    near = plan(person("near", eye((), target_d=-2.0)), SHORT).remeasure[0]
    assert "6/12 at the distance aimed for" in near.words


def test_an_eye_that_is_not_to_be_operated_on_is_left_alone():
    sore = person("sore", eye((23.2,), infected=True))
    assert {entry.eye_key for entry in plan(GOOD, SHORT, sore).remeasure} <= {"good-right", "short-right"}


def test_the_plan_with_its_remeasurements_comes_back_from_its_file():
    made = plan(GOOD, SHORT, NOTHING)
    assert plan_from_json(plan_to_json(made)) == made


def test_the_chosen_lens_is_judged_by_the_cornea_after_the_cut_and_a_chamber_lens_stands_by():
    made = plan(GOOD).eyes[0]
    assert made.lens is not None
    assert made.chamber is not None
    assert made.chamber.placement is Placement.CHAMBER
    assert made.chamber.shared
    assert made.chamber.power_d < made.lens.power_d
    assert 0.0 < made.lens.sees_6_12 < made.lens.sees_6_18 <= 1.0
    assert made.lens in made.choices


def test_eyes_left_far_apart_are_cautioned_unless_the_other_cannot_see():
    fellow = EyeRecord(side=Side.LEFT, listed=False, refraction_d=-7.0)
    readings = eye((23.4, 23.4, 23.4))
    apart = plan(person("apart", readings, fellow)).eyes[0]
    assert "eyes-left-apart" in {flag.code for flag in apart.flags}
    alone = plan(person("alone", readings, fellow, only_eye=Side.RIGHT)).eyes[0]
    assert "eyes-left-apart" not in {flag.code for flag in alone.flags}
    both = plan(person("both", readings, replace(eye((23.5, 23.5), side=Side.LEFT), refraction_d=-7.0))).eyes
    assert all("eyes-left-apart" not in {flag.code for flag in found.flags} for found in both)


def test_a_named_policy_sets_the_target_and_the_eyes_own_goes_before_it():
    assert plan(GOOD, target_policy="near work").eyes[0].target_d == -2.0
    assert plan(person("own", eye((23.4,), target_d=-1.0)), target_policy="near work").eyes[0].target_d == -1.0
    with pytest.raises(ImpossibleInputError, match="moonlight"):
        plan(GOOD, target_policy="moonlight")
