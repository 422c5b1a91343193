"""What a person fixes stays fixed, the rest is planned around it, and its cost is said."""

from dataclasses import replace
from datetime import time

import numpy as np
import pytest
from bench.big_day import big_day

from sideport.day import DayPlan, DayRequest, plan_day
from sideport.day.draft import draft_day
from sideport.day.pins import Pin, pin_for, pin_words
from sideport.day.plan import EyePlan
from sideport.day.plan_day import listed_eyes
from sideport.day.relax import gave_way, ways_out
from sideport.day.rules import Case, Phase, Rules, weights
from sideport.day.schedule import schedule
from sideport.day.verify import broken_rules
from sideport.errors import ImpossibleInputError
from sideport.knowledge import load_published
from sideport.optics.side import Side
from sideport.wound.technique import Technique

KNOWLEDGE = load_published()


def plan(request: DayRequest) -> DayPlan:
    return plan_day(request, KNOWLEDGE, seed=0, inputs_sha256="test")


@pytest.fixture(scope="module")
def request_() -> DayRequest:
    return big_day(eyes=24, boxes=90)


@pytest.fixture(scope="module")
def free(request_: DayRequest) -> DayPlan:
    return plan(request_)


def eye(planned: DayPlan, key: str) -> EyePlan:
    return next(one for one in planned.eyes if one.key == key)


def pinned(request: DayRequest, *pins: Pin) -> DayPlan:
    return plan(replace(request, pins=pins))


def test_a_fixed_operator_operates_and_what_speaks_against_it_is_said(request_: DayRequest, free: DayPlan) -> None:
    hard = next(one for one in free.eyes if one.operator.name == "Senior" and one.operator.lowest_grade is not None
                and "Not Second" in " ".join(reason.text for reason in one.operator.reasons))  # fmt: skip
    after = eye(pinned(request_, Pin(hard.key, operator="Learner")), hard.key)
    assert after.operator.name == "Learner"
    assert after.operator.supervisor == "Senior"
    words = [reason.text for reason in after.operator.reasons]
    assert words[0] == "Operator fixed by hand."
    assert any(text.startswith("Against it:") for text in words)
    assert after.risk.probability > hard.risk.probability


def test_a_fixed_technique_is_planned_and_says_what_the_advice_was(request_: DayRequest, free: DayPlan) -> None:
    one = next(one for one in free.eyes if one.technique.suggested is Technique.MSICS and one.slot)
    after = eye(pinned(request_, Pin(one.key, technique=Technique.ECCE)), one.key)
    assert after.technique.suggested is Technique.ECCE
    assert "the advice was manual small-incision" in after.technique.reasons[0].text
    assert after.technique.alternative is Technique.MSICS


def test_a_fixed_box_goes_to_its_eye_and_to_nobody_else(request_: DayRequest, free: DayPlan) -> None:
    """Even a lens that another eye would have, and that misses by far more than the unit accepts."""
    one, other = [found for found in free.eyes if found.lens is not None][:2]
    far = max(request_.boxes, key=lambda box: abs(box.power_d - one.lens.power_d) * (box.model == one.lens.model))  # type: ignore[union-attr]
    for box_id in (other.lens.box_id, far.box_id):  # type: ignore[union-attr]
        after = pinned(request_, Pin(one.key, box_id=box_id))
        takers = [found.key for found in after.eyes if found.lens is not None and found.lens.box_id == box_id]
        assert takers == [one.key]
        assert after.pin_costs[0].miss_d > -1e-9


def test_a_fixed_slot_is_kept_to_the_minute(request_: DayRequest, free: DayPlan) -> None:
    last = [one for one in free.eyes if one.slot is not None][-1]
    after = pinned(request_, Pin(last.key, table=2, starts=time(9, 0)))
    slot = eye(after, last.key).slot
    assert slot is not None
    assert (slot.table, slot.starts) == (2, time(9, 0))
    assert not [way for way in after.gives_way if way.eye_key == last.key]


def test_the_cost_of_a_pin_is_the_difference_of_the_two_days(request_: DayRequest, free: DayPlan) -> None:
    last = [one for one in free.eyes if one.slot is not None][-1]
    after = pinned(request_, Pin(last.key, operator="Learner"))
    (cost,) = after.pin_costs
    assert cost.eye_key == last.key
    assert cost.tears == pytest.approx(after.expected_tears - free.expected_tears)
    assert cost.words.startswith("operator Learner: costs the day ")
    assert free.pin_costs == ()


def test_a_pin_to_what_the_plan_chose_costs_nothing(request_: DayRequest, free: DayPlan) -> None:
    one = next(found for found in free.eyes if found.slot and found.operator.supervisor is None)
    (cost,) = pinned(request_, Pin(one.key, technique=one.technique.suggested)).pin_costs
    assert (cost.finish_min, cost.tears, cost.miss_d, cost.without_lens) == (0, 0, 0, 0)
    assert "nothing that can be noticed" in cost.words


def test_two_eyes_pinned_to_one_table_at_one_time_say_which_gives_way(request_: DayRequest, free: DayPlan) -> None:
    one, other = [found for found in free.eyes if found.slot is not None][3:5]
    pins = (Pin(one.key, table=1, starts=time(9, 0)), Pin(other.key, table=1, starts=time(9, 0)))
    after = pinned(request_, *pins)
    late = [way for way in after.gives_way if way.rule == "pinned-time"]
    assert len(late) == 1
    assert late[0].amount > 0
    assert late[0].eye_key in {one.key, other.key}
    assert any("pinned to a time starts" in item.message and item.eye_key == late[0].eye_key for item in after.tonight)


