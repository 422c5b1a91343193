"""The whole plan: nobody lost, no box twice, the same every time, and the promises of the sheets kept."""

from collections import Counter
from dataclasses import replace
from datetime import time

import pytest
from bench.big_day import big_day

from sideport.day import DayPlan, DayRequest, plan_day
from sideport.day.plan_day import eye_key
from sideport.errors import NothingToPlanError
from sideport.eye.person import Cataract, EyeRecord, Pupil
from sideport.knowledge import load_published
from sideport.lens.model import Placement
from sideport.optics.side import Side

KNOWLEDGE = load_published()


def plan(request: DayRequest) -> DayPlan:
    return plan_day(request, KNOWLEDGE, seed=0, inputs_sha256="test")


@pytest.fixture(scope="module")
def request_() -> DayRequest:
    return big_day(eyes=30, boxes=90)


@pytest.fixture(scope="module")
def planned(request_: DayRequest) -> DayPlan:
    return plan(request_)


def test_every_listed_eye_is_planned_once(request_: DayRequest, planned: DayPlan) -> None:
    listed = [eye_key(person.person_id, eye) for person in request_.people for eye in person.eyes if eye.listed]
    assert sorted(eye.key for eye in planned.eyes) == sorted(listed)


def test_no_box_is_given_more_often_than_it_holds(request_: DayRequest, planned: DayPlan) -> None:
    promised = Counter(
        choice.box_id
        for eye in planned.eyes
        for choice in (eye.lens, eye.backup)
        if choice is not None and not choice.shared
    )
    assert all(promised[box.box_id] <= box.count for box in request_.boxes)
    assert {row.box_id: row.given for row in planned.shelf if row.given} == promised


def test_bag_lenses_are_for_the_bag_and_backups_for_the_sulcus(planned: DayPlan) -> None:
    assert {eye.lens.placement for eye in planned.eyes if eye.lens} == {Placement.BAG}
    assert {eye.backup.placement for eye in planned.eyes if eye.backup} == {Placement.SULCUS}
    assert {eye.chamber_need.placement for eye in planned.eyes if eye.chamber_need} == {Placement.CHAMBER}


def test_the_same_request_gives_the_same_plan(request_: DayRequest, planned: DayPlan) -> None:
    assert plan(request_) == planned


def test_an_eye_on_the_list_has_operator_slot_and_cut_and_one_off_it_says_why(planned: DayPlan) -> None:
    for eye in planned.eyes:
        if eye.slot is None:
            assert eye.off_list
        else:
            assert eye.operator.name
            assert eye.wound
            assert not eye.off_list


def test_an_infected_eye_is_off_the_list_and_takes_no_lens(request_: DayRequest) -> None:
    first = request_.people[0]
    infected = replace(first, eyes=tuple(replace(eye, infected=True) for eye in first.eyes))
    after = plan(replace(request_, people=(infected, *request_.people[1:])))
    eye = next(eye for eye in after.eyes if eye.person_id == first.person_id)
    assert "infection" in eye.off_list
    assert eye.lens is None
    assert any(item.eye_key == eye.key and item.severity == "stop" for item in after.tonight)


def test_a_shelf_without_lenses_leaves_every_eye_reported(request_: DayRequest) -> None:
    bare = plan(replace(request_, boxes=()))
    for eye in bare.eyes:
        assert eye.lens is None
        assert eye.off_list or any(need.placement is Placement.BAG for need in eye.needs)


def test_a_one_eyed_person_with_a_free_nucleus_goes_to_the_senior(request_: DayRequest) -> None:
    """Common practice: the hard only eye goes to the most experienced hands."""
    person = request_.people[0]
    hard = EyeRecord(
        side=Side.RIGHT, listed=True, cataract=Cataract.HYPERMATURE, pupil=Pupil.SMALL, fibrosed_capsule=True,
        fundus_seen=False, measurements=person.eyes[0].measurements,
    )  # fmt: skip
    request = replace(request_, people=(replace(person, eyes=(hard,), only_eye=Side.RIGHT),))
    eye = plan(request).eyes[0]
    assert eye.operator.name == "Senior"
    assert {"Capsule scissors", "Vitrectomy set"} <= {item.name for item in eye.kit if item.contingency}


def test_a_long_day_is_said_and_stays_on_the_clock(request_: DayRequest) -> None:
    short = replace(request_.settings, ends=time(9, 0), tables=1)
    late = plan(replace(request_, settings=short))
    assert late.overtime_min > 0
    assert any("after the day's end" in item.message for item in late.tonight)


def test_the_units_own_rate_moves_every_probability(request_: DayRequest, planned: DayPlan) -> None:
    own = replace(request_.settings, complication_rate=0.06, complication_operations=5000)
    worse = plan(replace(request_, settings=own))
    assert worse.expected_tears > 1.5 * planned.expected_tears


def test_a_day_without_a_listed_eye_is_refused(request_: DayRequest) -> None:
    person = request_.people[0]
    resting = replace(person, eyes=tuple(replace(eye, listed=False) for eye in person.eyes))
    with pytest.raises(NothingToPlanError, match="mark at least one eye"):
        plan(replace(request_, people=(resting,)))


def test_keys_of_different_people_never_collide() -> None:
    record = EyeRecord(side=Side.LEFT, listed=True)
    assert len({eye_key(name, record) for name in ("a b", "a_b", "a-b", "a/b", "ab", "অ")}) == 6
