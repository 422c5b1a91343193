"""Durations, kit, cost and the list of what to sort out."""

from datetime import time

import pytest

from sample_plan import sample_plan
from sideport.day.cost import cost_of_day, cost_of_eye, total
from sideport.day.durations import expected_minutes
from sideport.day.kit import kit_for_list
from sideport.day.plan import CostLine, KitItem
from sideport.day.tonight import tonight_items
from sideport.knowledge import load_published
from sideport.risk.team import Grade, Surgeon
from sideport.wound.technique import Technique

KNOWLEDGE = load_published()
ITEM = KitItem("Irrigating fluid", 100, "mL", "cortex", contingency=False)


def hands(grade: Grade, own: float | None = None) -> Surgeon:
    return Surgeon("S", grade, frozenset(Technique), minutes_msics=own)


def minutes(**changed: object) -> float:
    asked = {"technique": Technique.MSICS, "surgeon": hands(Grade.SENIOR), "tear_probability": 0.0}
    return expected_minutes(**{**asked, **changed}, knowledge=KNOWLEDGE)  # type: ignore[arg-type]


def test_manual_surgery_is_quicker_than_phaco_by_the_published_difference() -> None:
    """Venkatesh 2010, abstract: 8.8 v 12.2 minutes on white cataracts."""
    assert minutes(technique=Technique.PHACO) - minutes() == pytest.approx(12.2 - 8.8)


def test_an_operators_own_minutes_go_first() -> None:
    slow = hands(Grade.SENIOR, own=21.0)
    assert minutes(surgeon=slow) == 21.0
    assert minutes(surgeon=slow, technique=Technique.PHACO) == minutes(technique=Technique.PHACO)


def test_a_certain_tear_adds_the_published_excess() -> None:
    """Theatre minutes of 9,552 cases: 45 with a tear or zonule event, 19 for a consultant."""
    assert minutes(tear_probability=1.0) - minutes() == pytest.approx(45 - 19)


def test_junior_hands_are_slower() -> None:
    assert minutes() < minutes(surgeon=hands(Grade.TRAINEE)) < minutes(surgeon=hands(Grade.NOVICE))


def test_a_missing_price_is_said_and_never_guessed() -> None:
    lines = cost_of_eye(
        kit=(ITEM, KitItem("Trypan blue 0.06 %", 0.3, "mL", "", False)), lens=None, prices={"irrigating FLUID": 0.02}
    )
    assert [(line.name, line.amount) for line in lines] == [("Irrigating fluid", 2.0), ("Trypan blue 0.06 %", None)]
    assert total(lines) == 2.0


def test_what_stays_closed_costs_nothing() -> None:
    assert (
        cost_of_eye(kit=(KitItem("Vitrectomy set", 1, "set", "", True),), lens=None, prices={"Vitrectomy set": 90})
        == ()
    )


def test_the_day_keeps_priced_and_unpriced_lines_apart() -> None:
    day = cost_of_day([(CostLine("Lens", 5.0),), (CostLine("Lens", None),), (CostLine("Lens", 6.0),)])
    assert set(day) == {CostLine("Lens", 11.0), CostLine("Lens", None)}


def test_the_list_always_has_one_vitrectomy_set_standing_by() -> None:
    kit = kit_for_list([(ITEM,), (ITEM,)], knowledge=KNOWLEDGE)
    assert next(item for item in kit if item.name == ITEM.name).quantity == 200
    assert [item.quantity for item in kit if item.name == "Vitrectomy set"] == [1]
    assert [item.contingency for item in kit] == sorted(item.contingency for item in kit)


def test_stops_come_before_warnings_and_overtime_is_said() -> None:
    plan = sample_plan()
    items = tonight_items(
        eyes=plan.eyes,
        shelf=plan.shelf,
        cost=(CostLine("Lens", None),),
        finishes=time(17, 0),
        ends=time(16, 0),
        overtime_min=60.0,
    )
    ranks = [("stop", "warn", "note").index(item.severity) for item in items]
    assert ranks == sorted(ranks)
    assert any("60 minutes after" in item.message for item in items)
    assert any("No price is given for Lens" in item.message for item in items)


def test_an_eye_without_an_acceptable_lens_is_a_stop_that_says_what_to_fetch() -> None:
    plan = sample_plan()
    bare = [eye for eye in plan.eyes if eye.lens is None and not eye.off_list]
    assert bare, "the sample holds such an eye"
    items = tonight_items(eyes=bare, shelf=(), cost=(), finishes=None, ends=time(16, 0), overtime_min=0.0)
    assert any(item.severity == "stop" and "Fetch" in item.action for item in items)