def test_a_pin_for_an_eye_that_is_not_listed_is_left_aside_and_said(request_: DayRequest, free: DayPlan) -> None:
    after = pinned(request_, Pin("nobody-right", table=1))
    assert [one.slot for one in after.eyes] == [one.slot for one in free.eyes]
    assert any("left aside" in item.message for item in after.tonight)


@pytest.mark.parametrize(
    ("fixed", "words"),
    [({"operator": "Stranger"}, "choose one of the team"), ({"table": 9}, "choose one of 1 to 3"),
     ({"box_id": "gone"}, "choose another box"), ({"starts": time(6, 0)}, "pin it to a later time")],
)  # fmt: skip
def test_a_pin_that_nothing_can_keep_is_refused(
    request_: DayRequest, free: DayPlan, fixed: dict[str, object], words: str
) -> None:
    with pytest.raises(ImpossibleInputError, match=words):
        pinned(request_, Pin(next(one.key for one in free.eyes if one.slot), **fixed))  # type: ignore[arg-type]


def test_later_pins_go_before_earlier_ones_in_what_they_fix() -> None:
    pins = (Pin("a", operator="X", table=1), Pin("b", table=3), Pin("a", table=2))
    assert pin_for(pins, "a") == Pin("a", operator="X", table=2)
    assert pin_words(pin_for(pins, "a")) == "operator X, table 2"


def rules(**change: object) -> Rules:
    usual = Rules(tables=2, turnover_min=10.0, weights=weights(KNOWLEDGE))
    return replace(usual, **change)  # type: ignore[arg-type]


def cases(count: int, *, operators: int = 9) -> tuple[Case, ...]:
    return tuple(
        Case(f"{number}", Phase.ORDINARY, 10.0, str(number % operators), None, Side.RIGHT, None, instruments="tunnel")
        for number in range(count)
    )


def generator() -> np.random.Generator:
    return np.random.default_rng(0)


def test_an_overlong_day_says_by_how_little_the_turnover_would_give_way() -> None:
    """Closed form: 4 cases a table end after 4 x 10 + 3 T minutes; 61 minutes are kept from T = 7 on."""
    listed, ruled = cases(8), rules()
    assert schedule(listed, ruled, generator=generator()).score.finish_min == 70.0
    found = {way.rule: way.amount for way in ways_out(listed, ruled, day_min=61.0, generator=generator())}
    assert found == {"turnover": 3, "tables": 1}


def test_an_overlong_day_says_how_many_sets_are_lacking() -> None:
    """One set and 30 minutes of sterilising: 4 cases end after 4 x 10 + 3 x 30; two sets halve it."""
    listed, ruled = cases(4), rules(tables=4, turnover_min=0.0, sets={"tunnel": 1}, sterilise_min=30.0)
    found = ways_out(listed, ruled, day_min=50.0, generator=generator())
    assert [(way.rule, way.amount) for way in found] == [("instrument-sets", 1)]


def test_a_missing_set_and_the_days_end_are_named_with_their_slack() -> None:
    listed, ruled = cases(4), rules(sets={"tunnel": 0})
    planned = schedule(listed, ruled, generator=generator())
    found = {way.rule: way.amount for way in gave_way(listed, planned, ruled, day_min=20.0)}
    assert found == {"day-end": pytest.approx(planned.score.finish_min - 20.0), "instrument-sets": 1}


def test_a_long_day_shows_bands_chance_and_ways_out(request_: DayRequest, free: DayPlan) -> None:
    late = plan(replace(request_, settings=replace(request_.settings, ends=time(9, 30))))
    assert late.overtime_chance == 1.0
    assert [band.share for band in late.finish_bands] == [0.5, 0.8, 0.95]
    assert sorted(band.by for band in late.finish_bands) == [band.by for band in late.finish_bands]
    assert late.gives_way[0].rule == "day-end"
    assert free.overtime_chance is not None
    assert free.overtime_chance < late.overtime_chance


def test_the_block_is_due_before_the_cut_and_a_late_start_of_blocks_delays_the_list(request_: DayRequest) -> None:
    settings = replace(request_.settings, blocks_from=time(8, 0), block_lead_min=15.0)
    planned = plan(replace(request_, settings=settings))
    slots = [one.slot for one in planned.eyes if one.slot is not None]
    assert min(slot.starts for slot in slots) == time(8, 15)
    assert all(slot.block_at is not None and slot.block_at >= time(8, 0) for slot in slots)


def test_an_unknown_effort_is_refused_with_the_known_ones(request_: DayRequest) -> None:
    with pytest.raises(ImpossibleInputError, match="greedy, quick, full"):
        plan(replace(request_, settings=replace(request_.settings, schedule_effort="heroic")))


def test_the_planned_list_passes_the_verifier(request_: DayRequest) -> None:
    """With short sets, a trainee and blocks in play: the list that a plan prints, not only lists made for the test."""
    settings = replace(
        request_.settings, instrument_sets={"manual small-incision": 3}, sterilise_min=20.0, blocks_from=time(8, 0)
    )
    request = replace(request_, settings=settings)
    draft = draft_day(listed_eyes(request, KNOWLEDGE), request, KNOWLEDGE, seed=0)
    assert broken_rules(draft.list.cases, draft.list.schedule.placings, draft.list.rules) == ()
    assert {case.instruments for case in draft.list.cases} & set(settings.instrument_sets)
    assert any(case.supervisor for case in draft.list.cases)
